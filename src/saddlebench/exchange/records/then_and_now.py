"""The file of saddles judged on the backs of several days: every finding over the days."""

import datetime as dt
from collections.abc import Sequence
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.exchange.change_job import Rejudged
from saddlebench.exchange.phrases import agreement_of, number_of, title_of
from saddlebench.exchange.records.document import Document, Part


class AnswerPart(Part):
    """One finding on one day."""

    verdict: Verdict
    number: str
    agreement: str

    @classmethod
    def of(cls, finding: Finding) -> Self:
        """Return the part of a finding."""
        return cls(
            verdict=finding.verdict,
            number=number_of(finding.decided_by.measure),
            agreement=agreement_of(finding),
        )


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

    @classmethod
    def of(cls, horse: str, days: Sequence[dt.date], rejudged: Sequence[Rejudged]) -> Self:
        """Return the document of saddles judged again."""
        return cls(
            horse=horse,
            days=tuple(days),
            saddles=tuple(
                SaddleRow(
                    saddle=one.saddle,
                    cannot_be_judged=tuple(
                        study.reason if isinstance(study, Undetermined) else None for study in one.studies
                    ),
                    findings=tuple(_row(row) for row in one.rows()),
                )
                for one in rejudged
            ),
        )


def _row(row: Sequence[Finding | None]) -> FindingRow:
    return FindingRow(
        title=next(title_of(one) for one in row if one is not None),
        answers=tuple(None if one is None else AnswerPart.of(one) for one in row),
    )
