"""How even the panels are: each face against a smooth panel of its own, in mm, by zone."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import Zone
from saddlebench.engine.saddle.underside.heights import FaceGrid
from saddlebench.engine.saddle.zones import zone_of

DEGREES = (4, 2)
"""Of the smooth panel along and across: it follows rocker, twist and roundness, no lump."""
LEAST_MM = 2.0
"""Less than this is not told: a hand on leather feels no less (common practice, judgement)."""
_BUNDLE = 2.2
_FEWEST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Unevenness:
    """One panel's zone against a smooth panel."""

    side: int
    zone: Zone
    mean_mm: float
    """Positive: the zone stands out towards the horse; NaN where nothing of it is measured."""
    most_mm: float
    """The lump or hollow that is largest there, sign as above."""
    behind_mm: float
    across: float
    """Where it is: behind the front edge, and from 0 at the channel to 1 at the outer edge."""
    sd_mm: float
    """Of the largest."""

    @property
    def is_told(self) -> bool:
        """Whether it is larger than what the scan's noise makes."""
        return bool(abs(self.most_mm) >= max(LEAST_MM, 3.0 * self.sd_mm))


def smooth_panel(grid: FaceGrid) -> FloatArray:
    """Return the heights of a smooth panel through a face, (r, c) float, saddle frame [mm]; NaN as the face.

    The smooth panel is a polynomial laid through most of the face (Tukey's biweight): it does not follow
    a lump or a hollow.
    """
    s = np.broadcast_to(grid.behind_mm[:, None], grid.z_mm.shape)
    v = np.broadcast_to(np.linspace(-1.0, 1.0, grid.z_mm.shape[1])[None, :], s.shape)
    t = 2.0 * (s - s.min()) / max(float(np.ptp(s)), 1.0) - 1.0
    known = np.isfinite(grid.z_mm)
    smooth = np.full(s.shape, np.nan)
    if known.sum() < _FEWEST:
        return smooth
    rows = chebyshev.chebvander2d(t[known], v[known], DEGREES)
    z = grid.z_mm[known]
    weight = np.ones(len(z))
    found: FloatArray = np.zeros(rows.shape[1])
    for _ in range(20):
        weighted = rows * weight[:, None]
        found = np.linalg.solve(weighted.T @ rows + 1e-6 * np.eye(rows.shape[1]), weighted.T @ z)
        left = z - rows @ found
        spread = max(0.25, 1.4826 * float(np.median(np.abs(left))))
        weight = np.maximum(0.0, 1.0 - (left / (_BUNDLE * spread)) ** 2) ** 2
    smooth[known] = rows @ found
    return smooth


def uneven(grid: FaceGrid) -> FloatArray:
    """Return how far a face stands out of a smooth panel, (r, c) float, saddle frame [mm].

    Positive is towards the horse.
    """
    smooth = smooth_panel(grid)
    if not np.isfinite(smooth).any():
        return smooth
    across = np.gradient(smooth, axis=1) / np.gradient(grid.out_y_mm, axis=1)
    lean = 1.0 / np.sqrt(1.0 + np.nanmedian(across) ** 2)
    return np.asarray((smooth - grid.z_mm) * lean)


def unevenness(grid: FaceGrid, length_mm: float) -> tuple[Unevenness, ...]:
    """Return each zone of one panel against a smooth panel; the outermost rows and columns do not count."""
    out = uneven(grid)
    rim = np.zeros(out.shape, bool)
    rim[:2], rim[-2:], rim[:, :1], rim[:, -1:] = True, True, True, True
    zones = zone_of(grid.behind_mm, length_mm)
    found = []
    for zone in Zone:
        here = np.isfinite(out) & ~rim & (zones == zone)[:, None]
        if not here.any():
            found.append(
                Unevenness(
                    side=grid.side,
                    zone=zone,
                    mean_mm=np.nan,
                    most_mm=np.nan,
                    behind_mm=np.nan,
                    across=np.nan,
                    sd_mm=np.nan,
                )
            )
            continue
        row, column = np.unravel_index(int(np.argmax(np.where(here, np.abs(out), -1.0))), out.shape)
        found.append(
            Unevenness(
                side=grid.side,
                zone=zone,
                mean_mm=float(out[here].mean()),
                most_mm=float(out[row, column]),
                behind_mm=float(grid.behind_mm[row]),
                across=float(column / (out.shape[1] - 1)),
                sd_mm=float(grid.sd_mm[row, column]),
            )
        )
    return tuple(found)
