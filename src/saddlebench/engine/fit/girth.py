"""The girth: strap anchors, where each side meets the barrel, and its free length."""

import numpy as np

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.fit._kernels.barrel import tangent_points
from saddlebench.engine.fit._kernels.parts import Back, Girth
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
    back: Back, anchors_back: FloatArray, groove: Mark | NotMeasured, elastic: GirthElastic
) -> FloatArray:
    """Return where each strap comes to lie on the barrel.

    In the strap's cross-section it leaves its anchor as the tangent to the barrel. Along the back it leans to
    the girth groove as a straight line on the unrolled barrel, whose length is `half_length_mm`.

    Parameters
    ----------
    back : the back, for the kernels
    anchors_back : (m, 3) float, back frame [mm]
    groove : the girth groove; without it the straps hang straight down
    elastic : the girth

    Returns
    -------
    (m, 3) float, back frame [mm]
    """
    wraps = np.zeros(anchors_back.shape)
    free = np.zeros(anchors_back.shape[0])
    tangent_points(back, anchors_back, SAMPLES, SHORTEST_FREE_MM, wraps, free)
    if is_known(groove):
        run = np.minimum(free / max(elastic.half_length_mm, SHORTEST_FREE_MM), 1.0)
        wraps[:, 0] += (-groove.value_mm - wraps[:, 0]) * run
    return wraps


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
