"""Cross-sections and toplines of many backs at once: the mean surface first, then its draws."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.polar import PolarGrid, basis_rows, nodes_to_coefficients
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Backs:
    """Splines `R(s, φ)` of several backs on one grid."""

    grid: PolarGrid
    coefficients: FloatArray
    """(m, n_s + 2, n_phi + 2) float [mm]."""

    @classmethod
    def through(cls, grid: PolarGrid, radii_mm: FloatArray) -> "Backs":
        """Return the splines through radii (m, n_s, n_phi) float, back frame [mm]."""
        along, across = nodes_to_coefficients(grid.n_s), nodes_to_coefficients(grid.n_phi)
        return cls(grid=grid, coefficients=along @ (radii_mm @ across.T))

    def sections(self, s_mm: FloatArray, phi: FloatArray) -> FloatArray:
        """Return radii (m, k) [mm] at each back's own distance (m,) [mm] and common angles (k,) [rad]."""
        position = (s_mm - self.grid.s0_mm) / self.grid.ds_mm
        rows = basis_rows(self.grid.n_s, position)[0]
        across = basis_rows(self.grid.n_phi, (phi - self.grid.phi0) / self.grid.dphi)[0]
        # A spline sees four coefficients: taking them is far less work than the whole product.
        first = np.clip(np.floor(position).astype(int), 0, self.grid.n_s - 2)
        back = np.arange(len(first))
        taken = sum(rows[back, first + p, None] * self.coefficients[back, first + p] for p in range(4))
        return np.asarray(taken) @ across.T

    def toplines(self, s_mm: FloatArray) -> FloatArray:
        """Return heights (m, k) of the midline at common distances (k,) in the back frame [mm]."""
        rows = basis_rows(self.grid.n_s, (s_mm - self.grid.s0_mm) / self.grid.ds_mm)[0]
        midline = basis_rows(self.grid.n_phi, np.array([-self.grid.phi0 / self.grid.dphi]))[0][0]
        return (self.coefficients @ midline) @ rows.T + self.grid.axis_z_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfSections:
    """One side of a cross-section of many backs: from the midline outwards."""

    lateral_mm: FloatArray
    """(m, k) float ≥ 0, distance from the midline plane [mm]."""
    depth_mm: FloatArray
    """(m, k) float, depth below each back's own midline; negative where muscle stands higher [mm]."""
    phi: FloatArray
    """(k,) float, angle from the midline [rad]."""

    def lateral_at_depth(self, depth_mm: float) -> FloatArray:
        """Return (m,) the outermost half-width at a depth [mm]; not finite where it is not reached."""
        return _outermost(self.depth_mm, self.lateral_mm, depth_mm)

    def angle_at_depth(self, depth_mm: float) -> float:
        """Return the polar angle at which the first back reaches a depth [rad], or infinity."""
        phi = np.broadcast_to(self.phi, self.depth_mm.shape)
        reached = float(_outermost(self.depth_mm[:1], phi[:1], depth_mm)[0])
        return reached if np.isfinite(reached) else np.inf

    def depth_at_lateral(self, lateral_mm: float) -> FloatArray:
        """Return (m,) the depth at a distance from the midline [mm]; not finite where it is not reached."""
        return _outermost(self.lateral_mm, self.depth_mm, lateral_mm)

    def area_above(self, depth_mm: FloatArray) -> FloatArray:
        """Return (m,) the area between the section and the level `depth_mm` (m,) below the midline [mm²]."""
        height = np.maximum(depth_mm[:, None] - self.depth_mm, 0.0)
        return np.trapezoid(height, self.lateral_mm, axis=1)


def half_sections(backs: Backs, s_mm: FloatArray, sign: int, n: int = 361) -> HalfSections:
    """Return one side (+1 left, −1 right) of each back's cross-section at its own distance (m,) [mm]."""
    reach = backs.grid.phi[-1]
    phi = np.linspace(0.0, float(reach), n)
    radius = backs.sections(s_mm, sign * phi)
    height = radius * np.cos(phi)
    return HalfSections(lateral_mm=radius * np.sin(phi), depth_mm=height[:, :1] - height, phi=phi)


def _outermost(levels: FloatArray, values: FloatArray, level: float) -> FloatArray:
    """Return (m,) `values` where `levels` (m, k) last rises through `level`, by linear interpolation."""
    rises = (levels[:, :-1] <= level) & (levels[:, 1:] > level)
    index = rises.shape[1] - 1 - np.argmax(rises[:, ::-1], axis=1)
    row = np.arange(len(levels))
    below, above = levels[row, index], levels[row, index + 1]
    found = rises.any(axis=1)
    share = (level - below) / np.where(found, above - below, 1.0)
    value = values[row, index] + share * (values[row, index + 1] - values[row, index])
    return np.where(found, value, np.inf)
