"""Tolerances as a page's form states them: for all numbers of a unit, and for single ones."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from saddlebench.engine.errors import InputProblemsError, Problem

if TYPE_CHECKING:
    from saddlebench.engine.change.repeat.study import QuantityRepeats, RepeatStudy
    from saddlebench.exchange.repeat_tolerance import Tolerances

UNITS = (
    ("mm", "Every length", "mm"),
    ("deg", "Every angle", "°"),
    ("cm2", "Every area", "cm²"),
    ("cm3", "Every volume", "cm³"),
    ("ratio", "Every ratio", "1"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A tolerance that can be stated."""

    name: str
    words: str
    unit: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedTolerances:
    """The form as it was filled in."""

    units: tuple[Field, ...]
    singly: tuple[Field, ...]
    tolerances: "Tolerances | None"
    """None: none is stated, or one cannot be read."""
    problems: tuple[Problem, ...]

    @property
    def single_ones(self) -> bool:
        """Whether any single number has one of its own."""
        return any(one.value for one in self.singly)

    def held(self, study: "RepeatStudy") -> "RepeatStudy":
        """Return a study held against what is stated."""
        from saddlebench.exchange.repeat_tolerance import held_against  # noqa: PLC0415

        return study if self.tolerances is None else held_against(study, self.tolerances)


def stated_tolerances(given: Mapping[str, str], shown: "Sequence[QuantityRepeats]") -> StatedTolerances:
    """Return what a form states of the numbers shown."""
    from saddlebench.exchange.repeat_tolerance import read_tolerances  # noqa: PLC0415

    held = {one.quantity.unit for one in shown}
    units = tuple(
        Field(name=name, words=words, unit="" if unit == "1" else unit, value=given.get(name, "").strip())
        for name, words, unit in UNITS
        if unit in held
    )
    singly = tuple(
        Field(
            name=f"of{k}",
            words=one.quantity.words,
            unit=one.quantity.shown_unit,
            value=given.get(f"of{k}", "").strip(),
        )
        for k, one in enumerate(shown)
    )
    texts = [f"{one.name}={one.value}" for one in units if one.value]
    texts += [f"{one.words}={one.value}" for one in singly if one.value]
    tolerances: Tolerances | None = None
    problems: tuple[Problem, ...] = ()
    try:
        tolerances = read_tolerances(texts) if texts else None
    except InputProblemsError as error:
        problems = error.problems
    return StatedTolerances(units=units, singly=singly, tolerances=tolerances, problems=problems)
