"""Markers found again where the first fit says they are: also the blurred and the far ones, and more finely.

Each quarter of a marker is laid flat and compared with how it is printed (normalised cross-correlation; Lewis
1995, *Fast normalized cross-correlation*; memory); the best place, between dots by a parabola, says
where it lies.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.drawn import marker_modules
from saddlebench.exchange.sheets.layout import MARKER_MM, MODULES, Marker
from saddlebench.exchange.tracings.calibrate import PhotoSheet, SeenMarkers

DOTS_PER_MM = 4.0
WHITE_MM = 1.5
"""Of the paper about a marker that is looked at with it; nothing is printed there."""
SEARCH_MM = 2.5
ALIKE = 0.75
"""Least correlation of a quarter that is taken for the one that is looked for."""
_INSIDE_PX = 3.0
_HALF = 0.5 * MARKER_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    marker: Marker
    places: FloatArray
    """(4, 2) float, sheet's frame [mm]: middles of the quarters as printed."""
    corners: FloatArray
    """(4, 2) float, photo [px]: where they lie."""


def find_again(grey: NDArray[np.uint8], seen: SeenMarkers, sheet: PhotoSheet) -> SeenMarkers:
    """Return the markers by their quarters; one that is not found so stays as it was seen, if it was.

    Parameters
    ----------
    grey : (h, w) uint8
    seen : as they were seen at first
    sheet : the fit to these
    """
    before = {id(place): k for k, place in enumerate(seen.markers)}
    found = []
    for marker in seen.layout.markers:
        again = _quarters(grey, sheet, marker)
        at = before.get(id(marker))
        if again is not None:
            found.append(again)
        elif at is not None:
            found.append(_Found(marker=marker, places=seen.places[at], corners=seen.corners[at]))
    return SeenMarkers(
        layout=seen.layout,
        markers=tuple(one.marker for one in found),
        places=np.stack([one.places for one in found]),
        corners=np.stack([one.corners for one in found]),
    )


def _quarters(grey: NDArray[np.uint8], sheet: PhotoSheet, marker: Marker) -> _Found | None:
    import cv2  # noqa: PLC0415 - slow to load

    upper_left = marker.corners[0]
    margin = WHITE_MM + SEARCH_MM
    side = round((MARKER_MM + 2 * margin) * DOTS_PER_MM)
    steps = (np.arange(side) + 0.5) / DOTS_PER_MM - margin
    right, down = np.meshgrid(steps, steps)
    places = upper_left + np.stack([right, -down], axis=2).reshape(-1, 2)
    at = sheet.to_photo(marker.tile, places)
    high, wide = grey.shape
    if at.min() < _INSIDE_PX or (at.max(axis=0) > np.array([wide, high]) - _INSIDE_PX).any():
        return None
    maps = at.reshape(side, side, 2).astype(np.float32)
    patch = cv2.remap(
        grey, np.ascontiguousarray(maps[..., 0]), np.ascontiguousarray(maps[..., 1]), cv2.INTER_LINEAR
    )
    printed = _printed(marker.number)
    middles, moves = [], []
    quarter = round((_HALF + WHITE_MM) * DOTS_PER_MM)
    for lower, righter in ((0, 0), (0, 1), (1, 1), (1, 0)):
        first_row, first_column = (len(printed) - quarter) * lower, (len(printed) - quarter) * righter
        wanted = printed[first_row : first_row + quarter, first_column : first_column + quarter]
        reach = round(2 * SEARCH_MM * DOTS_PER_MM)
        looked = patch[first_row : first_row + quarter + reach, first_column : first_column + quarter + reach]
        move = _best(cv2.matchTemplate(looked, wanted, cv2.TM_CCOEFF_NORMED))
        if move is None:
            return None
        middles.append(upper_left + (0.25 + 0.5 * righter, -0.25 - 0.5 * lower) * np.array(MARKER_MM))
        moves.append(move)
    where = np.array(middles)
    return _Found(marker=marker, places=where, corners=sheet.to_photo(marker.tile, where + np.array(moves)))


def _printed(number: int) -> NDArray[np.uint8]:
    """Return a marker with the white about it as it is printed, a little soft, (n, n) uint8."""
    import cv2  # noqa: PLC0415 - slow to load

    size = round(MARKER_MM / MODULES * DOTS_PER_MM)
    white = round(WHITE_MM * DOTS_PER_MM)
    ink = np.kron(marker_modules(number).astype(np.uint8), np.ones((size, size), np.uint8))
    return np.asarray(
        cv2.GaussianBlur(
            np.pad(np.where(ink > 0, 25, 245).astype(np.uint8), white, constant_values=245), (0, 0), 1.5
        )
    )


def _best(alike: Any) -> tuple[float, float] | None:
    """Return how far the best place lies right and up of where it was looked for [mm]; None: not clear."""
    row, column = np.unravel_index(int(alike.argmax()), alike.shape)
    inside = 0 < row < alike.shape[0] - 1 and 0 < column < alike.shape[1] - 1
    if alike[row, column] < ALIKE or not inside:
        return None
    fine_row = row + _vertex(*alike[row - 1 : row + 2, column].tolist())
    fine_column = column + _vertex(*alike[row, column - 1 : column + 2].tolist())
    middle = SEARCH_MM * DOTS_PER_MM
    return (fine_column - middle) / DOTS_PER_MM, -(fine_row - middle) / DOTS_PER_MM


def _vertex(before: float, here: float, after: float) -> float:
    bow = before - 2.0 * here + after
    return 0.0 if bow > -1e-9 else 0.5 * (before - after) / bow
