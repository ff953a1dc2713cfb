"""Set a scan to gravity, to the back's midline and to the shoulder mark, and place its landmarks."""

from collections.abc import Mapping

import numpy as np
from scipy.ndimage import gaussian_filter1d

from saddlebench.engine.back import landmarks as marks_of
from saddlebench.engine.back.landmarks import NOT_MARKED, Landmarks, Mark
from saddlebench.engine.back.scan import AlignedScan, ScanMark, ScanOfBack
from saddlebench.engine.back.scan_midline import (
    AXIS_DEPTH_MM,
    Midline,
    find_midline,
    outlines_along,
    turn_about_vertical,
)
from saddlebench.engine.back.scan_sections import Faces
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where
from saddlebench.engine.frames import FloatArray, Frame, Pose, read_only

SHORTEST_BACK_MM, LONGEST_BACK_MM = 150.0, 1500.0
"""Shoulder mark to last-rib mark: outside this the unit, or a mark, is surely wrong (common practice)."""
_TOPLINE_STEP_MM = 10.0
_TOPLINE_BEFORE_MM, _TOPLINE_BEHIND_MM = 350.0, 150.0
_ALONG, _BELOW = 500.0, 450.0
"""How much of the mesh is looked at, beyond the marks along the back and below the lowest of them [mm]."""
_SUMMIT_SMOOTHING_MM = 40.0
_SUMMIT_SOUGHT_MM = (-200.0, 60.0)
_FLATTEST_SUMMIT_MM = 2000.0
"""Largest radius of the topline that is still called a summit of the withers [mm]."""

MARK_SD_MM: Mapping[ScanMark, float] = {
    ScanMark.WITHERS: marks_of.WITHERS_SD_MM,
    ScanMark.LOWEST: marks_of.LOWEST_SD_MM,
    ScanMark.LAST_RIB: marks_of.LAST_RIB_SD_MM,
    ScanMark.SHOULDER_NEAR: marks_of.SHOULDER_SD_MM,
    ScanMark.SHOULDER_OFF: marks_of.SHOULDER_SD_MM,
    ScanMark.GIRTH_GROOVE: marks_of.GIRTH_GROOVE_SD_MM,
}
PROPOSED_SD_MM: Mapping[ScanMark, float] = {
    ScanMark.WITHERS: 35.0,
    ScanMark.LOWEST: 25.0,
    ScanMark.LAST_RIB: 50.0,
}
"""Of marks proposed by proportion, at 1.60 m: found on five open meshes against marks set by eye, which
themselves are good to some 20 mm. The shoulder mark is the zero: its error moves all distances alike."""
NO_SUGGESTION = NotMeasured("the shape of the topline does not show it")
SUGGESTED_SD_MM = 25.0
"""A mark proposed from the shape alone is much less sure than one felt (assumption)."""


def align_scan(scan: ScanOfBack) -> AlignedScan:
    """Turn a scan into the back frame.

    Raises
    ------
    InputProblemsError
        When gravity and heading contradict each other, the marks' order or distance cannot be a back's, or no
        back is found between them.
    """
    gravity = _gravity_rotation(scan)
    vertices = scan.vertices_instrument @ gravity.T
    marks = {mark: point @ gravity.T for mark, point in scan.marks.items()}
    _refuse_impossible_marks(scan, marks)
    faces = _faces_near_back(vertices, scan.faces, marks)
    tops = _points_on_top(vertices, faces, marks, scan)
    span = (marks[ScanMark.SHOULDER][0], marks[ScanMark.LAST_RIB][0])
    midline = _midline(scan, vertices, faces, span, tops)

    turn = turn_about_vertical(np.eye(3), -midline.yaw_rad).T
    shift = np.array([0.0, -midline.offset_mm * np.cos(midline.yaw_rad), 0.0])
    turned = vertices @ turn.T + shift
    turned_tops = tops @ turn.T + shift
    x_mark = float((turn @ marks[ScanMark.SHOULDER])[0])
    reach = x_mark - float((turn @ marks[ScanMark.LAST_RIB])[0])
    s = np.arange(-_TOPLINE_BEFORE_MM, reach + _TOPLINE_BEHIND_MM, _TOPLINE_STEP_MM)
    s, z = _topline(scan, turned, faces, x_mark - s, s, turned_tops)
    origin = np.array([x_mark, 0.0, float(np.interp(0.0, s, z))])

    to_back = Pose(
        source=Frame.INSTRUMENT,
        target=Frame.BACK,
        rotation=turn @ gravity,
        translation_mm=shift - origin,
    )
    z = z - origin[2]
    placed = {mark: -float(to_back.points(point[None])[0, 0]) for mark, point in scan.marks.items()}
    suggested = _suggestions(scan, placed, s, z)
    return AlignedScan(
        scan=scan,
        scan_to_back=to_back,
        vertices_back=read_only(turned - origin),
        faces=faces,
        midline=midline,
        topline_s_mm=read_only(s),
        topline_z_mm=read_only(z),
        landmarks=_landmarks(scan, placed, suggested),
        suggested=frozenset(suggested),
    )


def _gravity_rotation(scan: ScanOfBack) -> FloatArray:
    up = scan.up / np.linalg.norm(scan.up)
    level = scan.forward - up * float(scan.forward @ up)
    length = float(np.linalg.norm(level))
    if length < 0.5 * float(np.linalg.norm(scan.forward)):
        raise InputProblemsError(
            [
                Problem(
                    what="the direction of the head points up or down, not along the ground",
                    cure="State which way is up and which way the head looks as two different axes.",
                    where=Where(file=scan.name, field="head"),
                )
            ]
        )
    forward = level / length
    return np.stack([forward, np.cross(up, forward), up])


def _refuse_impossible_marks(scan: ScanOfBack, marks: Mapping[ScanMark, FloatArray]) -> None:
    ahead = {mark: float(point[0]) for mark, point in marks.items()}
    length = ahead[ScanMark.SHOULDER] - ahead[ScanMark.LAST_RIB]
    problems = []
    if length < 0.0:
        problems.append(
            _mark_problem(
                scan,
                "the last-rib mark lies in front of the shoulder mark",
                "Turn the direction of the head round, or swap the two marks.",
            )
        )
    elif not SHORTEST_BACK_MM <= length <= LONGEST_BACK_MM:
        problems.append(
            _mark_problem(
                scan,
                f"from the shoulder mark to the last-rib mark is {length:,.4g} mm, which no horse has",
                "Check the unit or the known length, then the two marks.",
            )
        )
    elif ScanMark.WITHERS in ahead and ahead[ScanMark.WITHERS] < ahead[ScanMark.LAST_RIB]:
        problems.append(
            _mark_problem(
                scan, "the withers lie behind the last-rib mark", "Swap the two marks, or set them again."
            )
        )
    if problems:
        raise InputProblemsError(problems)


def _mark_problem(scan: ScanOfBack, what: str, cure: str) -> Problem:
    return Problem(what=what, cure=cure, where=Where(file=scan.name, field="marks"))


def _faces_near_back(vertices: FloatArray, faces: Faces, marks: Mapping[ScanMark, FloatArray]) -> Faces:
    named = np.array([p for m, p in marks.items() if m is not ScanMark.GIRTH_GROOVE])
    low, high = named.min(axis=0), named.max(axis=0)
    near = (vertices[:, 0] > low[0] - _ALONG) & (vertices[:, 0] < high[0] + _ALONG)
    near &= vertices[:, 2] > low[2] - _BELOW
    return np.ascontiguousarray(faces[near[faces[:, 0]] & near[faces[:, 1]] & near[faces[:, 2]]])


def _points_on_top(
    vertices: FloatArray, faces: Faces, marks: Mapping[ScanMark, FloatArray], scan: ScanOfBack
) -> FloatArray:
    """Return one point on the top of the back above (or at) each mark that lies along it."""
    near = vertices[np.unique(faces)]
    tops = []
    for mark in (ScanMark.SHOULDER, ScanMark.WITHERS, ScanMark.LOWEST, ScanMark.LAST_RIB):
        if mark not in marks or len(near) == 0:
            continue
        point = marks[mark]
        slab = near[np.abs(near[:, 0] - point[0]) < _slab(near)]
        # From a mark on the side to the top: no higher than a back is deep above it.
        slab = slab[(slab[:, 2] > point[2] - 30.0) & (slab[:, 2] < point[2] + AXIS_DEPTH_MM)]
        if len(slab):
            highest = slab[slab[:, 2] > slab[:, 2].max() - 5.0]
            tops.append([point[0], float(np.median(highest[:, 1])), float(slab[:, 2].max())])
    if len(tops) < 2:
        raise InputProblemsError(
            [_mark_problem(scan, "the marks do not lie on the mesh", "Set the marks again on this mesh.")]
        )
    return np.array(tops)


def _slab(vertices: FloatArray) -> float:
    """Half the thickness of a slice that a mesh of this spacing is sure to have vertices in."""
    extent = np.ptp(vertices, axis=0)
    spacing = float(np.sqrt(2.0 * extent[0] * (extent[1] + extent[2]) / max(len(vertices), 1)))
    return float(np.clip(spacing, 10.0, 80.0))


def _midline(
    scan: ScanOfBack, vertices: FloatArray, faces: Faces, span: tuple[float, float], tops: FloatArray
) -> Midline:
    try:
        return find_midline(vertices, faces, span, tops)
    except ValueError as error:
        what = "between the shoulder mark and the last-rib mark too few sections show both sides of a back"
        cure = "Check which way is up, the marks, and whether the scan covers both sides of the back."
        raise InputProblemsError([_mark_problem(scan, what, cure)]) from error


def _topline(
    scan: ScanOfBack, vertices: FloatArray, faces: Faces, x: FloatArray, s: FloatArray, tops: FloatArray
) -> tuple[FloatArray, FloatArray]:
    outlines, axes, _ = outlines_along(vertices, faces, x, tops, np.deg2rad([-2.0, 0.0, 2.0]))
    on_top = np.array([outline.found[1] for outline in outlines])
    height = axes + np.array([outline.radius_mm[1] for outline in outlines])
    if on_top.sum() < 10:
        raise InputProblemsError(
            [
                _mark_problem(
                    scan, "the mesh has no surface along the topline", "Scan the top of the back too."
                )
            ]
        )
    return s[on_top], height[on_top]


def _suggestions(
    scan: ScanOfBack, placed: Mapping[ScanMark, float], s: FloatArray, z: FloatArray
) -> dict[ScanMark, float]:
    suggested: dict[ScanMark, float] = {}
    if ScanMark.WITHERS in scan.suggest:
        summit = _summit(s, z)
        if summit is not None:
            suggested[ScanMark.WITHERS] = summit
    if ScanMark.LOWEST in scan.suggest:
        withers = suggested.get(ScanMark.WITHERS, placed.get(ScanMark.WITHERS, 0.0))
        inside = (s > withers + 80.0) & (s < placed[ScanMark.LAST_RIB])
        if inside.any():
            suggested[ScanMark.LOWEST] = float(s[inside][np.argmin(z[inside])])
    return suggested


def _summit(s: FloatArray, z: FloatArray) -> float | None:
    """Return where the topline bends down most near the withers; a raised neck may well stand higher."""
    even = np.arange(s[0], s[-1], _TOPLINE_STEP_MM)
    if even[-1] - even[0] < 2.0 * _TOPLINE_BEFORE_MM:
        return None
    smooth = gaussian_filter1d(np.interp(even, s, z), _SUMMIT_SMOOTHING_MM / _TOPLINE_STEP_MM)
    bend = np.gradient(np.gradient(smooth, even), even)
    inside = (even >= _SUMMIT_SOUGHT_MM[0]) & (even <= _SUMMIT_SOUGHT_MM[1])
    k = int(np.argmin(bend[inside]))
    return float(even[inside][k]) if bend[inside][k] < -1.0 / _FLATTEST_SUMMIT_MM else None


def _landmarks(
    scan: ScanOfBack, placed: Mapping[ScanMark, float], suggested: Mapping[ScanMark, float]
) -> Landmarks:
    def mark(which: ScanMark) -> Mark | NotMeasured:
        if which in suggested:
            return Mark(suggested[which], SUGGESTED_SD_MM)
        if which in placed:
            return Mark(placed[which], (PROPOSED_SD_MM if which in scan.proposed else MARK_SD_MM)[which])
        return NO_SUGGESTION if which in scan.suggest else NOT_MARKED

    return Landmarks(
        withers=mark(ScanMark.WITHERS),
        lowest=mark(ScanMark.LOWEST),
        last_rib=mark(ScanMark.LAST_RIB),
        shoulder_left=mark(ScanMark.SHOULDER_NEAR),
        shoulder_right=mark(ScanMark.SHOULDER_OFF),
        girth_groove=mark(ScanMark.GIRTH_GROOVE),
        spine_strip_width=scan.spine_strip_width_mm,
    )
