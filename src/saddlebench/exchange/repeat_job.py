"""Repeat sets and the “check me” exercise on back record files."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.change.repeat.exercise import CheckMe, check_me
from saddlebench.engine.change.repeat.sets import MeasuredRepeat, repeats_of
from saddlebench.engine.change.repeat.study import RepeatStudy, study_repeats
from saddlebench.engine.errors import Undetermined, Where, input_problem
from saddlebench.engine.fit.study import Progress
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.job import quiet
from saddlebench.exchange.records import read_back
from saddlebench.exchange.repeat_tolerance import Tolerances, held_against

NOT_NOTED = "fitter not noted"
SEPARATOR = "="


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A back record file and who measured it."""

    path: Path
    fitter: str = NOT_NOTED


def named(argument: str) -> Named:
    """Return what `Anna=first.back.json`, or a file alone, stands for."""
    fitter, separator, path = argument.partition(SEPARATOR)
    if separator and fitter.strip() and not Path(argument).exists():
        return Named(path=Path(path), fitter=fitter.strip())
    return Named(path=Path(argument))


def repeat_study_files(
    files: Sequence[Named], *, tolerances: Tolerances | None = None, progress: Progress = quiet
) -> RepeatStudy:
    """Return the repeat study of back records; repeats are of one back where their labels are the same.

    Parameters
    ----------
    files : back records and who measured them
    tolerances : what the numbers are held against; None: nothing
    progress : called before each record

    Raises
    ------
    InputProblemsError
        With every fault of a file; also if no back was measured twice, or a tolerance is for no number.
    OSError
        If a file cannot be opened.
    """
    records = [read_back(one.path) for one in files]
    labels = [record.label for record in records]
    if not any(labels.count(label) > 1 for label in labels):
        raise input_problem(
            "no back was measured twice: every record has another label",
            "Give two records of one horse at least, under the same label.",
            Where(file=str(files[0].path) if files else ""),
        )
    measured_repeats = []
    for index, (record, one) in enumerate(zip(records, files, strict=True)):
        progress(index, len(records) + 1, f"measuring {one.path.name}")
        measured_repeats.append(
            MeasuredRepeat(
                back=record.label,
                fitter=one.fitter,
                instrument=record.instrument.name,
                estimated=measured(record).estimated,
            )
        )
    progress(len(records), len(records) + 1, "comparing")
    study = study_repeats(repeats_of(measured_repeats))
    progress(len(records) + 1, len(records) + 1, "done")
    return study if tolerances is None else held_against(study, tolerances)


def check_me_files(
    paths: Sequence[Path], *, marks_again: bool = True, seed: int = 0, progress: Progress = quiet
) -> tuple[BackRecord, CheckMe | Undetermined]:
    """Return what repeats of one back say of the hand that measured it, with the first record.

    Raises
    ------
    InputProblemsError
        With every fault of a file; also if the records are of several horses or instruments.
    OSError
        If a file cannot be opened.
    """
    records = [read_back(path) for path in paths]
    for record, path in zip(records[1:], paths[1:], strict=True):
        for what, same in (
            ("horse", record.label == records[0].label),
            ("instrument", record.instrument == records[0].instrument),
        ):
            if not same:
                msg = f"is of another {what} than the first record"
                raise input_problem(
                    msg,
                    f"Repeat one back with one instrument: {records[0].label}.",
                    Where(file=str(path)),
                )
    backs = []
    for index, record in enumerate(records):
        progress(index, len(records) + 1, f"measuring {paths[index].name}")
        backs.append(measured(record).estimated)
    progress(len(records), len(records) + 1, "comparing")
    found = check_me(backs, records[0], marks_again=marks_again, seed=seed)
    progress(len(records) + 1, len(records) + 1, "done")
    return records[0], found
