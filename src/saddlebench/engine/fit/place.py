"""Where a saddle is put, and where its straps would rather have it."""

import numpy as np

from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.fit.settings import Placing
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel

POINT_BEHIND_SHOULDER_MM = 30.0
"""The tree points are put behind the shoulder blade's rear edge (common practice: ≥ 20 mm is fine)."""


def usual_place(landmarks: Landmarks, saddle: SaddleModel) -> Placing:
    """Return where a fitter would put the saddle: tree points a little behind the shoulder edge.

    Without tree points (bars) the front edge lies at the shoulder edge: flared tips may overlap it. The edge
    further back counts; where it was not marked, the shoulder mark itself.
    """
    edges = [mark.value_mm for mark in (landmarks.shoulder_left, landmarks.shoulder_right) if is_known(mark)]
    edge = max(edges) if edges else 0.0
    if saddle.points is None:
        return Placing(origin_s_mm=edge)
    ahead = max(float(point.end_saddle[0]) for point in saddle.points)
    return Placing(origin_s_mm=edge + POINT_BEHIND_SHOULDER_MM + ahead)


def strap_offset_mm(anchors: FloatArray, pose: FloatArray, landmarks: Landmarks) -> float | NotMeasured:
    """Return how far the straps hang behind the girth groove.

    Parameters
    ----------
    anchors : (2k, 3) float, saddle axes about the reference [mm]
    pose : (12,) float, rotation by rows, then the reference's place in the back frame [mm]
    landmarks : for the girth groove

    Returns
    -------
    float | NotMeasured
        Positive behind the groove [mm].
    """
    groove = landmarks.girth_groove
    if not is_known(groove):
        return NotMeasured("the girth groove is not marked")
    if anchors.shape[0] == 0:
        return NotMeasured("the saddle's straps are not recorded")
    strap_x = float(np.mean(anchors @ pose[:3])) + float(pose[9])
    return -strap_x - groove.value_mm
