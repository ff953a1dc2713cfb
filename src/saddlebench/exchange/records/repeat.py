"""The repeat study file, and the file of a “check me” exercise."""

import datetime as dt
from pathlib import Path
from typing import ClassVar, Literal, Self

from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.change.repeat.exercise import CheckMe, HandOn, PatternShare, RepeatSurface
from saddlebench.engine.change.repeat.own import OwnErrors, Ratio
from saddlebench.engine.change.repeat.study import RepeatStudy
from saddlebench.engine.errors import input_problem
from saddlebench.exchange.records.arrays import Bits, LengthRows, Mirror
from saddlebench.exchange.records.document import Document, read_document, write_document


class RepeatDocument(Document):
    """A repeat study, version 1. Every standard deviation in the unit of its number."""

    NAME: ClassVar[str] = "repeat study"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench repeat study"] = "saddlebench repeat study"
    version: Literal[1] = 1
    study: RepeatStudy


class RepeatSurfacePart(Mirror):
    """How far repeats scatter over the surface, row by row from front to rear, right to left across."""

    ENGINE: ClassVar[type] = RepeatSurface

    grid: PolarGrid
    radius_mm: LengthRows
    sd_mm: LengthRows
    is_common: Bits

    def surface(self) -> RepeatSurface:
        """Return the surface.

        Raises
        ------
        InputProblemsError
            If an array is not of the grid's size.
        """
        shape = (self.grid.n_s, self.grid.n_phi)
        if (
            not self.radius_mm.shape == self.sd_mm.shape == shape
            or self.is_common.size != shape[0] * shape[1]
        ):
            msg = f"the surface has not {shape[0]} rows of {shape[1]} numbers"
            raise input_problem(msg, "Write the file again from its records.")
        return RepeatSurface(
            grid=self.grid,
            radius_mm=self.radius_mm,
            sd_mm=self.sd_mm,
            is_common=self.is_common.reshape(shape),
        )


class CheckMeDocument(Document):
    """The result of a “check me” exercise, version 1. Standard deviations in the unit of their number."""

    NAME: ClassVar[str] = "check of a hand"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench check of a hand"] = "saddlebench check of a hand"
    version: Literal[1] = 1
    back: str
    day: dt.date
    instrument: str
    n_repeats: int
    overall: OwnErrors
    numbers: tuple[HandOn, ...]
    patterns: tuple[PatternShare, ...]
    practise: str
    ratio: Ratio | None = None
    """What the own errors rest on; absent in files of before."""
    surface: RepeatSurfacePart | None = None

    @classmethod
    def of(cls, found: CheckMe, *, back: str, day: dt.date, instrument: str) -> Self:
        """Return the document of an exercise."""
        return cls(
            back=back,
            day=day,
            instrument=instrument,
            n_repeats=found.n_repeats,
            overall=found.overall,
            numbers=found.numbers,
            patterns=found.patterns,
            practise=found.practise,
            ratio=found.ratio,
            surface=None if found.surface is None else RepeatSurfacePart.of(found.surface),
        )

    def found(self) -> CheckMe:
        """Return the result of the exercise.

        Raises
        ------
        InputProblemsError
            If the file is of before, or its arrays do not fit.
        """
        if self.ratio is None:
            raise input_problem(
                "was written by an earlier program and lacks what later ones need",
                "Work the exercise out again from its records.",
            )
        return CheckMe(
            n_repeats=self.n_repeats,
            overall=self.overall,
            ratio=self.ratio,
            numbers=self.numbers,
            patterns=self.patterns,
            practise=self.practise,
            surface=None if self.surface is None else self.surface.surface(),
        )


def write_repeats(study: RepeatStudy, path: Path) -> None:
    """Write a repeat study."""
    write_document(RepeatDocument(study=study), path)


def read_repeats(path: Path) -> RepeatStudy:
    """Read a repeat study.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(RepeatDocument, path, lambda document: document.study)
