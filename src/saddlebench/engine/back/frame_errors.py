"""Errors that move a whole record: they place its frame and are not shape.

Heading, level, scale and the place of the origin move every point together. No reading of the same record
tells them from how the horse itself lies and how big it is, so an estimate that let them explain the horse's
own lean would draw the surface off the points that were measured. They stay out of the mean, and widen
everything that is said of the surface in its frame.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.frames import FloatArray, Pose, read_only


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameError:
    """One thing that may be off in the same way at every point: `dp = linear @ p + shift` per unit."""

    source: str
    """In words: “level of the ground across the horse”."""
    sd: float
    """Standard deviation in the error's own unit (rad, mm or 1)."""
    linear: FloatArray
    """(3, 3) float, back frame [per unit]."""
    shift: FloatArray
    """(3,) float, back frame [mm per unit]."""
    from_midline: bool = False
    """Whether `p` counts from the midline of its own section, not from the origin."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "linear", read_only(self.linear))
        object.__setattr__(self, "shift", read_only(self.shift))

    def moves(self, points_back: FloatArray, midline_back: FloatArray) -> FloatArray:
        """Return how one unit moves points.

        Parameters
        ----------
        points_back : (n, 3) float, back frame [mm]
        midline_back : (n, 3) float, back frame, the midline of each point's section [mm]

        Returns
        -------
        (n, 3) float, back frame [mm per unit]
        """
        lever = points_back - midline_back if self.from_midline else points_back
        return lever @ self.linear.T + self.shift

    def after(self, pose: Pose) -> "FrameError":
        """Return the same error of points that were moved by a pose without translation."""
        turn = pose.rotation
        return FrameError(
            source=self.source,
            sd=self.sd,
            linear=turn @ self.linear @ turn.T,
            shift=turn @ self.shift,
            from_midline=self.from_midline,
        )


def shifted(source: str, sd: float, along: tuple[float, float, float]) -> FrameError:
    """Return an error of place along a direction, standard deviation in mm."""
    return FrameError(source=source, sd=sd, linear=np.zeros((3, 3)), shift=np.array(along))


def turned(source: str, sd: float, about: tuple[float, float, float]) -> FrameError:
    """Return an error of turning about an axis through the origin, standard deviation in rad."""
    x, y, z = about
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return FrameError(source=source, sd=sd, linear=cross, shift=np.zeros(3))


def radial_moves(errors: Sequence[FrameError], grid: PolarGrid, spline: PolarSpline) -> FloatArray:
    """Return what one standard deviation of each error does to a surface's radius at the nodes.

    To first order, a surface moved by `dp` is read off by `dR = (e_r + R_s x̂ − (R_φ/R) e_φ) · dp`.

    Parameters
    ----------
    errors : FrameError, q of them
    grid : PolarGrid
    spline : PolarSpline
        The surface that is moved.

    Returns
    -------
    (q, n_s, n_phi) float, back frame [mm]
    """
    s, phi = (place.ravel() for place in np.meshgrid(grid.s_mm, grid.phi, indexing="ij"))
    radius, slope_s, slope_phi = spline.radius(s, phi)[:, :3].T
    direction = radial_direction(phi, radius, slope_s, slope_phi)
    points = grid.cartesian(s, phi, radius)
    midline = grid.cartesian(s, np.zeros_like(s), spline.radius(s, np.zeros_like(s))[:, 0])
    moved = [error.sd * (direction * error.moves(points, midline)).sum(axis=1) for error in errors]
    return np.array(moved).reshape(len(errors), grid.n_s, grid.n_phi)


def radial_direction(
    phi: FloatArray, radius_mm: FloatArray, slope_s: FloatArray, slope_phi: FloatArray
) -> FloatArray:
    """Return the vector whose product with a point's move is the change of its radius beside the surface.

    Parameters
    ----------
    phi, radius_mm : (n,) float, back frame [rad] and [mm]
    slope_s, slope_phi : (n,) float, back frame, R_s [1] and R_φ [mm/rad]

    Returns
    -------
    (n, 3) float, back frame [1]
    """
    sine, cosine, turn = np.sin(phi), np.cos(phi), slope_phi / radius_mm
    return np.stack([slope_s, sine - turn * cosine, cosine + turn * sine], axis=1)
