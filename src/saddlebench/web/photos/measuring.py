"""What a mark on a photo measures: how far a line leans, the angle of three points, a distance to scale.

Angles of the topline, the shoulder and the points carry their error: by what is level and plumb on the photo.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from django.utils.formats import number_format
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.tracings.angles import Known, PhotoAngle, angle_on_photo
from saddlebench.practice.catalogue import Value
from saddlebench.practice.catalogue.drawn import MEASURED_KINDS
from saddlebench.web.base.spoken import told

Point = tuple[float, float]
_NAMES = {"topline": "Topline", "shoulder": "Shoulder", "points": "Points"}


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnShown:
    """A mark with what it measures."""

    key: str
    kind: str
    points: tuple[Point, ...]
    """In dots of the picture."""
    path: str
    """The same as a drawing's polyline."""
    label: str
    words: str
    label_x: float
    label_y: float


def tilt_deg(a: Point, b: Point) -> float:
    """Return by how much a line leans against level, positive where it rises to the right, −90 to 90."""
    (x1, y1), (x2, y2) = sorted((a, b))
    return math.degrees(math.atan2(y1 - y2, x2 - x1))


def angle_deg(a: Point, corner: Point, b: Point) -> float:
    """Return the angle at the corner between the lines to two points, 0 to 180."""
    first = (a[0] - corner[0], a[1] - corner[1])
    second = (b[0] - corner[0], b[1] - corner[1])
    across = first[0] * second[1] - first[1] * second[0]
    along = first[0] * second[0] + first[1] * second[1]
    return math.degrees(math.atan2(abs(across), along))


def scale_mm_per_px(marks: Iterable[Mapping[str, Value]], width: int, height: int) -> float | None:
    """Return what a dot measures, from the length that is known; None where there is none."""
    for mark in marks:
        known = mark.get("known_mm")
        if mark.get("kind") == "known" and isinstance(known, float | int):
            a, b = _points(mark, width, height)
            return float(known) / math.dist(a, b)
    return None


def drawn_shown(
    marks: Iterable[Mapping[str, Value]], width: int | None, height: int | None
) -> tuple[DrawnShown, ...]:
    """Return the marks of a photo of that size with what each measures."""
    if not width or not height:
        return ()
    held = list(marks)
    scale = scale_mm_per_px(held, width, height)
    known = known_on(held, width, height)
    return tuple(
        _with_error(mark, width, height, known)
        if mark.get("kind") in MEASURED_KINDS
        else _shown(mark, width, height, scale)
        for mark in held
    )


def known_on(marks: Iterable[Mapping[str, Value]], width: int, height: int) -> Known:
    """Return what is marked as level and as plumb on a photo of that size."""
    found: dict[str, tuple[FloatArray, float | None]] = {}
    for mark in marks:
        length = mark.get("known_mm")
        mm = float(length) if isinstance(length, int | float) else None
        found[str(mark.get("kind"))] = np.array(_points(mark, width, height)), mm
    level, level_mm = found.get("level", (None, None))
    upright, upright_mm = found.get("upright", (None, None))
    return Known(level=level, level_mm=level_mm, upright=upright, upright_mm=upright_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleFound:
    """The angle of a measured line; None where it cannot be told."""

    kind: str
    angle: PhotoAngle | None
    reason: str


def angles_found(
    marks: Iterable[Mapping[str, Value]], width: int | None, height: int | None
) -> tuple[AngleFound, ...]:
    """Return the angles of the topline, the shoulder and the points on a photo of that size."""
    if not width or not height:
        return ()
    held = list(marks)
    known = known_on(held, width, height)
    return tuple(_angle(mark, width, height, known) for mark in held if mark.get("kind") in MEASURED_KINDS)


def _angle(mark: Mapping[str, Value], width: int, height: int, known: Known) -> AngleFound:
    kind = str(mark.get("kind"))
    try:
        angle = angle_on_photo(np.array(_points(mark, width, height)), known, size_px=(width, height))
    except InputProblemsError as error:
        return AngleFound(kind=kind, angle=None, reason=error.problems[0].what)
    return AngleFound(kind=kind, angle=angle, reason="")


def _with_error(mark: Mapping[str, Value], width: int, height: int, known: Known) -> DrawnShown:
    """Return a measured line with its angle; where that cannot be told, with the reason."""
    found = _angle(mark, width, height, known)
    name, angle = gettext(_NAMES.get(found.kind, found.kind)), found.angle
    if angle is None:
        label, words = "?", f"{name}: {told(found.reason)}"
    else:
        label = f"{abs(angle.deg):.0f}° ± {angle.sd_deg:.0f}°"
        said = gettext("%(line)s: %(deg)s° ± %(sd)s° (one standard deviation), %(way)s, against %(against)s")
        words = said % {
            "line": name,
            "deg": number_format(abs(angle.deg), 1),
            "sd": number_format(angle.sd_deg, 1),
            "way": gettext(angle.way),
            "against": told(angle.against),
        }
    return _drawn(mark, _points(mark, width, height), label, words)


def _points(mark: Mapping[str, Value], width: int, height: int) -> list[Point]:
    held = mark.get("points")
    pairs = held if isinstance(held, list) else []
    return [
        (float(pair[0]) * width, float(pair[1]) * height)  # type: ignore[arg-type]
        for pair in pairs
        if isinstance(pair, list)
    ]


def _shown(mark: Mapping[str, Value], width: int, height: int, scale: float | None) -> DrawnShown:
    kind, points = str(mark.get("kind")), _points(mark, width, height)
    label, words = _measured(kind, points, mark.get("known_mm"), scale)
    return _drawn(mark, points, label, words)


def _drawn(mark: Mapping[str, Value], points: list[Point], label: str, words: str) -> DrawnShown:
    kind = str(mark.get("kind"))
    at = (
        points[1]
        if kind == "angle"
        else ((points[0][0] + points[1][0]) / 2, (points[0][1] + points[1][1]) / 2)
    )
    return DrawnShown(
        key=str(mark.get("key")),
        kind=kind,
        points=tuple(points),
        path=" ".join(f"{x:.1f},{y:.1f}" for x, y in points),
        label=label,
        words=words,
        label_x=round(at[0], 1),
        label_y=round(at[1], 1),
    )


def _measured(kind: str, points: list[Point], known: Value, scale: float | None) -> tuple[str, str]:
    if kind == "angle":
        angle = number_format(angle_deg(points[0], points[1], points[2]), 1)
        return f"{angle}°", gettext("Angle of %(deg)s°") % {"deg": angle}
    if kind == "line":
        return _leaning(tilt_deg(points[0], points[1]))
    if kind == "known":
        long = {"mm": number_format(f"{known:g}")}
        return gettext("%(mm)s mm known") % long, gettext("Known length of %(mm)s mm") % long
    if kind in {"level", "upright"}:
        return _reference(kind, known)
    if scale is None:
        return gettext("no scale"), gettext("Distance: draw a known length first")
    length = number_format(math.dist(points[0], points[1]) * scale, 0)
    return f"{length} mm", gettext("Distance of %(mm)s mm, in the plane of the known length") % {"mm": length}


def _leaning(tilt: float) -> tuple[str, str]:
    leans = number_format(abs(tilt), 1)
    if abs(tilt) < 0.05:
        return f"{leans}°", gettext("Line, level")
    rising, falling = (
        gettext("Line, %(deg)s° rising to the right"),
        gettext("Line, %(deg)s° falling to the right"),
    )
    return f"{leans}°", (rising if tilt > 0 else falling) % {"deg": leans}


def _reference(kind: str, known: Value) -> tuple[str, str]:
    name = gettext("Level line") if kind == "level" else gettext("Plumb line")
    label = gettext("level") if kind == "level" else gettext("plumb")
    if known is None:
        return label, name
    return label, gettext("%(line)s, %(mm)s mm long") % {"line": name, "mm": number_format(f"{known:g}")}
