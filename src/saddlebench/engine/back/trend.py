"""What every back is like before it is measured: a smooth mean, and hips and flanks behind its ribs.

Between the last ribs and the points of the hips a back's sides turn within a hand's breadth, three times as
fast as the trunk does under a saddle; its midline does not. A field of that length, which begins with the
loin and fades out towards the midline, is part of the trend: through its principal components (Karhunen and
Loève), so that whatever is computed of the trend's departures holds it.

References
----------
Rasmussen & Williams, Gaussian Processes for Machine Learning (2006): section 2.7 (explicit mean functions),
4.2.4 (a product and a weighting of covariance functions are covariance functions).
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.correlation import matern
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.frames import FloatArray

MEAN_RIDGE = 0.12
"""Angle [rad] over which the mean's ridge on the midline is rounded."""
HIPS_LENGTH_MM, HIPS_LENGTH_PHI = 70.0, 0.4
"""Over which the sides behind the ribs go together, along and across [rad]."""
HIPS_BLEND_MM = 30.0
"""How softly they begin where the loin does."""
HIPS_BESIDE, HIPS_FADE = np.deg2rad(20.0), np.deg2rad(8.0)
"""Where they begin beside the midline, and how softly [rad].

Assumptions, chosen on five meshes of three real horses: docs/decisions/0770-sides-turn-faster-behind.md.
"""
_LEAST = 0.025
"""A component that nowhere departs by more than this share is left out [1]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """The smooth mean that every back has, and how far backs depart from it."""

    mean_mm: FloatArray
    """(n_s, n_phi) float, its expected value at the nodes [mm]."""
    departures: FloatArray
    """(p, n_s, n_phi) float, one deviation of each independent departure [mm]: the terms, the hips."""


TREND_TERMS = (
    (0, "one", 230.0, 40.0),
    (0, "ridge", -145.0, 60.0),
    (0, "square", 84.0, 30.0),
    (0, "lean", 0.0, 15.0),
    (1, "one", -37.0, 50.0),
    (1, "ridge", 17.0, 30.0),
    (1, "square", -4.0, 15.0),
    (2, "one", 18.0, 30.0),
)
"""Power of s/300 mm, function of φ, mean and deviation of each term's coefficient [mm].

Assumptions: least-squares fits of the demo's invented backs from 1.15 to 1.75 m about an axis 200 mm deep,
their spread taken three to four times.
"""


def trend_of(grid: PolarGrid, loin_mm: float, hips_mm: float) -> Trend:
    """Return the trend at a grid's nodes: a rounded ridge and a parabola across, curving along the back.

    Behind `loin_mm`, where the loin begins [mm behind the shoulder mark], flanks and hips depart further,
    with a deviation of `hips_mm`. The terms' departures come first, one each.
    """
    phi = grid.phi
    across = {
        "one": np.ones_like(phi),
        "ridge": np.sqrt(phi**2 + MEAN_RIDGE**2),
        "square": phi**2,
        "lean": phi,
    }
    terms = np.stack(
        [np.outer((grid.s_mm / 300.0) ** power, across[name]) for power, name, _, _ in TREND_TERMS]
    )
    mean = np.array([term[2] for term in TREND_TERMS])
    sd = np.array([term[3] for term in TREND_TERMS])
    return Trend(
        mean_mm=np.tensordot(mean, terms, axes=1),
        departures=np.concatenate([sd[:, None, None] * terms, hips_mm * hips(grid, loin_mm)]),
    )


def hips(grid: PolarGrid, loin_mm: float) -> FloatArray:
    """Return the ways in which sides behind the ribs depart by 1 mm, (p, n_s, n_phi) [1]."""
    behind = 0.5 * (1.0 + np.tanh((grid.s_mm - loin_mm) / HIPS_BLEND_MM))
    beside = 0.5 * (1.0 + np.tanh((np.abs(grid.phi) - HIPS_BESIDE) / HIPS_FADE))
    along = _components(behind, matern(np.abs(grid.s_mm[:, None] - grid.s_mm), HIPS_LENGTH_MM))
    across = _components(beside, matern(np.abs(grid.phi[:, None] - grid.phi), HIPS_LENGTH_PHI))
    most = np.outer(np.abs(along).max(axis=1), np.abs(across).max(axis=1))
    i, j = np.nonzero(most > _LEAST)
    return np.asarray(along[i, :, None] * across[j, None, :])


def _components(weight: FloatArray, correlation: FloatArray) -> FloatArray:
    """Return the principal components (m, n) of a weighted field, each times its standard deviation."""
    values, vectors = np.linalg.eigh(weight[:, None] * correlation * weight)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))).T)
