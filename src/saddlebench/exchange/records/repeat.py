"""The repeat study file, and the file of a “check me” exercise."""

import datetime as dt
from pathlib import Path
from typing import ClassVar, Literal, Self

from saddlebench.engine.change.repeat.exercise import CheckMe, HandOn, PatternShare
from saddlebench.engine.change.repeat.own import OwnErrors
from saddlebench.engine.change.repeat.study import RepeatStudy
from saddlebench.exchange.records.document import Document, read_document, write_document


class RepeatDocument(Document):
    """A repeat study, version 1. Every standard deviation in the unit of its number."""

    NAME: ClassVar[str] = "repeat study"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench repeat study"] = "saddlebench repeat study"
    version: Literal[1] = 1
    study: RepeatStudy


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
