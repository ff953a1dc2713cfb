"""The main job on files: a table or scan becomes a back record, two records become a fit study."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from saddlebench.engine.back.quality import RecordQuality, judge_record
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.scan import cut_scan, record_from_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.scan_checks import check_scan
from saddlebench.engine.back.surface import EstimatedBack, estimate_back
from saddlebench.engine.errors import Problem, Undetermined, Where, input_problem, is_known
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.study import FitStudy, Progress, StudyInputs, run_study
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.exchange.records import ScanFile, read_back, read_saddle
from saddlebench.exchange.scans import read_marks, read_scan


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredBack:
    """A back record with its surface and the verdict on its quality."""

    record: BackRecord
    estimated: EstimatedBack
    quality: RecordQuality


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanRecord:
    """A back record cut from a scan, the file it came from, and what was questioned on the way."""

    record: BackRecord
    scan_file: ScanFile
    remarks: tuple[Problem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRequest:
    """What a fit study is asked to look at, besides the two records."""

    rider: Rider
    horse: Horse = field(default_factory=Horse)
    pads: tuple[PadLayer, ...] | None = None
    """Pads from the saddle down; None: those of the saddle record."""
    draws: int = 256
    seed: int = 0


def measured(record: BackRecord) -> MeasuredBack:
    """Return a record's surface and quality.

    Raises
    ------
    InputProblemsError
        With everything in the readings that stops them from being a surface.
    """
    points = measure_points(record)
    return MeasuredBack(
        record=record,
        estimated=estimate_back(points, record.landmarks),
        quality=judge_record(record, points),
    )


def scan_record(
    mesh: Path,
    marks: Path,
    *,
    label: str = "",
    measured_on: dt.date | None = None,
    distances_mm: Sequence[float] = (),
) -> ScanRecord:
    """Cut a back record from a mesh and its marks file.

    Raises
    ------
    InputProblemsError
        With everything that stops the mesh or the marks from being used; also if no day is stated anywhere.
    OSError
        If a file cannot be opened.
    """
    stated = read_marks(marks)
    day = measured_on or stated.measured_on
    if day is None:
        where = Where(file=str(marks), field="measured_on")
        raise input_problem("the day of the scan is not stated", "Add measured_on = 2026-05-14.", where)
    scan = read_scan(mesh, marks)
    aligned = align_scan(scan)
    distances = np.array(distances_mm, dtype=float) if distances_mm else None
    record = record_from_scan(
        aligned,
        label=label or stated.label or mesh.stem,
        measured_on=day,
        distances_mm=distances,
    )
    return ScanRecord(
        record=record,
        scan_file=ScanFile(name=mesh.name, sha256=digest(mesh)),
        remarks=check_scan(aligned, cut_scan(aligned, distances)),
    )


def digest(path: Path) -> str:
    """Return a file's SHA-256 in hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def study_of(
    back: MeasuredBack,
    saddle: SaddleRecord,
    request: StudyRequest,
    *,
    inputs: StudyInputs | None = None,
    progress: Progress | None = None,
) -> FitStudy | Undetermined:
    """Run a fit study of a measured back and a recorded saddle; a saddle that is not rigid cannot be judged.

    Raises
    ------
    InputProblemsError
        If back, saddle and load do not make a study; every problem is listed.
    """
    model = model_of(saddle)
    if not is_known(model):
        return Undetermined(f"“{saddle.label}” cannot be judged: {model.reason}")
    named = inputs or StudyInputs(back_label=back.record.label, saddle_label=saddle.label)
    extra = {} if progress is None else {"progress": progress}
    return run_study(
        back.estimated,
        back.record.landmarks,
        model,
        saddle.pads if request.pads is None else request.pads,
        request.rider,
        horse=request.horse,
        draws=request.draws,
        seed=request.seed,
        inputs=named,
        **extra,
    )


def study_files(
    back: Path, saddle: Path, request: StudyRequest, *, progress: Progress | None = None
) -> FitStudy | Undetermined:
    """Run a fit study of two record files; the study names both by label and digest.

    Raises
    ------
    InputProblemsError
        With every fault of either file.
    OSError
        If a file cannot be opened.
    """
    back_record, saddle_record = read_back(back), read_saddle(saddle)
    inputs = StudyInputs(
        back_label=back_record.label,
        back_version=digest(back),
        saddle_label=saddle_record.label,
        saddle_version=digest(saddle),
    )
    return study_of(measured(back_record), saddle_record, request, inputs=inputs, progress=progress)
