"""A plain paper without marks, placed by its four corners as a person marked them.

Its size is given, or told by a length that is known in the picture: then its proportions come from how the
corners converge, as a camera of a usual lens sees a rectangle.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.camera import PaperCamera
from saddlebench.exchange.tracings.flatten import Box
from saddlebench.exchange.tracings.paper_edge import PrintedScale
from saddlebench.exchange.tracings.sheet_read import Frame, KnownLength

EDGE_MM = 6.0
"""So near to the paper's edge nothing is read."""
SIDES_MM = (20.0, 3000.0)
SIZE_SD = 0.003
"""Relative, of a paper whose size is given: how it is cut, and what a lens does to it (judgement)."""
LENGTH_SD_MM = 1.0
"""Of a length known in the picture (judgement)."""
MOST_PROPORTION_SD = 0.05
USUAL_FOCAL, FOCAL_SD = 0.8, 0.25
"""Focal length over the picture's longer side, and its relative standard deviation, over phones (memory)."""
_LEAST_AREA_PX = 1e4
_LEAST_LENGTH_PX = 60.0
_NOMINAL_MM = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FramedPaper:
    """A plain paper in the photo."""

    to_photo_matrix: FloatArray
    """(3, 3) float: homography from the sheet's frame [mm] to the photo [px]."""
    corners: FloatArray
    """(4, 2) float, photo [px]."""
    flat: FloatArray
    """(4, 2) float, sheet's frame [mm]: the same."""
    corner_sd_px: float
    area: Box
    scale: PrintedScale

    def to_photo(self, places: FloatArray) -> FloatArray:
        """Return where places (n, 2) float, sheet's frame [mm], lie in the photo, (n, 2) float [px]."""
        return _through(self.to_photo_matrix, places)

    def place_sd(self, places: FloatArray) -> FloatArray:
        """Return how sure places (n, 2) float, sheet's frame [mm], are, (n,) float: sd [mm]."""
        at = self.to_photo(places)
        moved = []
        for k in range(4):
            for axis in (0, 1):
                nudged = self.corners.copy()
                nudged[k, axis] += 1.0
                moved.append(((_through(_homography(nudged, self.flat), at) - places) ** 2).sum(axis=1))
        # A lens bends and paper curls by what four corners cannot tell: 0.3 % of the sheet (judgement).
        unknown = 0.003 * float(np.ptp(self.flat, axis=0).max())
        return np.hypot(self.corner_sd_px * np.sqrt(np.sum(moved, axis=0)), unknown)


def framed(frame: Frame, size_px: tuple[int, int]) -> FramedPaper:
    """Place a plain paper: a homography, without lens or bend.

    Parameters
    ----------
    size_px : width and height of the photo

    Raises
    ------
    InputProblemsError
        If the corners are no rectangle seen by a camera, its size cannot be told, or what is given disagrees.
    """
    corners = np.array(frame.corners, dtype=float)
    _refuse_no_rectangle(corners)
    if frame.width_mm is not None and frame.height_mm is not None:
        width, height, sd = frame.width_mm, frame.height_mm, SIZE_SD
        source = "the paper’s size as given"
    elif frame.length is not None:
        width, height, sd = _sides_by_length(corners, frame.length, frame.corner_sd_px, size_px)
        source = "the length known in the picture"
    else:
        cure = "Give the paper’s width and height, or a length in the picture that you know."
        raise input_problem("nothing says how large the paper is", cure, Where(field="size"))
    if not all(SIDES_MM[0] <= side <= SIDES_MM[1] for side in (width, height)):
        what = f"a paper of {width:.0f} × {height:.0f} mm is not read"
        raise input_problem(
            what,
            f"Give sides from {SIDES_MM[0]:.0f} to {SIDES_MM[1]:.0f} mm.",
            Where(field="size"),
        )
    middle = 0.5 * width if frame.middle_mm is None else frame.middle_mm
    across = 0.0 if frame.kind is SheetKind.TOPLINE else middle
    left, right, low = -across, width - across, -height
    flat = np.array([(left, 0.0), (right, 0.0), (right, low), (left, low)])
    matrix = _homography(flat, corners)
    if frame.length is not None and frame.width_mm is not None:
        _refuse_other_length(frame.length, np.linalg.inv(matrix), frame.corner_sd_px)
        source = "the paper’s size as given, and a known length agrees"
    return FramedPaper(
        to_photo_matrix=matrix,
        corners=corners,
        flat=flat,
        corner_sd_px=frame.corner_sd_px,
        area=(left + EDGE_MM, low + EDGE_MM, right - EDGE_MM, -EDGE_MM),
        scale=PrintedScale(across=1.0, down=1.0, sd=sd, source=source),
    )


def _refuse_no_rectangle(corners: FloatArray) -> None:
    import cv2  # noqa: PLC0415 - slow to load

    is_there = corners.shape == (4, 2) and bool(np.isfinite(corners).all())
    whole = corners.astype(np.float32) if is_there else np.zeros((4, 2), np.float32)
    # Seen from its front, upper left first: in a picture, whose y is down, it is gone round to the right.
    area = cv2.contourArea(whole, oriented=True)
    if not (cv2.isContourConvex(np.round(whole).astype(np.int32)) and area > _LEAST_AREA_PX):
        raise input_problem(
            "the four corners make no sheet",
            "Mark upper left, upper right, lower right, lower left of the paper as you hold it.",
            Where(field="corners"),
        )


def _sides_by_length(
    corners: FloatArray, known: KnownLength, corner_sd_px: float, size_px: tuple[int, int]
) -> tuple[float, float, float]:
    """Return width and height [mm] of the paper, and their relative standard deviation."""
    proportion, proportion_sd = proportion_of(corners, corner_sd_px, size_px)
    if proportion_sd > MOST_PROPORTION_SD:
        what = f"the paper’s proportions cannot be told from its corners (± {100 * proportion_sd:.0f} %)"
        raise input_problem(what, "Give its width and height, or mark the corners anew.", Where(field="size"))
    unit = np.array([(0.0, 0.0), (proportion, 0.0), (proportion, -1.0), (0.0, -1.0)])
    ends = _ends(known)
    measured = np.linalg.norm(np.diff(_through(_homography(corners, unit), ends), axis=0))
    height = known.mm / float(measured)
    sd = float(np.hypot(_length_sd(known, corner_sd_px), proportion_sd))
    return proportion * height, height, sd


def proportion_of(corners: FloatArray, corner_sd_px: float, size_px: tuple[int, int]) -> tuple[float, float]:
    """Return width over height of a rectangle by its corners in a photo, and the relative deviation of that.

    Parameters
    ----------
    corners : (4, 2) float, photo [px], from the upper left one round
    size_px : width and height of the photo

    Notes
    -----
    Eight corners' coordinates and a usual focal length fix the focal length, where the camera stood, and the
    proportion: least squares, and the normal law about them (Hartley & Zisserman, 2nd ed., section 5.2;
    memory).
    """
    scales = np.array([FOCAL_SD, 0.2, 0.2, 0.2, 50.0, 50.0, 100.0, 0.2])

    def misses(fitted: FloatArray) -> FloatArray:
        half = 0.5 * _NOMINAL_MM * np.array([np.exp(np.clip(fitted[7], -3.0, 3.0)), 1.0])
        places = half * np.array([(-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)])
        camera = PaperCamera(
            size_px=size_px,
            middle_mm=(0.0, 0.0),
            focal=USUAL_FOCAL * float(np.exp(np.clip(fitted[0], -2.0, 2.0))),
            radial=0.0,
            turn=(float(fitted[1]), float(fitted[2]), float(fitted[3])),
            shift=(float(fitted[4]), float(fitted[5]), float(fitted[6])),
        )
        off = (camera.to_photo(places) - corners).ravel() / corner_sd_px
        return np.concatenate([off, [fitted[0] / FOCAL_SD]])

    across, down = corners[1] - corners[0], corners[3] - corners[0]
    roll = float(np.arctan2(across[1], across[0]))
    focal_px = USUAL_FOCAL * max(size_px)
    far = focal_px * _NOMINAL_MM / max(float(np.linalg.norm(down)), 1.0)
    aside = (corners.mean(axis=0) - 0.5 * np.array(size_px)) * far / focal_px
    begun = float(np.log(np.linalg.norm(across) / max(float(np.linalg.norm(down)), 1.0)))
    tries = [
        least_squares(misses, [0.0, lean, turn, roll, *aside, far, begun], x_scale=scales, max_nfev=200)
        for lean, turn in ((0.3, 0.0), (-0.3, 0.0), (0.0, 0.3), (0.0, -0.3))
    ]
    best = min(tries, key=lambda one: float(one.cost))
    covariance = np.linalg.pinv(best.jac.T @ best.jac, hermitian=True)
    # Corners that no such camera sees widen what is stated.
    widened = max(1.0, 2.0 * float(best.cost))
    return float(np.exp(best.x[7])), float(np.sqrt(covariance[7, 7] * widened))


def _refuse_other_length(known: KnownLength, to_mm: FloatArray, corner_sd_px: float) -> None:
    measured = float(np.linalg.norm(np.diff(_through(to_mm, _ends(known)), axis=0)))
    sd = float(np.hypot(_length_sd(known, corner_sd_px), 2.0 * SIZE_SD))
    if abs(measured / known.mm - 1.0) > 3.0 * sd:
        what = f"the known length of {known.mm:g} mm is {measured:.0f} mm long by the paper’s size"
        raise input_problem(
            what,
            "Look at the four corners, the paper’s size and the length again: they do not agree.",
            Where(field="length"),
        )


def _ends(known: KnownLength) -> FloatArray:
    ends = np.array([known.start, known.end], dtype=float)
    if np.linalg.norm(ends[1] - ends[0]) < _LEAST_LENGTH_PX or not SIDES_MM[0] <= known.mm <= SIDES_MM[1]:
        raise input_problem(
            "the known length is too short to measure by",
            f"Mark its two ends far apart, and give {SIDES_MM[0]:.0f} mm or more.",
            Where(field="length"),
        )
    return ends


def _length_sd(known: KnownLength, click_sd_px: float) -> float:
    long_px = float(np.linalg.norm(np.subtract(known.end, known.start)))
    return float(np.hypot(LENGTH_SD_MM / known.mm, np.sqrt(2.0) * click_sd_px / long_px))


def _homography(one: FloatArray, other: FloatArray) -> FloatArray:
    import cv2  # noqa: PLC0415 - slow to load

    matrix = cv2.getPerspectiveTransform(one.astype(np.float32), other.astype(np.float32))
    if not np.isfinite(matrix).all() or abs(np.linalg.det(matrix)) < 1e-12:
        raise input_problem("the four corners make no sheet", "Mark them anew.", Where(field="corners"))
    return np.asarray(matrix, dtype=float)


def _through(matrix: FloatArray, places: FloatArray) -> FloatArray:
    """Return places (n, 2) float through a homography (3, 3) float, (n, 2) float."""
    seen = np.column_stack([places, np.ones(len(places))]) @ matrix.T
    return np.asarray(seen[:, :2] / seen[:, 2:], dtype=float)
