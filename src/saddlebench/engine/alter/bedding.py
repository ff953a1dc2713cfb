"""New flock beds down: what goes in on the bench, what is wanted on the horse, and the band between."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from saddlebench.engine.alter.alteration import Alteration
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName
from saddlebench.engine.fit.measures.table import Absent, Measure
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.saddle.zones import ByZone, Filling

LOST_SHARE = (0.10, 0.20)
"""Part of what was added that beds down in the first weeks (common practice)."""
USUAL_LOST = 0.15
RIDDEN_HOURS = (20, 50)
"""Within which it does (common practice)."""
RECHECK_WEEKS = (6, 12)
"""When new flock is looked at again (common practice)."""
BENCH_TOLERANCE_MM = 3.0
BEDDED_TOLERANCE_MM = 5.0
"""What a saddler's work can be held to (common practice)."""


def on_bench_mm(wanted_mm: float) -> float:
    """Return what to add on the bench for `wanted_mm` after bedding in; what is taken stays as it is."""
    return wanted_mm / (1.0 - USUAL_LOST) if wanted_mm > 0.0 else wanted_mm


def with_wool(alteration: Alteration, change: Callable[[float], float]) -> Alteration:
    """Return the alteration with every amount of wool changed; shims, arch, pad and straps stay."""

    def _by_zone(values: ByZone) -> ByZone:
        front, waist, seat, rear = (change(one) for one in values)
        return front, waist, seat, rear

    def _changed(filling: Filling) -> Filling:
        return Filling(inner_mm=_by_zone(filling.inner_mm), outer_mm=_by_zone(filling.outer_mm))

    return replace(
        alteration, fill_left=_changed(alteration.fill_left), fill_right=_changed(alteration.fill_right)
    )


def bench_alteration(alteration: Alteration) -> Alteration:
    """Return what is done on the bench for an alteration wanted on the horse."""
    return with_wool(alteration, on_bench_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bedding:
    """One measure while new flock beds down."""

    key: MeasureKey
    new: float | Absent
    """As it leaves the bench, in the unit people see."""
    least_lost: float | Absent
    most_lost: float | Absent
    """After the least and the most that is usual has gone in."""


WATCHED = (
    MeasureKey(name=MeasureName.WITHERS_TOP, state=State.RIDER_UP),
    MeasureKey(name=MeasureName.SEAT_TILT, state=State.RIDER_UP),
    MeasureKey(name=MeasureName.LEFT_SHARE, state=State.RIDER_UP),
)
"""What is told of while it does."""


def bedding_of(
    alteration: Alteration, look: Callable[[Alteration], FitStudy]
) -> tuple[Bedding, ...] | Undetermined:
    """Return how the watched measures go while new flock beds down.

    Parameters
    ----------
    alteration : as wanted on the horse
    look : settles and judges an alteration (`plan.try_alteration`)
    """
    bench = bench_alteration(alteration)
    if bench == alteration:
        return Undetermined("no flock is added: nothing beds down")
    states = [look(bench), *(look(with_wool(bench, _beds_down(lost))) for lost in LOST_SHARE)]
    told = []
    for key in WATCHED:
        new, least, most = (_shown(study, key) for study in states)
        told.append(Bedding(key=key, new=new, least_lost=least, most_lost=most))
    return tuple(told)


def _beds_down(lost: float) -> Callable[[float], float]:
    return lambda mm: mm * (1.0 - lost) if mm > 0.0 else mm


def _shown(study: FitStudy, key: MeasureKey) -> float | Absent:
    measure = study.put.measures.at(key)
    return measure.shown if isinstance(measure, Measure) else measure
