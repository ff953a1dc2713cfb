"""A fit study: one back, one saddle, one rider, settled, measured, judged, and how sure of it."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

from saddlebench import __version__
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.stations import Station
from saddlebench.engine.back.surface import BackSurface, EstimatedBack
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Undetermined
from saddlebench.engine.fit.confidence import Cloud, CloudSettings, draw_cloud
from saddlebench.engine.fit.criteria import Criteria
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.doubt import with_confidence
from saddlebench.engine.fit.findings import TOUCHING, Finding, Row, judge, rows_that_apply, touching
from saddlebench.engine.fit.hand_slide import HandSlide, hand_slides
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.influence import sources_of
from saddlebench.engine.fit.judged_states import states_of, study_cases
from saddlebench.engine.fit.loads import LoadCase, Rider
from saddlebench.engine.fit.measures.batch import Pair, Solutions, pair_of
from saddlebench.engine.fit.measures.clearance import SpineClearance, spine_clearance
from saddlebench.engine.fit.measures.collect import measure_pair
from saddlebench.engine.fit.measures.pressure import LineLoad, line_loads
from saddlebench.engine.fit.measures.saddle_alone import rider_and_tack
from saddlebench.engine.fit.measures.table import Absent, MeasureTable
from saddlebench.engine.fit.pair_problems import pair_problems
from saddlebench.engine.fit.problem import FitProblem, problems_of
from saddlebench.engine.fit.settings import FitMaterials, SettleSettings
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Position, Settlement
from saddlebench.engine.fit.worth_repeating import FindingDoubt, worth_repeating
from saddlebench.engine.saddle.model import PadLayer, SaddleModel

CAUTIONS = (
    "This is a screening aid, not a diagnosis.",
    "Pain, lameness, wounds or a sudden change: the veterinary surgeon comes first.",
    "A ridden assessment by a qualified fitter completes it.",
    "Local law and professional codes come before anything said here.",
    "Confidence is stated as if the model holds; load cases are load cases, not motion.",
)
SIDEWAYS_CAUTION = "A saddle that always slips or leans to one way: the veterinary surgeon comes first."
PEAK_CAUTION = (
    "Pressures at the trot's peak come from a standing horse's stiffness: pressed quickly, tissue is stiffer."
)
NOT_RIGID_CAUTION = "This kind of saddle is not rigid: how it lies under load is not computed."
USUAL_LIFT_MM = 25.0


class Progress(Protocol):
    """Told how far a study is; the study itself never prints."""

    def __call__(self, done: int, of: int, doing: str) -> None:
        """Take note that `done` of `of` steps are done and `doing` comes next."""


def _silent(done: int, of: int, doing: str) -> None:
    del done, of, doing


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorsUsed:
    """Own measuring errors, from repeats, that a study goes by in place of the instrument's stated ones."""

    whose: str
    """Whose repeats, with which instrument."""
    times: float
    """Factor on everything that the instrument states of itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyInputs:
    """Which records a study was made from, so that it can be made again."""

    back_label: str = ""
    back_version: str = ""
    """Version or hash of the back record."""
    saddle_label: str = ""
    saddle_version: str = ""
    criteria_label: str = "saddlebench defaults"
    own_errors: ErrorsUsed | None = None
    """None: the errors that the instrument states."""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Everything read off one position of the saddle."""

    position: Position
    measures: MeasureTable
    findings: tuple[Finding, ...]
    hand_slide: tuple[HandSlide, HandSlide] | Undetermined
    line_load_rider_up: tuple[LineLoad, LineLoad] | Undetermined
    """Near and off."""
    spine_girthed: SpineClearance | Undetermined
    spine_rider_up: SpineClearance | Undetermined
    doubts: tuple[FindingDoubt, ...] = ()
    """Where each finding's doubt comes from, and which repeat would help; none where it was not tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FitStudy:
    """One fit check, complete."""

    inputs: StudyInputs
    engine_version: str
    draws: int
    seed: int
    surface: BackSurface
    landmarks: Landmarks
    saddle: SaddleModel
    pads: tuple[PadLayer, ...]
    rider: Rider
    horse: Horse
    settlement: Settlement
    put: Reading
    """Where it is put; its findings carry confidence."""
    works_to: Reading | Undetermined
    """Where it works to; as computed, without confidence."""
    cautions: tuple[str, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings where the saddle is put."""
        return self.put.findings


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySettings:
    """What a study may be told besides its inputs."""

    materials: FitMaterials = field(default_factory=FitMaterials)
    settle: SettleSettings = field(default_factory=SettleSettings)
    cloud: CloudSettings = field(default_factory=CloudSettings)
    back_lift_mm: float = USUAL_LIFT_MM
    more_cases: tuple[LoadCase, ...] = ()
    """Shown, never judged."""


def run_study(
    estimated: EstimatedBack,
    landmarks: Landmarks,
    saddle: SaddleModel,
    pads: Sequence[PadLayer],
    rider: Rider,
    *,
    horse: Horse | None = None,
    criteria: Criteria = DEFAULT_CRITERIA,
    draws: int = 256,
    seed: int = 0,
    inputs: StudyInputs | None = None,
    settings: StudySettings | None = None,
    progress: Progress = _silent,
) -> FitStudy:
    """Settle a saddle on a back, read everything off it, judge it, and say how sure that is.

    Parameters
    ----------
    estimated : EstimatedBack
        The back with its posterior.
    landmarks : Landmarks
        As marked, each with its error.
    saddle, pads, rider, horse
        Pads from the saddle down; without a horse its mass is not known.
    criteria : Criteria
        The table of limits.
    draws : int
        Tries for the confidence; 0 leaves it out.
    seed : int
        Same seed, same study.
    inputs : StudyInputs
        Labels and versions of the records.
    settings : StudySettings
    progress : Progress
        Called before each step.

    Returns
    -------
    FitStudy
        A saddle that does not sit is a result; its findings say so.

    Raises
    ------
    InputProblemsError
        If back, saddle or load are not usable; every problem is listed.
    """
    settings, horse = settings or StudySettings(), horse or Horse()
    fit = study_problem(estimated.surface, landmarks, saddle, pads, rider, settings)
    problems = (*problems_of(fit), *pair_problems(fit, horse, draws))
    if problems:
        raise InputProblemsError(problems)
    study = settled_study(
        fit,
        stations=estimated.points.stations,
        horse=horse,
        criteria=criteria,
        inputs=inputs,
        progress=progress,
    )
    progress(2, 3, f"trying {draws} variations" if draws else "finishing")
    cloud = replace(settings.cloud, draws=draws, seed=seed)
    if draws and saddle.family.is_rigid:
        study = replace(study, put=with_tries(study.put, estimated, fit, horse, criteria, cloud))
    progress(3, 3, "done")
    return replace(study, draws=draws, seed=seed)


def settled_study(
    fit: FitProblem,
    *,
    stations: tuple[Station, ...] = (),
    horse: Horse | None = None,
    criteria: Criteria = DEFAULT_CRITERIA,
    inputs: StudyInputs | None = None,
    progress: Progress = _silent,
) -> FitStudy:
    """Settle and judge a fit whose cases are those of a study, without saying how sure that is.

    Parameters
    ----------
    fit : with the cases of `judged_states.study_cases`
    stations : of the back's record, so that what is missing can be named
    horse, criteria, inputs, progress
        As for `run_study`.
    """
    saddle, horse = fit.saddle, horse or Horse()
    progress(0, 3, "putting the saddle on")
    settlement = settle_many([fit], threads=1)[0]
    progress(1, 3, "reading it off")
    share = _rider_and_tack(fit.rider, saddle, horse)
    pair = pair_of(fit.surface, fit.landmarks, saddle, fit.pads, stations)
    put = _reading(pair, settlement, Position.PUT, share, horse, criteria)
    return FitStudy(
        inputs=inputs or StudyInputs(saddle_label=saddle.label),
        engine_version=__version__,
        draws=0,
        seed=0,
        surface=fit.surface,
        landmarks=fit.landmarks,
        saddle=saddle,
        pads=fit.pads,
        rider=fit.rider,
        horse=horse,
        settlement=settlement,
        put=put,
        works_to=settlement.works_to or _reading(pair, settlement, Position.WORKS_TO, share, horse, criteria),
        cautions=_cautions(saddle, put.findings),
    )


def study_problem(
    surface: BackSurface,
    landmarks: Landmarks,
    saddle: SaddleModel,
    pads: Sequence[PadLayer],
    rider: Rider,
    settings: StudySettings,
) -> FitProblem:
    """Return the fit that a study settles."""
    return FitProblem(
        surface=surface,
        landmarks=landmarks,
        saddle=saddle,
        pads=tuple(pads),
        rider=rider,
        cases=(*study_cases(saddle, settings.back_lift_mm), *settings.more_cases),
        materials=settings.materials,
        settings=settings.settle,
    )


def _rider_and_tack(rider: Rider, saddle: SaddleModel, horse: Horse) -> float | Absent:
    if isinstance(horse.mass_kg, NotMeasured):
        return horse.mass_kg
    return rider_and_tack(rider.mass_kg, saddle.mass_kg, horse.mass_kg)


def _reading(
    pair: Pair,
    settlement: Settlement,
    position: Position,
    share: float | Absent,
    horse: Horse,
    criteria: Criteria,
) -> Reading:
    states = states_of([settlement], position)
    table = measure_pair(pair, states, share)
    girthed, up = _sitting(states.girthed), _sitting(states.rider_up)
    return Reading(
        position=position,
        measures=table,
        findings=judge(table, pair.saddle, horse, criteria),
        hand_slide=girthed if isinstance(girthed, Undetermined) else hand_slides(pair, girthed),
        line_load_rider_up=up if isinstance(up, Undetermined) else line_loads(pair, up),
        spine_girthed=girthed if isinstance(girthed, Undetermined) else spine_clearance(pair, girthed),
        spine_rider_up=up if isinstance(up, Undetermined) else spine_clearance(pair, up),
    )


def _sitting(solutions: Solutions | Undetermined) -> Solutions | Undetermined:
    if isinstance(solutions, Undetermined) or solutions.why_not is None:
        return solutions
    return Undetermined(solutions.why_not.reason)


def confident(study: FitStudy, cloud: Cloud, estimated: EstimatedBack, criteria: Criteria) -> FitStudy:
    """Return a study whose findings carry the confidence that a cloud of draws of the same pair gives."""
    put = _confident(study.put, cloud, estimated, study.saddle, study.horse, criteria)
    return replace(study, put=put, draws=cloud.table.count)


def with_tries(
    put: Reading,
    estimated: EstimatedBack,
    fit: FitProblem,
    horse: Horse,
    criteria: Criteria,
    settings: CloudSettings,
) -> Reading:
    """Return a reading with the confidence of its findings."""
    share = _rider_and_tack(fit.rider, fit.saddle, horse)
    cloud = draw_cloud(estimated, fit, share, settings)
    return _confident(put, cloud, estimated, fit.saddle, horse, criteria)


def _confident(
    put: Reading,
    cloud: Cloud,
    estimated: EstimatedBack,
    saddle: SaddleModel,
    horse: Horse,
    criteria: Criteria,
) -> Reading:
    findings, rows = _findings(put, cloud, estimated, saddle, horse, criteria)
    doubts = worth_repeating(findings, rows, cloud.table, cloud.inputs, cloud.radius_shift_mm, estimated)
    return replace(put, findings=findings, doubts=doubts)


def _findings(
    put: Reading,
    cloud: Cloud,
    estimated: EstimatedBack,
    saddle: SaddleModel,
    horse: Horse,
    criteria: Criteria,
) -> tuple[tuple[Finding, ...], tuple[Row, ...]]:
    """Return the findings with their confidence, and the criterion of each."""
    sources = sources_of(
        cloud.inputs.names,
        cloud.inputs.values,
        estimated.surface.grid,
        cloud.radius_shift_mm,
        estimated.points.stations,
    )
    rows = rows_that_apply(put.measures, saddle, horse, criteria)
    return with_confidence(put.findings, rows, cloud.table, sources), rows


def _cautions(saddle: SaddleModel, findings: Sequence[Finding]) -> tuple[str, ...]:
    extra = () if saddle.family.is_rigid else (NOT_RIGID_CAUTION,)
    lying_on = (f"Rider up, the saddle {TOUCHING[finding.name]}." for finding in touching(findings))
    return (*CAUTIONS, SIDEWAYS_CAUTION, PEAK_CAUTION, *lying_on, *extra)
