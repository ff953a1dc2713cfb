"""The load cases a fit check is judged on, and where to find them in a settlement."""

from collections.abc import Sequence

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import GIRTHED, HALT, TROT_PEAK, LoadCase, Push, State, back_lifted
from saddlebench.engine.fit.measures.batch import Solutions
from saddlebench.engine.fit.measures.collect import States
from saddlebench.engine.fit.settled import Position, Settlement
from saddlebench.engine.frames import read_only
from saddlebench.engine.saddle.model import SaddleModel

POMMEL_N = 100.0
POMMEL_CASE = "100 N on the pommel"


def pommel_pressed(saddle: SaddleModel) -> LoadCase:
    """Return the rocking test: a hand on top of the front arch of the girthed saddle."""
    crown = saddle.arch_saddle[saddle.arch_saddle[:, 2].argmax()].copy()
    crown[1] = 0.0
    return LoadCase(
        name=POMMEL_CASE,
        state=State.GIRTHED,
        force_multiple=0.0,
        is_peak=False,
        stirrup_share=0.0,
        pushes=(Push(at_saddle=read_only(crown), force_n=POMMEL_N),),
        source="hand test, common practice",
    )


def study_cases(saddle: SaddleModel, lift_mm: float) -> tuple[LoadCase, ...]:
    """Return the cases of a whole study."""
    return (HALT, pommel_pressed(saddle), TROT_PEAK, back_lifted(lift_mm))


def cloud_cases(saddle: SaddleModel) -> tuple[LoadCase, ...]:
    """Return the cases that every draw is settled in; the trot's peak only ranks, and is not tried."""
    return (HALT, pommel_pressed(saddle))


def states_of(settlements: Sequence[Settlement], position: Position = Position.PUT) -> States:
    """Return the states that measures are read off, over all settlements."""
    return States(
        girthed=_stacked(settlements, GIRTHED.name, position),
        rider_up=_stacked(settlements, HALT.name, position),
        pommel_pressed=_stacked(settlements, POMMEL_CASE, position),
        moving=_stacked(settlements, TROT_PEAK.name, position),
    )


def _stacked(settlements: Sequence[Settlement], name: str, position: Position) -> Solutions | Undetermined:
    found = [one.at(name, position) for one in settlements]
    missing = [one for one in found if isinstance(one, Undetermined)]
    if missing:
        return missing[0]
    return Solutions.of([one for one in found if not isinstance(one, Undetermined)])
