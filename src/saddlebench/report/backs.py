"""A back in numbers, line by line, as people and machines read it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from saddlebench.engine.back.descriptors import BackDescription, describe
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.levels import LevelDescription
from saddlebench.engine.errors import NotMeasured
from saddlebench.exchange.job import MeasuredBack

SIDES = {"left": "near (left)", "right": "off (right)"}


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
    return tuple(_lines(description))


def _lines(description: BackDescription) -> Iterator[DescribedLine]:
    for level in description.levels:
        yield from _level_lines(level)
    withers = {"angle": description.withers_angle, "width": description.withers_width}
    for what, answer in withers.items():
        yield DescribedLine(where="behind the shoulder", what=f"withers {what}", answer=answer)
    topline = description.topline
    for what, answer in (
        ("deepest point, behind the shoulder mark", topline.deepest_place),
        ("deepest point, height against the shoulder mark", topline.deepest_height),
        ("rise to the withers", topline.rise_to_withers),
        ("rise to the loin", topline.rise_to_loin),
        ("length, shoulder mark to last-rib mark", description.length),
        ("volume above the plane, shoulder to last rib", description.volume),
    ):
        yield DescribedLine(where="topline", what=what, answer=answer)
    for region in description.differences:
        where = f"{region.along}, {region.across}"
        yield DescribedLine(
            where=where, what="near minus off (left minus right)", answer=region.left_minus_right
        )


def _level_lines(level: LevelDescription) -> Iterator[DescribedLine]:
    where = str(level.level)
    if level.guttered is True:
        for half_width, sides in level.heights.items():
            for side, words in SIDES.items():
                what = f"height {half_width:.0f} mm out, {words}"
                yield DescribedLine(where=where, what=what, answer=getattr(sides, side))
    else:
        for depth, sides in level.widths.items():
            yield DescribedLine(
                where=where, what=f"width {depth:.0f} mm below the midline", answer=sides.total
            )
        yield DescribedLine(where=where, what="ratio of the two widths", answer=level.width_ratio)
    yield DescribedLine(where=where, what="area of the section's top", answer=level.area)
