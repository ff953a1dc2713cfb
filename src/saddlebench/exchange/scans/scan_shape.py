"""A scan for the 3-D view: its skin as triangles and the rest as points, in mm of a horse of 1.60 m.

The view's axes are the trunk's: x to the head, y to the near side, z up. Places on it are told in
them, and come back in the scan's own axes and unit.
"""

import numpy as np
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.packed_arrays import pack_arrays
from saddlebench.exchange.scans.look import LookedAt

_MOST_POINTS = 12_000
_BESIDE_MM = 25.0


def scan_shape(looked: LookedAt) -> bytes:
    """Return the scan's skin and the points beside it, packed for the pages' script."""
    skin = to_view(looked, looked.skin.vertices)
    others = to_view(looked, looked.outline)
    if len(skin):
        apart, _ = cKDTree(skin).query(others, distance_upper_bound=_BESIDE_MM)
        others = others[~np.isfinite(apart)]
    others = others[:: 1 + len(others) // _MOST_POINTS]
    arrays = {
        "skin.position": skin.astype("<f4"),
        "skin.index": looked.skin.faces.astype("<u4"),
        "others.position": others.astype("<f4"),
    }
    return pack_arrays(arrays, title=looked.name)


def to_view(looked: LookedAt, points: FloatArray) -> FloatArray:
    """Return points (n, 3), instrument frame, the scan's unit, in the view's axes (n, 3) [mm at 1.60 m]."""
    return looked.placed(points) * looked.mm_per_unit


def from_view(looked: LookedAt, point: FloatArray) -> FloatArray:
    """Return a place (3,) in the view's axes [mm at 1.60 m] in the instrument frame, the scan's unit."""
    return (point / looked.mm_per_unit - looked.shift) @ looked.to_trunk
