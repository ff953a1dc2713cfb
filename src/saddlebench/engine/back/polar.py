"""The polar grid of a back, and the bicubic spline through values at its nodes.

A point of the back frame lies at `s = −x`, `φ = atan2(y, z − axis)`, `r = hypot(y, z − axis)`: radius from a
line parallel to x on the midline plane, some 200 mm below the topline; φ is positive to the horse's left.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Self

import numpy as np

from saddlebench.engine.back import _kernels
from saddlebench.engine.frames import FloatArray, read_only


@dataclass(frozen=True, slots=True, kw_only=True)
class PolarGrid:
    """Nodes `s0 + i·ds` by `φ0 + j·dφ` about the axis at height `axis_z_mm`."""

    s0_mm: float
    ds_mm: float
    n_s: int
    phi0: float
    dphi: float
    n_phi: int
    axis_z_mm: float
    """Height of the polar axis in the back frame [mm]; negative."""

    @property
    def s_mm(self) -> FloatArray:
        """(n_s,) float, node distances behind the shoulder mark [mm]."""
        return self.s0_mm + self.ds_mm * np.arange(self.n_s)

    @property
    def phi(self) -> FloatArray:
        """(n_phi,) float, node angles from vertical, positive left [rad]."""
        return self.phi0 + self.dphi * np.arange(self.n_phi)

    def polar(self, points_back: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return s [mm], φ [rad] and r [mm], each (n,), of points (n, 3) float, back frame [mm]."""
        up = points_back[:, 2] - self.axis_z_mm
        return -points_back[:, 0], np.arctan2(points_back[:, 1], up), np.hypot(points_back[:, 1], up)

    def cartesian(self, s_mm: FloatArray, phi: FloatArray, radius_mm: FloatArray) -> FloatArray:
        """Return (n, 3) float, back frame [mm], of polar coordinates of equal shape (n,)."""
        return np.stack([-s_mm, radius_mm * np.sin(phi), radius_mm * np.cos(phi) + self.axis_z_mm], axis=-1)


@lru_cache(maxsize=64)
def nodes_to_coefficients(n: int) -> FloatArray:
    """Return the (n + 2, n) matrix from node values to uniform cubic B-spline coefficients.

    Ends are not-a-knot: the third derivative runs through the second and the last but one node,
    so any cubic is reproduced exactly (de Boor, A Practical Guide to Splines, ch. IV).

    Raises
    ------
    ValueError
        With fewer than four nodes.
    """
    if n < 4:
        msg = f"a cubic spline needs at least 4 nodes, got {n}"
        raise ValueError(msg)
    system = np.zeros((n + 2, n + 2))
    for i in range(n):
        system[i + 1, i : i + 3] = 1 / 6, 4 / 6, 1 / 6
    fourth_difference = (1.0, -4.0, 6.0, -4.0, 1.0)
    system[0, :5] = fourth_difference
    system[-1, -5:] = fourth_difference
    return read_only(np.linalg.inv(system)[:, 1:-1])


def basis_rows(n: int, position: FloatArray) -> FloatArray:
    """Return (3, k, n + 2) float: weights on the coefficients of a spline through `n` nodes.

    Parameters
    ----------
    n : int
    position : (k,) float, places in node units [1]; 0 is the first node

    Returns
    -------
    (3, k, n + 2) float; the first axis is the value and its first and second derivative by the position
    """
    out = np.zeros((3, position.size, n + 2))
    _kernels.basis_rows(np.ascontiguousarray(position, dtype=np.float64), n, out)
    return out


def interpolation_rows(n: int, position: FloatArray, order: int = 0) -> FloatArray:
    """Return (k, n) float: weights on the node values, for the value or a derivative by the position."""
    return basis_rows(n, position)[order] @ nodes_to_coefficients(n)


def stacked_coefficients(grid: PolarGrid, radii_mm: FloatArray) -> FloatArray:
    """Return the coefficients of many splines at once, each as `PolarSpline.through` makes them.

    Parameters
    ----------
    grid : PolarGrid
    radii_mm : (count, n_s, n_phi) float, back frame [mm]

    Returns
    -------
    (count, n_s + 2, n_phi + 2, 2) float: last axis R [mm], C [1]
    """
    along, across = nodes_to_coefficients(grid.n_s), nodes_to_coefficients(grid.n_phi)
    slope_along = interpolation_rows(grid.n_s, np.arange(grid.n_s, dtype=float), order=1) / grid.ds_mm
    slope_across = interpolation_rows(grid.n_phi, np.arange(grid.n_phi, dtype=float), order=1) / grid.dphi
    out = np.zeros((len(radii_mm), grid.n_s + 2, grid.n_phi + 2, 2))
    scale = (radii_mm @ slope_across.T) / radii_mm
    np.square(scale, out=scale)
    scale += np.square(slope_along @ radii_mm)
    scale += 1.0
    scale **= -0.5
    out[..., 0] = along @ (radii_mm @ across.T)
    out[..., 1] = along @ (scale @ across.T)
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class PolarSpline:
    """`R(s, φ)` and the gap's scale `C(s, φ)` as bicubic splines on one grid, interleaved for the kernels."""

    grid: PolarGrid
    coefficients: FloatArray
    """(n_s + 2, n_phi + 2, 2) float: last axis R [mm], C [1]."""

    @classmethod
    def through(cls, grid: PolarGrid, radius_mm: FloatArray) -> Self:
        """Return the spline through radii (n_s, n_phi) float, back frame [mm], at the grid's nodes.

        `C` interpolates `1/√(1 + R_s² + (R_φ/R)²)` at the nodes, so that `(r − R)·C` is the distance to the
        surface to first order and has an exact gradient and Hessian of its own.
        """
        held = stacked_coefficients(grid, np.asarray(radius_mm, dtype=np.float64)[None])[0]
        return cls(grid=grid, coefficients=read_only(held))

    def radius(self, s_mm: FloatArray, phi: FloatArray) -> FloatArray:
        """Return (n, 6) float, back frame [mm, rad]: R, R_s, R_φ, R_ss, R_sφ, R_φφ at (n,) places."""
        return _evaluate(self.grid, self.coefficients, s_mm, phi, layer=0)

    def scale(self, s_mm: FloatArray, phi: FloatArray) -> FloatArray:
        """Return (n, 6) float, back frame [1, mm, rad]: C and its derivatives at (n,) places."""
        return _evaluate(self.grid, self.coefficients, s_mm, phi, layer=1)


def _evaluate(
    grid: PolarGrid, coefficients: FloatArray, s_mm: FloatArray, phi: FloatArray, *, layer: int
) -> FloatArray:
    s_flat, phi_flat = np.broadcast_arrays(np.asarray(s_mm, float), np.asarray(phi, float))
    out = np.zeros((s_flat.size, 6))
    _kernels.evaluate(
        coefficients,
        grid.s0_mm,
        grid.ds_mm,
        grid.phi0,
        grid.dphi,
        np.ascontiguousarray(s_flat.ravel()),
        np.ascontiguousarray(phi_flat.ravel()),
        layer,
        out,
    )
    return out
