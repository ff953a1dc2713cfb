"""The sheet as it would look flat under an even light, and what is dark on it."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray

Picture = NDArray[np.uint8]
Darkness = NDArray[np.float32]
Box = tuple[float, float, float, float]

MOST_DOTS_PER_MM = 4.0
LINE_MM = 5.0
"""What is wider than this is no pen's line."""
EDGE_PX = 6.0
"""So near to the photo's edge nothing is read."""
_NET_MM = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatSheet:
    """A part of the sheet laid flat, in dots."""

    colours: Picture
    """(h, w, 3) uint8, red, green, blue; upper row first."""
    box: Box
    """Left, low, right, top, sheet's frame [mm]."""
    dots_per_mm: float
    inside: NDArray[np.bool_]
    """(h, w) bool: whether the photo shows this dot, and not at its very edge."""

    def dots(self, places: FloatArray) -> FloatArray:
        """Return where places (n, 2) float, sheet's frame [mm], lie in dots, (n, 2) float: column, row."""
        left, _, _, top = self.box
        return np.asarray((places - (left, top)) * (self.dots_per_mm, -self.dots_per_mm) - 0.5, dtype=float)

    def places(self, dots: FloatArray) -> FloatArray:
        """Return the places of dots (n, 2) float: column, row; (n, 2) float, sheet's frame [mm]."""
        left, _, _, top = self.box
        return np.asarray((dots + 0.5) / (self.dots_per_mm, -self.dots_per_mm) + (left, top), dtype=float)


def flatten(
    photo: Picture, to_photo: Callable[[FloatArray], FloatArray], box: Box, dots_per_mm: float
) -> FlatSheet:
    """Lay a part of the sheet flat.

    Parameters
    ----------
    photo : (h, w, 3) uint8
    to_photo : takes places (n, 2) float, sheet's frame [mm], to the photo (n, 2) float [px]
    box : the part: left, low, right, top [mm]
    dots_per_mm : how finely
    """
    import cv2  # noqa: PLC0415 - slow to load

    left, low, right, top = box
    columns, rows = round((right - left) * dots_per_mm), round((top - low) * dots_per_mm)
    # The camera is smooth: it is asked on a net, and is a plane between the net's places.
    n_x, n_y = max(2, round((right - left) / _NET_MM) + 1), max(2, round((top - low) / _NET_MM) + 1)
    net_x, net_y = np.meshgrid(np.linspace(left, right, n_x), np.linspace(top, low, n_y))
    at = to_photo(np.column_stack([net_x.ravel(), net_y.ravel()])).astype(np.float32)
    grid_x, grid_y = np.meshgrid(
        ((np.arange(columns, dtype=np.float32) + 0.5) / columns) * (n_x - 1),
        ((np.arange(rows, dtype=np.float32) + 0.5) / rows) * (n_y - 1),
    )
    maps = [
        cv2.remap(
            at[:, k].reshape(n_y, n_x), grid_x, grid_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        for k in (0, 1)
    ]
    colours = cv2.remap(photo, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    high, wide = photo.shape[:2]
    inside = (
        (maps[0] > EDGE_PX) & (maps[0] < wide - EDGE_PX) & (maps[1] > EDGE_PX) & (maps[1] < high - EDGE_PX)
    )
    return FlatSheet(
        colours=np.asarray(colours, dtype=np.uint8), box=box, dots_per_mm=dots_per_mm, inside=inside
    )


def darkness(flat: FlatSheet) -> Darkness:
    """Return how dark each dot is against the paper about it, (h, w) float32 from 0 to 1.

    The brightest of the three colours counts, so that a light print in one colour is no line, and a pen in
    any
    dark colour is. What is wide (a shadow, a hand) is taken as the paper's own brightness.
    """
    import cv2  # noqa: PLC0415 - slow to load

    bright = flat.colours.max(axis=2)
    reach = 2 * round(0.5 * LINE_MM * flat.dots_per_mm) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    soft = cv2.GaussianBlur(bright, (0, 0), 0.6)
    around = cv2.morphologyEx(soft, cv2.MORPH_CLOSE, kernel)
    around = cv2.GaussianBlur(around, (0, 0), 0.25 * reach).astype(np.float32)
    dark = np.clip(1.0 - bright / np.maximum(around, 12.0), 0.0, 1.0)
    return np.where(flat.inside, dark, 0.0).astype(np.float32)
