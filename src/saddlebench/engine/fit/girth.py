"""The girth: strap anchors, where each side meets the barrel, and its free length."""

from math import pi

import numpy as np

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.fit._kernels.parts import Girth
from saddlebench.engine.fit.settings import GirthElastic
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel

SHORTEST_FREE_MM = 80.0
"""A strap that lies on the barrel from the start is taken as free for this length."""
SAMPLES = 48


def strap_anchors(saddle: SaddleModel, reference_saddle: FloatArray) -> FloatArray:
    """Return (2k, 3) float, saddle axes about the reference [mm]: left, right of each strap pair."""
    held = [end for pair in saddle.straps for end in (pair.left_saddle, pair.right_saddle)]
    return np.array(held, dtype=float).reshape(-1, 3) - reference_saddle


def wrap_points(
    spline: PolarSpline, anchors_back: FloatArray, groove: Mark | NotMeasured, elastic: GirthElastic
) -> FloatArray:
    """Return where each strap comes to lie on the barrel.

    In the strap's cross-section it leaves its anchor as the tangent to the barrel. Along the back it leans to
    the girth groove as a straight line on the unrolled barrel, whose length is `half_length_mm`.

    Parameters
    ----------
    spline : the back
    anchors_back : (m, 3) float, back frame [mm]
    groove : the girth groove; without it the straps hang straight down
    elastic : the girth

    Returns
    -------
    (m, 3) float, back frame [mm]
    """
    grid = spline.grid
    s, phi, radius = grid.polar(anchors_back)
    sign = np.where(phi >= 0.0, 1.0, -1.0)
    ends = np.minimum(grid.phi0 + grid.dphi * (grid.n_phi - 1), -grid.phi0)
    far = np.maximum(np.minimum(ends, 0.75 * pi), np.abs(phi) + 0.1)
    part = np.linspace(0.0, 1.0, SAMPLES)
    angles = sign[:, None] * (np.abs(phi)[:, None] + (far - np.abs(phi))[:, None] * part)
    at = np.repeat(np.clip(s, grid.s0_mm, grid.s0_mm + grid.ds_mm * (grid.n_s - 1)), SAMPLES)
    barrel = spline.radius(at, np.clip(angles.ravel(), grid.phi0, ends))[:, 0].reshape(angles.shape)
    out = sign[:, None] * (barrel * np.sin(angles) - (radius * np.sin(phi))[:, None])
    down = (radius * np.cos(phi))[:, None] - barrel * np.cos(angles)
    free = np.hypot(out, down)
    # the tangent is the outermost direction seen from the anchor
    lean = np.where(free >= SHORTEST_FREE_MM, np.arctan2(out, down), -np.inf)
    touch = np.argmax(lean, axis=1)
    rows = np.arange(touch.size)
    y = barrel[rows, touch] * np.sin(angles[rows, touch])
    z = barrel[rows, touch] * np.cos(angles[rows, touch]) + grid.axis_z_mm
    run = free[rows, touch] / max(elastic.half_length_mm, SHORTEST_FREE_MM)
    lowest = np.full_like(s, groove.value_mm) if is_known(groove) else s
    return np.stack([-(s + (lowest - s) * np.minimum(run, 1.0)), y, z], axis=1)


def girth_between(
    anchors: FloatArray, wraps: FloatArray, *, tension_n: float, stiffness_n_mm: float, length_mm: float
) -> Girth:
    """Return the girth for the kernels; no straps, or no tension and no stiffness, is no girth."""
    pairs = max(anchors.shape[0] // 2, 1)
    return Girth(
        anchors=np.ascontiguousarray(anchors),
        wraps=np.ascontiguousarray(wraps),
        share=1.0 / pairs,
        tension=float(tension_n),
        stiffness=float(stiffness_n_mm),
        length=float(length_mm),
    )


NO_GIRTH = Girth(
    anchors=np.zeros((0, 3)), wraps=np.zeros((0, 3)), share=1.0, tension=0.0, stiffness=0.0, length=0.0
)
