"""Problems, and answers that are absent for a stated reason.

A file or form collects every problem with its place and reports them together. A quantity that could not
be measured or judged is a value that says why, never NaN or None.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeGuard, TypeVar

_T = TypeVar("_T")


class Weight(StrEnum):
    """Whether a problem stops the work or only qualifies its result."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place a person can go to: file, row, field, station. Rows and stations count from 1."""

    file: str = ""
    row: int | None = None
    field: str = ""
    station: int | None = None
    side: str = ""

    def __str__(self) -> str:
        parts = [self.file]
        if self.row is not None:
            parts.append(f"row {self.row}")
        if self.station is not None:
            parts.append(f"station {self.station}")
        parts += [self.side, f"“{self.field}”" if self.field else ""]
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong: what, where, and what to do about it."""

    what: str
    """What is wrong, as a sentence without its full stop."""
    cure: str
    """What the reader should do next."""
    where: Where = Where()
    weight: Weight = Weight.ERROR

    def __str__(self) -> str:
        place = str(self.where)
        return f"{place}: {self.what}. {self.cure}" if place else f"{self.what}. {self.cure}"


class SaddlebenchError(Exception):
    """Base of every error this package raises on purpose."""


class InputProblemsError(SaddlebenchError):
    """One or more problems with what was given; all that could be found are listed."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def input_problem(what: str, cure: str, where: Where | None = None) -> InputProblemsError:
    """Return the error for a single problem, ready to be raised."""
    return InputProblemsError([Problem(what=what, cure=cure, where=where or Where())])


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """The answer lies outside what was measured."""

    reason: str
    stations: tuple[int, ...] = ()
    """Stations (from 1) that would have to be measured, or measured again."""


@dataclass(frozen=True, slots=True)
class Undetermined:
    """The answer cannot be judged, for a stated reason."""

    reason: str


def is_known(value: _T | NotMeasured | Undetermined) -> TypeGuard[_T]:
    """Tell whether a value is there at all."""
    return not isinstance(value, NotMeasured | Undetermined)
