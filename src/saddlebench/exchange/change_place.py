"""Where a patch's middle may be: one region, which sentences bound and the map draws."""

import numpy as np

from saddlebench.engine.change.results import Patch
from saddlebench.engine.frames import FloatArray

CELL_MM = 21.0
"""Middles are tried 30 mm apart: each stands for all that is nearer to it than to the next, to the corner."""
OWN_SD = 2.448
"""So many of its deviations about the named middle hold it in 95 of 100 cases (the root of χ² with two
degrees of freedom, 5.991): it is not known better than that even where one middle alone is left."""


def outside_place_mm(patch: Patch, s_mm: FloatArray, from_midline_mm: FloatArray) -> FloatArray:
    """Return how far places lie outside the region that holds a patch's middle; below 0 within it [mm].

    Parameters
    ----------
    patch : with the middles that hold its place in 95 of 100 cases
    s_mm : (…,) float, back frame, behind the shoulder mark
    from_midline_mm : (…,) float, back frame, over the skin, positive left
    """
    held = [
        np.hypot(s_mm - s, from_midline_mm - over) - radius
        for (s, over), radius in zip(_middles(patch), _radii(patch), strict=True)
    ]
    return np.asarray(np.min(held, axis=0))


def place_bounds_mm(patch: Patch) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return from where to where that region reaches: behind the shoulder mark, and from the midline [mm]."""
    middles, radii = np.array(_middles(patch)), np.array(_radii(patch))
    low, high = middles - radii[:, None], middles + radii[:, None]
    (s_low, over_low), (s_high, over_high) = low.min(axis=0), high.max(axis=0)
    return (float(s_low), float(s_high)), (float(over_low), float(over_high))


def _middles(patch: Patch) -> list[tuple[float, float]]:
    return [(patch.s_mm, patch.from_midline_mm), *patch.middles_mm]


def _radii(patch: Patch) -> list[float]:
    return [OWN_SD * patch.place_sd_mm, *(CELL_MM for _ in patch.middles_mm)]
