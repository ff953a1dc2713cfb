"""A back in numbers, line by line, as people and machines read it."""

from dataclasses import dataclass
from typing import Any

from saddlebench.engine.back.descriptors import describe
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.quantities import quantities_of
from saddlebench.engine.errors import NotMeasured
from saddlebench.exchange.back_job import MeasuredBack


@dataclass(frozen=True, slots=True, kw_only=True)
class DescribedLine:
    """One quantity of a back: where, what, and its value or why there is none."""

    where: str
    what: str
    answer: Estimate | NotMeasured

    @property
    def value(self) -> str:
        """The value with its unit and its 95 % interval's half width, or “not measured”."""
        if isinstance(self.answer, NotMeasured):
            return "not measured"
        digits = 2 if self.answer.unit == "1" else 0
        unit = "" if self.answer.unit == "1" else f" {self.answer.unit}"
        # Adding nothing makes −0 after rounding a plain 0.
        value = f"{round(self.answer.value, digits) + 0.0:.{digits}f}".replace("-", "\u2212")
        return f"{value} ± {1.96 * self.answer.sd:.{digits}f}{unit}"

    @property
    def reason(self) -> str:
        """Why there is no value; empty if there is one."""
        return self.answer.reason if isinstance(self.answer, NotMeasured) else ""

    def as_json(self) -> dict[str, Any]:
        """Return the line for machines."""
        held: dict[str, Any] = {"where": self.where, "what": self.what}
        if isinstance(self.answer, NotMeasured):
            return held | {"not_measured": self.answer.reason, "stations": list(self.answer.stations)}
        interval = [self.answer.low, self.answer.high]
        return held | {
            "value": self.answer.value,
            "standard_uncertainty": self.answer.sd,
            "interval_95": interval,
            "unit": self.answer.unit,
        }


def described(back: MeasuredBack) -> tuple[DescribedLine, ...]:
    """Return everything that is said of a back in numbers."""
    description = describe(back.estimated, back.record.landmarks)
    return tuple(
        DescribedLine(where=quantity.where, what=quantity.what, answer=answer)
        for quantity, answer in quantities_of(description).items()
    )
