"""What a mark on a photo measures: how far a line leans, the angle of three points, a distance to scale."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from saddlebench.practice.catalogue import Value

Point = tuple[float, float]


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
    return tuple(_shown(mark, width, height, scale) for mark in held)


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
        angle = angle_deg(points[0], points[1], points[2])
        return f"{angle:.1f}°", f"Angle of {angle:.1f}°"
    if kind == "line":
        tilt = tilt_deg(points[0], points[1])
        leans = (
            "level"
            if abs(tilt) < 0.05
            else f"{abs(tilt):.1f}° {'rising' if tilt > 0 else 'falling'} to the right"
        )
        return f"{abs(tilt):.1f}°", f"Line, {leans}"
    if kind == "known":
        return f"{known:g} mm known", f"Known length of {known:g} mm"
    if scale is None:
        return "no scale", "Distance: draw a known length first"
    length = math.dist(points[0], points[1]) * scale
    return f"{length:.0f} mm", f"Distance of {length:.0f} mm, in the plane of the known length"
