"""The back lifted by hand: the surface raised smoothly, most at its lowest point."""

from dataclasses import replace

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.errors import is_known
from saddlebench.engine.frames import FloatArray

HALF_LENGTH_MM = 300.0
"""The rise fades to nothing this far in front of and behind the lowest point (assumption)."""


def rise_mm(s_mm: FloatArray, lowest_s_mm: float, lift_mm: float) -> FloatArray:
    """Return the rise (n,) at distances (n,) behind the shoulder mark [mm]: cos² of the way out."""
    part = np.clip((s_mm - lowest_s_mm) / HALF_LENGTH_MM, -1.0, 1.0)
    return lift_mm * np.cos(0.5 * np.pi * part) ** 2


def lowest_point_s_mm(surface: BackSurface, landmarks: Landmarks) -> float:
    """Return where the back is lowest: as marked, else the lowest node of the topline behind the withers."""
    if is_known(landmarks.lowest):
        return landmarks.lowest.value_mm
    grid = surface.grid
    middle = int(np.argmin(np.abs(grid.phi)))
    top = surface.radius_mm[:, middle]
    withers = landmarks.withers.value_mm if is_known(landmarks.withers) else 0.0
    behind = (grid.s_mm > withers + 100.0) & surface.measured[:, middle]
    if not behind.any():
        return float(np.mean(grid.s_mm))
    return float(grid.s_mm[behind][int(np.argmin(top[behind]))])


def lifted(surface: BackSurface, landmarks: Landmarks, lift_mm: float) -> BackSurface:
    """Return the surface with every point raised straight up by the rise at its distance.

    A rise `h` moves the radius at a fixed angle by `h·(cos φ + sin φ·R_φ/R)`, to first order in h.

    Parameters
    ----------
    surface : at rest
    landmarks : for the lowest point
    lift_mm : rise there [mm]

    Returns
    -------
    BackSurface
    """
    grid = surface.grid
    s, phi = np.meshgrid(grid.s_mm, grid.phi, indexing="ij")
    at_nodes = surface.spline.radius(s.ravel(), phi.ravel())
    slope = (at_nodes[:, 2] / at_nodes[:, 0]).reshape(s.shape)
    up = rise_mm(s, lowest_point_s_mm(surface, landmarks), lift_mm)
    radius = surface.radius_mm + up * (np.cos(phi) + slope * np.sin(phi))
    return replace(surface, radius_mm=radius, spline=PolarSpline.through(grid, radius))
