"""What a saddle should do on the hard replica of the back: gaps, and how far it rocks, under a stated weight.

The replica does not give. A saddle that lies evenly on the horse shows gaps on it; a saddler who does not
know which would "correct" a good saddle.
"""

from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.judged_states import POMMEL_CASE, pommel_pressed
from saddlebench.engine.fit.loads import HALT, Rider
from saddlebench.engine.fit.place import usual_place
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.settings import FitMaterials, GirthElastic
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Outcome, Settled
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import Zone

USUAL_WEIGHT_KG = 30.0
"""A sack of sand on the seat (assumption): enough to press the panels, light enough to lift."""
HARD = Material(
    name="replica", stiffness_kpa_mm=1e4, source="hard: a thousandth of a millimetre under a saddle's load"
)
OPEN_MM = 1.0
"""A gap below this is not seen against the light (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplicaGap:
    """One zone of one side on the replica, the weight on the seat."""

    on_left: bool
    zone: Zone
    widest_mm: float
    """Widest gap under the panel's middle; 0 where it bears all along."""
    bears_share: float
    """Part of the zone's area that touches [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplicaCheck:
    """What the saddle should do on the replica, without pad and girth."""

    weight_kg: float
    gaps: tuple[ReplicaGap, ...]
    rock_mm: float | Undetermined
    """How far the cantle rises when 100 N press the pommel, without the weight."""


def on_replica(fit: FitProblem, weight_kg: float = USUAL_WEIGHT_KG) -> ReplicaCheck | Undetermined:
    """Settle a saddle on the hard back.

    Parameters
    ----------
    fit : the saddle as it should be (altered), on the back that the replica shows
    weight_kg : on the seat

    Raises
    ------
    InputProblemsError
        If the fit is not usable.
    """
    placing = fit.settings.placing or usual_place(fit.landmarks, fit.saddle)
    hard = replace(
        fit,
        pads=(),
        rider=Rider(mass_kg=weight_kg, load_height_mm=0.0),
        cases=(replace(HALT, stirrup_share=0.0), pommel_pressed(fit.saddle)),
        materials=FitMaterials(
            tissue=(HARD,) * 4,
            grip=fit.materials.grip,
            girth=GirthElastic(tension_n=0.0, stiffness_n_mm=0.0),
        ),
        settings=replace(fit.settings, placing=placing, both_positions=False),
    )
    settlement = settle_many([hard], threads=1)[0]
    loaded = settlement.at(HALT.name)
    if isinstance(loaded, Undetermined) or loaded.outcome is not Outcome.SITS:
        return Undetermined(
            f"on the hard replica, with {weight_kg:g} kg on the seat, the saddle does not sit"
        )
    return ReplicaCheck(weight_kg=weight_kg, gaps=_gaps(hard, loaded), rock_mm=_rock(hard, settlement.steps))


def _gaps(hard: FitProblem, loaded: Settled) -> tuple[ReplicaGap, ...]:
    bearing = hard.saddle.bearing
    columns = int(bearing.column.max()) + 1
    middle = np.abs(bearing.column - 0.5 * (columns - 1)) <= 0.5 * max(1, columns // 3)
    gaps = []
    for on_left in (True, False):
        for zone in Zone:
            here = (bearing.side == (1 if on_left else -1)) & (bearing.zone == zone)
            widest = float(np.max(loaded.gap_mm[here & middle], initial=0.0))
            area = bearing.area_mm2[here]
            bears = float(np.sum(area[loaded.pressure_kpa[here] > 0.0]) / max(np.sum(area), 1e-9))
            gaps.append(
                ReplicaGap(
                    on_left=on_left,
                    zone=zone,
                    widest_mm=widest if widest >= OPEN_MM else 0.0,
                    bears_share=bears,
                )
            )
    return tuple(gaps)


def _rock(hard: FitProblem, steps: tuple[Settled, ...]) -> float | Undetermined:
    seat = hard.saddle.seat
    cantle = np.array([[seat.x_mm[-1], 0.0, seat.z_mm[-1]]])
    by_name = {step.case.name: step for step in steps}
    still, pressed = by_name.get("girthed"), by_name.get(POMMEL_CASE)
    if still is None or pressed is None or pressed.outcome is not Outcome.SITS:
        return Undetermined("pressed on the pommel, the saddle tips over on the replica")
    rise = pressed.saddle_to_back.points(cantle)[0, 2] - still.saddle_to_back.points(cantle)[0, 2]
    return float(rise)
