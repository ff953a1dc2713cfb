"""The main job on files: a table or scan becomes a back record, two records become a fit study."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from saddlebench.engine.back.quality import Verdict as RecordVerdict
from saddlebench.engine.back.quality import size_doubt
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.errors import (
    NotMeasured,
    Undetermined,
    Where,
    input_problem,
)
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.loads import LoadCase, Rider
from saddlebench.engine.fit.study import (
    ErrorsUsed,
    FitStudy,
    Progress,
    StudyInputs,
    StudySettings,
    run_study,
)
from saddlebench.engine.saddle.model import PadLayer
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.engine.units import Length
from saddlebench.exchange.back_job import MeasuredBack, digest, measured
from saddlebench.exchange.limits import OwnLimits
from saddlebench.exchange.records import read_back, read_saddle
from saddlebench.exchange.saddles import read_saddle as read_saddle_file
from saddlebench.exchange.saddles import with_mesh
from saddlebench.exchange.scans import read_mesh


def quiet(done: int, of: int, doing: str) -> None:
    """Take no note of progress."""
    del done, of, doing


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyRequest:
    """What a fit study is asked to look at, besides the two records."""

    rider: Rider
    horse: Horse = field(default_factory=Horse)
    pads: tuple[PadLayer, ...] | None = None
    """Pads from the saddle down; None: those of the saddle record."""
    draws: int = 256
    seed: int = 0
    more_cases: tuple[LoadCase, ...] = ()
    """Cases to be shown besides those that are judged."""
    own_limits: OwnLimits | None = None
    """The practice's own, in place of the defaults where it has set them."""


def saddle_record(path: Path, *, mesh: Path | None = None, mesh_unit: str = "") -> SaddleRecord:
    """Read a saddle file, and its underside from a mesh where one is named.

    Raises
    ------
    InputProblemsError
        With every fault of the file or the mesh; also for a mesh whose unit is not stated.
    OSError
        If a file cannot be opened.
    """
    record = read_saddle_file(path)
    if mesh is None:
        return record
    if mesh_unit not in list(Length):
        cure = f"State it: --mesh-unit {', '.join(Length)}. A unit is never guessed."
        raise input_problem("the unit of the mesh is not stated", cure, Where(file=str(mesh)))
    read = read_mesh(mesh)
    return with_mesh(record, read.vertices, read.faces, Length(mesh_unit))


def study_of(
    back: MeasuredBack,
    saddle: SaddleRecord,
    request: StudyRequest,
    *,
    inputs: StudyInputs | None = None,
    settings: StudySettings | None = None,
    progress: Progress = quiet,
) -> FitStudy | Undetermined:
    """Run a fit study of a measured back and a recorded saddle; a saddle that is not rigid cannot be judged.

    Raises
    ------
    InputProblemsError
        If back, saddle and load do not make a study; every problem is listed.
    """
    model = model_of(saddle)
    if isinstance(model, NotMeasured | Undetermined):
        return Undetermined(f"“{saddle.label}” cannot be judged: {model.reason}")
    named = inputs or StudyInputs(
        back_label=back.record.label, saddle_label=saddle.label, own_errors=back.own_errors
    )
    own = request.own_limits
    study = run_study(
        back.estimated,
        back.record.landmarks,
        model,
        saddle.pads if request.pads is None else request.pads,
        request.rider,
        horse=request.horse,
        criteria=DEFAULT_CRITERIA if own is None else own.criteria(),
        draws=request.draws,
        seed=request.seed,
        inputs=named if own is None else replace(named, criteria_label=own.label),
        settings=replace(settings or StudySettings(), more_cases=request.more_cases),
        progress=progress,
    )
    return replace(study, cautions=(*study.cautions, *back_cautions(back)))


_JUDGED, _SIZE = "The back record was judged", "All widths and heights of the back’s sections"


def back_cautions(back: MeasuredBack) -> tuple[str, ...]:
    """Return what has to be said of everything that is found on a back."""
    said = []
    doubt = size_doubt(back.record.instrument)
    if back.quality.verdict is not RecordVerdict.GOOD:
        said.append(f"{_JUDGED}: {back.quality.words}. What is found on it is no better than that.")
    if doubt is not None:
        said.append(
            f"{_SIZE} may be off together by ± {100.0 * doubt:.0f} %: nothing checked the scale of the "
            "printed sheets. Measure the printed ruler before an order rests on them."
        )
    return tuple(said)


def of_the_back(cautions: Sequence[str]) -> tuple[str, ...]:
    """Return those cautions of a fit check that are its back's, whatever saddle lies on it."""
    return tuple(one for one in cautions if one.startswith((_JUDGED, _SIZE)))


def study_files(
    back: Path,
    saddle: Path,
    request: StudyRequest,
    *,
    own_errors: Callable[[BackRecord], ErrorsUsed | None] = lambda _record: None,
    settings: StudySettings | None = None,
    progress: Progress = quiet,
) -> FitStudy | Undetermined:
    """Run a fit study of two record files; the study names both by label and digest.

    Parameters
    ----------
    back, saddle : record files
    request : StudyRequest
    own_errors : gives the errors to go by for a back record, in place of those that its instrument states
    settings, progress : as for `study_of`

    Raises
    ------
    InputProblemsError
        With every fault of either file.
    OSError
        If a file cannot be opened.
    """
    back_record, saddle_record = read_back(back), read_saddle(saddle)
    errors = own_errors(back_record)
    inputs = StudyInputs(
        back_label=back_record.label,
        back_version=digest(back),
        saddle_label=saddle_record.label,
        saddle_version=digest(saddle),
        own_errors=errors,
    )
    return study_of(
        measured(back_record, errors),
        saddle_record,
        request,
        inputs=inputs,
        settings=settings,
        progress=progress,
    )
