"""One shape on one back: settled, measured and counted, at one of two resolutions."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.choose.candidates import Wanted
from saddlebench.engine.choose.cost import CostRules, costs_of
from saddlebench.engine.choose.models import model_for
from saddlebench.engine.choose.variants import Shape
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Undetermined
from saddlebench.engine.fit.criteria import Criteria, FindingName
from saddlebench.engine.fit.findings import Row, held_of
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.judged_states import cloud_cases, states_of
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.measures.batch import pair_of
from saddlebench.engine.fit.measures.collect import measure_pair
from saddlebench.engine.fit.measures.names import Key
from saddlebench.engine.fit.measures.saddle_alone import rider_and_tack
from saddlebench.engine.fit.measures.table import Absent, MeasureTable
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import FitMaterials, SettleSettings
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Settlement
from saddlebench.engine.saddle.model import Family, SaddleModel

_Answer = TypeVar("_Answer")
FINE_POINTS = 2000
COARSE_POINTS = 250
FIRST_LOOKED_AT = frozenset(
    {FindingName.CHANNEL_WIDTH, FindingName.FRONT_ANGLE, FindingName.FRONT_WIDTH, FindingName.SADDLE_EQUAL}
)
"""What the girthed saddle already tells, and what tells most saddles apart from those that suit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessJob:
    """What is the same for all shapes of one back: small enough to be sent to other processes."""

    surface: BackSurface
    landmarks: Landmarks
    rider: Rider
    horse: Horse
    materials: FitMaterials
    criteria: Criteria
    rules: CostRules

    @classmethod
    def of(cls, wanted: Wanted, criteria: Criteria, rules: CostRules) -> "AssessJob":
        """Return the job of a back."""
        return cls(
            surface=wanted.surface,
            landmarks=wanted.landmarks,
            rider=wanted.rider,
            horse=wanted.horse,
            materials=wanted.materials,
            criteria=criteria,
            rules=rules,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessed:
    """What one shape costs on one back."""

    total: float
    counted: tuple[tuple[FindingName, float], ...]
    """What each finding counts, weighted, in the order of the criteria."""
    sits: bool
    least: float
    """What it costs for certain: without the findings that need a saddle at rest, where it found none."""


@dataclass(frozen=True, slots=True)
class Counted:
    """The criteria that count for a family of saddle, and the measures they look at."""

    rows: tuple[Row, ...]
    wanted: frozenset[Key]


class _Counting:
    """What counts in a job, of some findings or of all, found once for each family."""

    def __init__(self, job: AssessJob, among: Collection[FindingName] | None = None) -> None:
        self._job, self._among = job, among
        self._held: dict[Family, Counted] = {}

    def of(self, family: Family) -> Counted:
        """Return what counts for a family."""
        if family not in self._held:
            job = self._job
            rows = counting_rows(family, job.horse, job.criteria, job.rules)
            rows = tuple(row for row in rows if self._among is None or row.finding in self._among)
            wanted = frozenset(held.measure for row in rows for held in held_of(row))
            self._held[family] = Counted(rows, wanted)
        return self._held[family]


def assess(
    job: AssessJob, shapes: Sequence[Shape], n_points: int
) -> list[Assessed | NotMeasured | Undetermined]:
    """Settle, measure and count shapes one after the other.

    Parameters
    ----------
    job : the back and what counts
    shapes : what is laid on it
    n_points : bearing points of each saddle, both sides together

    Returns
    -------
    list
        In the order of the shapes; why it cannot be judged where a shape is not rigid, leaves too much
        open, or is wrong in itself.
    """
    counting = _Counting(job)

    def _assess(shape: Shape, model: SaddleModel) -> Assessed:
        return _assessed(job, model, shape, counting.of(model.family))

    return [_judged(shape, n_points, _assess) for shape in shapes]


def first_looks(job: AssessJob, shapes: Sequence[Shape]) -> list[float | NotMeasured | Undetermined]:
    """Return what each shape's quick pass costs at the very least: what the girthed saddle tells.

    The findings of `FIRST_LOOKED_AT` come out as they will in the quick pass, on as many points, and no
    finding counts below 0.

    Parameters
    ----------
    job : the back and what counts
    shapes : what is laid on it
    """
    counting = _Counting(job, FIRST_LOOKED_AT)

    def _look(shape: Shape, model: SaddleModel) -> float:
        girthed = settle_many([replace(fit_problem(job, model, shape), cases=())], threads=1)[0]
        counted = counting.of(model.family)
        table = _measured(job, model, shape, girthed, counted)
        certain = [row for row in counted.rows if not (row.needs_settling and table.unsettled)]
        return float(costs_of(certain, table, job.rules).total[0])

    return [_judged(shape, COARSE_POINTS, _look) for shape in shapes]


def _judged(
    shape: Shape, n_points: int, judge: Callable[[Shape, SaddleModel], _Answer]
) -> _Answer | NotMeasured | Undetermined:
    try:
        model = model_for(shape.record, n_points)
        return judge(shape, model) if isinstance(model, SaddleModel) else model
    except InputProblemsError as error:
        return Undetermined(error.problems[0].what)


def assess_model(job: AssessJob, model: SaddleModel, shape: Shape) -> Assessed:
    """Settle, measure and count a model with the pads of a shape.

    Raises
    ------
    InputProblemsError
        If back, saddle and load do not make a fit.
    """
    return _assessed(job, model, shape, _Counting(job).of(model.family))


def _assessed(job: AssessJob, model: SaddleModel, shape: Shape, counted: Counted) -> Assessed:
    settlement = settle_many([fit_problem(job, model, shape)], threads=1)[0]
    table = _measured(job, model, shape, settlement, counted)
    costs = costs_of(counted.rows, table, job.rules)
    each = tuple(zip(costs.names, (float(one) for one in costs.counted[0]), strict=True))
    total = float(costs.total[0])
    needs_rest = np.array([row.needs_settling for row in counted.rows])
    return Assessed(
        total=total,
        counted=each,
        sits=not table.unsettled,
        least=total - float(costs.counted[0][needs_rest].sum()) if table.unsettled else total,
    )


def _measured(
    job: AssessJob, model: SaddleModel, shape: Shape, settlement: Settlement, counted: Counted
) -> MeasureTable:
    pair = pair_of(job.surface, job.landmarks, model, shape.pads)
    share = mass_share(job.rider, model, job.horse)
    return measure_pair(pair, states_of([settlement]), share, wanted=counted.wanted)


def fit_problem(job: AssessJob, model: SaddleModel, shape: Shape) -> FitProblem:
    """Return the fit of one shape, in the cases that count, where the saddle is put."""
    few = model.bearing.area_mm2.size < 2 * COARSE_POINTS
    return FitProblem(
        surface=job.surface,
        landmarks=job.landmarks,
        saddle=model,
        pads=shape.pads,
        rider=job.rider,
        cases=cloud_cases(model),
        materials=job.materials,
        settings=replace(SettleSettings(), both_positions=False, coarse_points=0 if few else COARSE_POINTS),
    )


def counting_rows(family: Family, horse: Horse, criteria: Criteria, rules: CostRules) -> tuple[Row, ...]:
    """Return the criteria that apply to a family of saddle on a horse and count at all."""
    rows: tuple[Row, ...] = (*criteria.for_pair(family, horse.build), *criteria.pressures_for(family))
    return tuple(row for row in rows if rules.weights.get(row.finding, 0.0) > 0.0)


def mass_share(rider: Rider, saddle: SaddleModel, horse: Horse) -> float | Absent:
    """Return rider and tack over the horse's mass [1]."""
    if isinstance(horse.mass_kg, NotMeasured):
        return horse.mass_kg
    return rider_and_tack(rider.mass_kg, saddle.mass_kg, horse.mass_kg)
