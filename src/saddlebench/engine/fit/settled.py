"""What a settled saddle looks like: typed outcomes, and the fields at every bearing point."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import LoadCase
from saddlebench.engine.frames import FloatArray, Pose


class Outcome(StrEnum):
    """How a load step ended."""

    SITS = "sits"
    SLIDES_OR_ROLLS_OFF = "slides or rolls off"
    CANNOT_BE_JUDGED = "cannot be judged"


class Position(StrEnum):
    """Where along the back the saddle is looked at."""

    PUT = "where it is put"
    WORKS_TO = "where it works to"


@dataclass(frozen=True, slots=True, kw_only=True)
class SolverReport:
    """How the numbers were reached."""

    iterations: int
    evaluations: int
    point_evaluations: int
    """Points whose gap was evaluated, over all evaluations."""
    friction_passes: int
    force_residual: float
    """Norm of the unbalanced generalised force over the load [1]."""
    softest_n_mm: float
    """Least stiffness against a small disturbance, friction included [N/mm, 150 mm counting for 1 rad].

    At or below 0 the saddle does not sit. A point that has slipped resists being moved back, not on.
    """
    softest_frictionless_n_mm: float
    """The same without friction; on a convex back often below 0."""
    slip_share: float
    """Share of the load carried where friction is used up [1]."""
    friction_work_n_mm: float
    """Energy lost to friction in this step [N·mm]; never negative."""
    energy_n_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """The saddle at rest under one load case.

    The fields of a state whose outcome is not `SITS` are those of the last position reached: they serve to
    show what happened, never to judge.
    """

    case: LoadCase
    position: Position
    outcome: Outcome
    why_not: Undetermined | None
    """Set when the outcome is not `SITS`: which stations were not measured, or which way it went."""
    saddle_to_back: Pose
    gap_mm: FloatArray
    """(n,) float, distance from each point, pad included, to the unpressed back [mm]; < 0 where pressed."""
    pressure_kpa: FloatArray
    """(n,) float, normal pressure [kPa]."""
    shear_back_kpa: FloatArray
    """(n, 3) float, back frame [kPa]: friction traction on the saddle."""
    measured: NDArray[np.bool_]
    """(n,) whether the back under the point was measured."""
    girth_tension_n: float
    stiffness_back: FloatArray
    """(6, 6) float, back frame [N/mm, N, N·mm]: tangent against sway (mm) and turn (rad) of the reference."""
    reference_saddle: FloatArray
    """(3,) float, saddle frame [mm]: the point about which the tangent turns (centroid of the panels)."""
    solver: SolverReport


@dataclass(frozen=True, slots=True, kw_only=True)
class Settlement:
    """All states of one saddle on one back, in the order in which they were reached."""

    steps: tuple[Settled, ...]
    works_to: Undetermined | None = None
    """Why the position that the saddle works to was not solved, where it was not."""

    def at(self, case_name: str, position: Position = Position.PUT) -> Settled | Undetermined:
        """Return one state by its load case's name."""
        for step in self.steps:
            if step.case.name == case_name and step.position is position:
                return step
        if position is Position.WORKS_TO and self.works_to is not None:
            return self.works_to
        return Undetermined(f"“{case_name}” ({position}) was not solved")
