"""The change study on files, and saddles of one day judged on the back of another."""

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.results import ChangeStudy
from saddlebench.engine.change.settings import USUAL_SETTINGS, ChangeSettings
from saddlebench.engine.change.study import study_change
from saddlebench.engine.days import plain_day
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.study import ErrorsUsed, FitStudy, Progress
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.back_job import MeasuredBack, digest, measured
from saddlebench.exchange.job import StudyRequest, quiet, study_of
from saddlebench.exchange.own_errors import errors_words
from saddlebench.exchange.phrases import agreement_of, number_of, title_of
from saddlebench.exchange.records import read_back
from saddlebench.exchange.records.then_and_now import (
    AnswerPart,
    FindingRow,
    SaddleRow,
    ThenAndNowDocument,
)


def change_files(
    paths: Sequence[Path],
    *,
    own_errors: Callable[[BackRecord], ErrorsUsed | None] = lambda _record: None,
    settings: ChangeSettings = USUAL_SETTINGS,
    progress: Progress = quiet,
) -> ChangeStudy:
    """Compare back record files of one horse.

    Parameters
    ----------
    paths : back records
    own_errors : gives the errors to go by for a record, in place of those that its instrument states
    settings, progress : as for `study_change`

    Raises
    ------
    InputProblemsError
        With every fault of any file; with fewer than two of them.
    OSError
        If a file cannot be opened.
    """
    backs = []
    for k, path in enumerate(paths):
        progress(k, 2 * len(paths), f"reading {path.name}")
        record = read_back(path)
        backs.append(measured(record, own_errors(record)))
    study = study_change(
        backs,
        settings=settings,
        versions=[digest(path) for path in paths],
        progress=lambda done, of, doing: progress(
            len(paths) + done * len(paths) // max(of, 1), 2 * len(paths), doing
        ),
    )
    whose = dict.fromkeys(errors_words(back.own_errors) for back in backs)
    return replace(study, cautions=(*whose, *study.cautions))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejudged:
    """One saddle judged on the backs of several days."""

    saddle: str
    studies: tuple[FitStudy | Undetermined, ...]
    """In the order of the backs."""

    def rows(self) -> tuple[tuple[Finding | None, ...], ...]:
        """Return each finding over the days, in the order of the last day; None where it was not judged."""
        held = [
            {(one.name, one.side): one for one in study.findings} if isinstance(study, FitStudy) else {}
            for study in self.studies
        ]
        keys = list(dict.fromkeys(key for day in reversed(held) for key in day))
        return tuple(tuple(day.get(key) for day in held) for key in keys)

    def changed(self) -> tuple[tuple[Finding | None, ...], ...]:
        """Return the findings whose verdict is not the same on every day."""
        return tuple(
            row for row in self.rows() if len({None if one is None else one.verdict for one in row}) > 1
        )


def rejudge(
    backs: Sequence[MeasuredBack],
    saddles: Sequence[SaddleRecord],
    request: StudyRequest,
    *,
    progress: Callable[[int, int, str], None] = quiet,
) -> tuple[Rejudged, ...]:
    """Judge every saddle on every back: earlier saddles on today's back, today's on the earlier ones.

    Parameters
    ----------
    backs : in the order of their days
    saddles : any the horse has worn
    request : rider, horse, tries for the confidence
    progress : called before each pair

    Raises
    ------
    InputProblemsError
        If a back, a saddle and the load do not make a study; every problem is listed.
    """
    out = []
    for i, saddle in enumerate(saddles):
        studies = []
        for k, back in enumerate(backs):
            doing = f"{saddle.label} on {plain_day(back.record.measured_on)}"
            progress(i * len(backs) + k, len(saddles) * len(backs), doing)
            studies.append(study_of(back, saddle, request))
        out.append(Rejudged(saddle=saddle.label, studies=tuple(studies)))
    progress(len(saddles) * len(backs), len(saddles) * len(backs), "done")
    return tuple(out)


def then_and_now_document(
    horse: str, backs: Sequence[MeasuredBack], days: Sequence[dt.date], rejudged: Sequence[Rejudged]
) -> ThenAndNowDocument:
    """Return the document of saddles judged on the backs of several days, and whose errors were in use."""
    return ThenAndNowDocument(
        horse=horse,
        days=tuple(days),
        own_errors=tuple(back.own_errors for back in backs),
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
        answers=tuple(
            None
            if one is None
            else AnswerPart(
                verdict=one.verdict,
                number=number_of(one.decided_by.measure),
                agreement=agreement_of(one),
            )
            for one in row
        ),
    )
