"""From the markers seen in a photo: the camera, the paper's bend, and how sure a place on the paper is."""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import Marker, SheetLayout, layout_of_marker
from saddlebench.exchange.tracings.camera import PaperCamera
from saddlebench.exchange.tracings.sheet_read import MARKS

FEWEST_MARKERS = 4
CORNER_SD_PX = 0.3
"""What a corner's place is worth at best; the fit itself says when it is worse."""
MOST_PLACE_SD_MM = 1.0
MOST_MISFIT_MM = 1.2
MOST_CURL = 3.0
"""Curvature beyond which the bend's series is not trusted [1/m]."""
MOST_STEP_MM = 8.0
"""A tile glued further off than this is glued wrongly."""
_USUAL_FOCAL = 0.8
_START_CURLS = ((0.0, 0.0), (0.6, 0.0), (-0.6, 0.0), (0.6, 90.0), (-0.6, 90.0), (0.6, 45.0), (0.6, 135.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenMarkers:
    """Markers of one sheet as found in a photo."""

    layout: SheetLayout
    markers: tuple[Marker, ...]
    places: FloatArray
    """(n, 4, 2) float, sheet's frame [mm]: four places of each marker as printed."""
    corners: FloatArray
    """(n, 4, 2) float, photo [px]: where they lie."""

    @property
    def tiles(self) -> FloatArray:
        """The tile of each marker, (n,) float."""
        return np.array([float(marker.tile) for marker in self.markers])


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoSheet:
    """A sheet in a photo: the camera, and how the tiles lie beside each other."""

    layout: SheetLayout
    camera: PaperCamera
    tile_moves: FloatArray
    """(tiles, 3) float: how each tile was glued aside from its place: x, y [mm], turn [rad]."""
    misfit_mm: float
    """Root mean square of the markers' corners from where they should be [mm]."""
    covariance: FloatArray
    """(p, p) float, of everything that was fitted."""
    fitted: FloatArray
    """(p,) float."""
    n_markers: int

    def to_photo(self, tile: int, places: FloatArray) -> FloatArray:
        """Return where places (n, 2) float [mm] of a tile lie as it is glued, (n, 2) float, photo [px]."""
        x, y, turn = self.tile_moves[tile].tolist()
        return self.camera.to_photo(glued(places, _pivot(self.layout, tile), (x, y, turn)))

    def place_sd_mm(self, places: FloatArray) -> FloatArray:
        """Return how sure places of the sheet are, by how sure the camera and the bend are.

        Parameters
        ----------
        places : (n, 2) float, sheet's frame [mm]

        Returns
        -------
        (n,) float: standard deviation [mm]
        """
        base = self.camera
        at = base.to_photo(places)
        step = 0.5
        d_x = (base.to_photo(places + np.array([step, 0.0])) - at) / step
        d_y = (base.to_photo(places + np.array([0.0, step])) - at) / step
        to_mm = np.linalg.inv(np.stack([d_x, d_y], axis=2))
        moved = []
        for k in range(_N_CAMERA):
            nudged = self.fitted.copy()
            delta = 1e-4 * _SCALES[k]
            nudged[k] += delta
            shifted = _camera(nudged, base.size_px, base.middle_mm).to_photo(places)
            moved.append(np.einsum("nij,nj->ni", to_mm, (shifted - at) / delta))
        jacobian = np.stack(moved, axis=2)
        camera_part = self.covariance[:_N_CAMERA, :_N_CAMERA]
        variance = np.einsum("nik,kl,nil->n", jacobian, camera_part, jacobian)
        return np.sqrt(np.maximum(variance, 0.0))


def find_markers(grey: np.ndarray[Any, np.dtype[np.uint8]]) -> SeenMarkers:
    """Find the markers of one sheet.

    Parameters
    ----------
    grey : (h, w) uint8

    Raises
    ------
    InputProblemsError
        If there are too few of one sheet to measure by.
    """
    import cv2  # noqa: PLC0415 - slow to load

    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.cornerRefinementWinSize = 5
    settings.relativeCornerRefinmentWinSize = 0.25
    settings.adaptiveThreshWinSizeMax = 43
    settings.minMarkerPerimeterRate = 0.015
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    found, numbers, _ = cv2.aruco.ArucoDetector(family, settings).detectMarkers(grey)
    marked = [] if numbers is None else [int(n) for n in np.asarray(numbers).ravel()]
    layouts = [layout_of_marker(n) for n in marked]
    votes = Counter(id(one) for one in layouts if one is not None)
    best = votes.most_common(1)[0][0] if votes else None
    layout = next((one for one in layouts if one is not None and id(one) == best), None)
    n_seen = 0 if best is None else votes[best]
    if layout is None or n_seen < FEWEST_MARKERS:
        what = f"only {n_seen} of the sheet’s square marks can be read"
        if not n_seen:
            what = "none of the sheet’s square marks can be read"
        raise input_problem(
            what,
            "Take it again with the whole sheet in the picture, sharp and evenly lit, "
            "or mark the corners by hand.",
            Where(field=MARKS),
        )
    known = {one.number: one for one in layout.markers}
    counts = Counter(marked)
    used = [
        (known[n], np.asarray(corner, dtype=float).reshape(4, 2))
        for n, corner in zip(marked, found, strict=True)
        if n in known and counts[n] == 1
    ]
    if len(used) < FEWEST_MARKERS:
        raise input_problem("two sheets lie in the picture", "Take one sheet at a time.")
    return SeenMarkers(
        layout=layout,
        markers=tuple(marker for marker, _ in used),
        places=np.stack([marker.corners for marker, _ in used]),
        corners=np.stack([corner for _, corner in used]),
    )


# Fitted, in this order: log focal, radial, turn (3), shift (3), curl, its change, its direction; then
# each tile's three moves but the first's.
_N_CAMERA = 11
_SCALES = np.array([0.1, 0.05, 0.05, 0.05, 0.05, 30.0, 30.0, 60.0, 0.3, 0.5, 20.0])
_PRIOR_SD = np.array([0.5, 0.1, np.inf, np.inf, np.inf, np.inf, np.inf, np.inf, 1.5, 3.0, 180.0])


def _camera(fitted: FloatArray, size: tuple[int, int], middle: tuple[float, float]) -> PaperCamera:
    return PaperCamera(
        size_px=size,
        middle_mm=middle,
        focal=_USUAL_FOCAL * float(np.exp(np.clip(fitted[0], -2.0, 2.0))),
        radial=float(fitted[1]),
        turn=(float(fitted[2]), float(fitted[3]), float(fitted[4])),
        shift=(float(fitted[5]), float(fitted[6]), float(fitted[7])),
        curl=float(fitted[8]),
        curl_change=float(fitted[9]),
        curl_deg=float(fitted[10]),
    )


def _moved(seen: SeenMarkers, fitted: FloatArray, tiles: FloatArray) -> FloatArray:
    """Return the corners' places as glued, (4n, 2) float, sheet's frame [mm]."""
    places = seen.places.copy()
    for k, tile in enumerate(tiles[1:]):
        x, y, turn = fitted[_N_CAMERA + 3 * k : _N_CAMERA + 3 * k + 3]
        mine = seen.tiles == tile
        pivot = _pivot(seen.layout, int(tile))
        places[mine] = glued(places[mine].reshape(-1, 2), pivot, (x, y, turn)).reshape(-1, 4, 2)
    return places.reshape(-1, 2)


def _pivot(layout: SheetLayout, tile: int) -> tuple[float, float]:
    return layout.tile_left_mm(tile), 0.5 * (layout.top_mm + layout.low_mm)


def glued(places: FloatArray, pivot: tuple[float, float], moves: tuple[float, float, float]) -> FloatArray:
    """Return places of a tile, (n, 2) float, sheet's frame [mm], where it was glued."""
    x, y, turn = moves
    about = places - np.array(pivot)
    turned = np.column_stack([about[:, 0] - turn * about[:, 1], about[:, 1] + turn * about[:, 0]])
    return np.asarray(turned + np.array(pivot) + (x, y), dtype=float)


def calibrate(seen: SeenMarkers, size_px: tuple[int, int]) -> PhotoSheet:
    """Fit the camera, the bend and the glued tiles to the markers' corners.

    Parameters
    ----------
    size_px : width and height of the photo

    Raises
    ------
    InputProblemsError
        If the paper does not lie as any such sheet could.
    """
    layout = seen.layout
    middle = (0.5 * (layout.left_mm + layout.right_mm), 0.5 * (layout.low_mm + layout.top_mm))
    tiles = np.unique(seen.tiles)
    target = seen.corners.reshape(-1, 2)
    n_tile_moves = 3 * (len(tiles) - 1)
    scales = np.concatenate([_SCALES, np.tile([1.0, 1.0, 0.005], len(tiles) - 1)])
    prior_sd = np.concatenate([_PRIOR_SD, np.tile([2.0, 2.0, 0.01], len(tiles) - 1)])
    prior_at = np.flatnonzero(np.isfinite(prior_sd))

    def model(fitted: FloatArray) -> FloatArray:
        return _camera(fitted, size_px, middle).to_photo(_moved(seen, fitted, tiles))

    def misses(fitted: FloatArray) -> FloatArray:
        off = (model(fitted) - target).ravel() / CORNER_SD_PX
        return np.concatenate([off, fitted[prior_at] / prior_sd[prior_at]])

    begin = np.concatenate([_start(seen, size_px, middle), np.zeros(n_tile_moves)])
    flat_free = np.ones(len(begin), dtype=bool)
    flat_free[8:11] = False

    def flat_misses(some: FloatArray) -> FloatArray:
        whole = begin.copy()
        whole[flat_free] = some
        return misses(whole)

    flat = least_squares(
        flat_misses, begin[flat_free], x_scale=scales[flat_free], loss="soft_l1", f_scale=3.0, max_nfev=60
    )
    best = None
    for curl, direction in _START_CURLS:
        start = begin.copy()
        start[flat_free] = flat.x
        start[8], start[10] = curl, direction
        tried = least_squares(
            misses, start, x_scale=scales, loss="soft_l1", f_scale=3.0, max_nfev=40 if best is None else 25
        )
        if best is None or tried.cost < best.cost:
            best = tried
        if best.cost < 1.5 * len(target):
            break
    assert best is not None  # noqa: S101 - the loop above ran
    best = least_squares(misses, best.x, x_scale=scales, loss="soft_l1", f_scale=3.0, max_nfev=60)
    return _judged(seen, best, size_px, middle, tiles)


def _start(seen: SeenMarkers, size: tuple[int, int], middle: tuple[float, float]) -> FloatArray:
    """Return the camera of a flat sheet and a usual lens, (11,) float."""
    import cv2  # noqa: PLC0415 - slow to load

    places = (seen.places.reshape(-1, 2) - np.array(middle)) * (1.0, -1.0)
    solid = np.column_stack([places, np.zeros(len(places))])
    focal = _USUAL_FOCAL * max(size)
    inner = np.array([[focal, 0.0, 0.5 * (size[0] - 1)], [0.0, focal, 0.5 * (size[1] - 1)], [0.0, 0.0, 1.0]])
    done, turn, shift = cv2.solvePnP(solid, seen.corners.reshape(-1, 2), inner, None, flags=cv2.SOLVEPNP_IPPE)
    if not done:
        raise input_problem("the sheet’s marks do not fit together", "Take it again with the sheet flat.")
    return np.concatenate([[0.0, 0.0], turn.ravel(), shift.ravel(), [0.0, 0.0, 0.0]])


def _judged(
    seen: SeenMarkers, best: Any, size: tuple[int, int], middle: tuple[float, float], tiles: FloatArray
) -> PhotoSheet:
    camera = _camera(best.x, size, middle)
    places = _moved(seen, best.x, tiles)
    at = camera.to_photo(places)
    off = at - seen.corners.reshape(-1, 2)
    px_per_mm = _px_per_mm(camera, places)
    misfit_mm = float(np.sqrt((((off**2).sum(axis=1)) / px_per_mm**2).mean()))
    freedom = max(off.size - len(best.x), 1)
    variance = max(1.0, float((off**2).sum()) / CORNER_SD_PX**2 / freedom)
    covariance = variance * np.linalg.pinv(best.jac.T @ best.jac, hermitian=True)
    moves = np.zeros((seen.layout.tiles, 3))
    for k, tile in enumerate(tiles[1:]):
        moves[int(tile)] = best.x[_N_CAMERA + 3 * k : _N_CAMERA + 3 * k + 3]
    if misfit_mm > MOST_MISFIT_MM or abs(camera.curl) > MOST_CURL:
        what = f"the paper is crumpled or curled: its marks are {misfit_mm:.1f} mm from where they should be"
        raise input_problem(
            what,
            "Press it flat under glass or weights, and take the picture again; give it as the camera took "
            "it, not cut.",
        )
    if np.abs(moves[:, :2]).max(initial=0.0) > MOST_STEP_MM:
        raise input_problem(
            "the papers are glued far from their lines", "Glue them line on line, and trace again."
        )
    return PhotoSheet(
        layout=seen.layout,
        camera=camera,
        tile_moves=moves,
        misfit_mm=misfit_mm,
        covariance=covariance,
        fitted=np.asarray(best.x, dtype=float),
        n_markers=len(seen.places),
    )


def refuse_unsure(sheet: PhotoSheet) -> None:
    """Refuse a sheet whose markers do not fix every place on it well enough.

    Raises
    ------
    InputProblemsError
        If so.
    """
    left, low, right, high = sheet.layout.area
    grid = np.stack(np.meshgrid(np.linspace(left, right, 9), np.linspace(low, high, 5)), axis=2)
    worst = float(sheet.place_sd_mm(grid.reshape(-1, 2)).max())
    if worst > MOST_PLACE_SD_MM:
        what = f"the marks that can be read leave places on the sheet unsure by {worst:.1f} mm"
        raise input_problem(
            what,
            "Take it again with all square marks in the picture, uncovered.",
        )


def _px_per_mm(camera: PaperCamera, places: FloatArray) -> FloatArray:
    """Return how many dots a mm has about places (n, 2) float, sheet's frame [mm]; (n,) float [px/mm]."""
    at = camera.to_photo(places)
    across = np.linalg.norm(camera.to_photo(places + np.array([1.0, 0.0])) - at, axis=1)
    down = np.linalg.norm(camera.to_photo(places + np.array([0.0, 1.0])) - at, axis=1)
    return np.sqrt(np.maximum(across * down, 1e-6))
