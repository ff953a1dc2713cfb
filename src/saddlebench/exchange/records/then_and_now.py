"""The file of saddles judged on the backs of several days: every finding over the days."""

import datetime as dt
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.exchange.records.document import Document, Part


class AnswerPart(Part):
    """One finding on one day."""

    verdict: Verdict
    number: str
    agreement: str


class FindingRow(Part):
    """One finding over the days; null where it was not judged."""

    title: str
    answers: tuple[AnswerPart | None, ...]

    @property
    def has_changed(self) -> bool:
        """Whether its answer is not the same on every day."""
        return len({None if one is None else one.verdict for one in self.answers}) > 1


class SaddleRow(Part):
    """One saddle over the days."""

    saddle: str
    cannot_be_judged: tuple[str | None, ...]
    findings: tuple[FindingRow, ...]


class ThenAndNowDocument(Document):
    """Saddles judged on the backs of several days, version 1."""

    NAME: ClassVar[str] = "saddles then and now"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench saddles then and now"] = "saddlebench saddles then and now"
    version: Literal[1] = 1
    horse: Annotated[str, Field(min_length=1, max_length=200)]
    days: tuple[dt.date, ...]
    saddles: tuple[SaddleRow, ...]
    own_errors: tuple[ErrorsUsed | None, ...] = ()
    """Of each day's back: null where the instrument's stated errors were in use; absent in older files."""
