"""Gaps and pressures of a saddle at rest, point by point."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.alter._kernels import press
from saddlebench.engine.fit.steps import Reached, Rig
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """Every point in one state."""

    gap_mm: FloatArray
    """(n,) float [mm]; below 0 where pressed, infinite off the back."""
    slope: FloatArray
    """(n, 3) float, back frame [1]: gradient of the gap."""
    bend: FloatArray
    """(n, 3, 3) float, back frame [1/mm]: its Hessian."""
    pressure_kpa: FloatArray
    """(n,) float [kPa]."""
    stiffness: FloatArray
    """(n,) float, slope of the law [kPa/mm]."""
    arm: FloatArray
    """(n, 3) float, back axes from the reference [mm]."""


def pressed_of(rig: Rig, state: Reached) -> Pressed:
    """Return gaps and pressures of a state at rest."""
    n = rig.panels.area.size
    gap, slope, bend = np.zeros(n), np.zeros((n, 3)), np.zeros((n, 6))
    pressure, stiffness = np.zeros(n), np.zeros(n)
    press(state.back, rig.panels, rig.laws, state.pose, gap, slope, bend, pressure, stiffness)
    return Pressed(
        gap_mm=gap,
        slope=slope,
        bend=bend[:, [0, 1, 2, 1, 3, 4, 2, 4, 5]].reshape(-1, 3, 3),
        pressure_kpa=pressure,
        stiffness=stiffness,
        arm=rig.panels.points @ state.pose[:9].reshape(3, 3).T,
    )
