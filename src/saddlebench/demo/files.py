"""The files a fitter would have kept of an invented horse: table, back sheet, saddle file, marks file."""

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from saddlebench.demo.shapes import BackShape
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.readings import (
    BackReadings,
    Reading,
    SectionPoints,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.saddles import saddle_document
from saddlebench.exchange.whole_file import write_whole

INVENTED = "# An invented horse: nothing here was measured on a living one."


def write_table(readings: BackReadings, path: Path) -> None:
    """Write readings as a semicolon table with decimal commas, one station (or point) to a row."""
    stations = [one for one in readings.stations if isinstance(one, StationReadings)]
    traced = [one for one in readings.stations if isinstance(one, SectionPoints)]
    rows = list(_wide(stations, readings)) if stations else list(_long(traced, readings))
    text = "\n".join([INVENTED, "# unit: mm", *(";".join(row) for row in rows)]) + "\n"
    write_whole(path, text.encode("utf-8"))


def _wide(stations: list[StationReadings], readings: BackReadings) -> Iterator[list[str]]:
    n_left = max(len(one.left) for one in stations)
    n_right = max(len(one.right) for one in stations)
    n_widths = max(len(one.widths) for one in stations)
    joints = readings.topline if isinstance(readings.topline, ToplineJoints) else None
    has_middle = any(one.middle is not None for one in stations)
    laid = ["level", *(f"T{k + 1}" for k in range(len(joints.joints)))] if joints else []
    yield [
        "station", "distance", "height", "repeat", *laid,
        *(f"L{k + 1}" for k in range(n_left)),
        *(["M"] if has_middle else []),
        *(f"R{k + 1}" for k in range(n_right)),
        *(f"W{k + 1}" for k in range(n_widths)),
    ]  # fmt: skip
    blank = [""] * len(laid)
    rest = n_left + n_right + has_middle + n_widths
    if joints:
        shown = [_number(joints.level_deg), *(_number(j) for j in joints.joints)]
        yield ["topline", _number(joints.start_mm), "", "", *shown, *[""] * rest]
    for distance, height in _heights(readings):
        yield ["", _number(distance), _number(height), "", *blank, *[""] * rest]
    for one in stations:
        middle = [_number(one.middle)] if has_middle else []
        left = _padded(one.left, n_left)
        right, widths = _padded(one.right, n_right), _padded(one.widths, n_widths)
        yield [*_place(one), *blank, *left, *middle, *right, *widths]


def _long(sections: list[SectionPoints], readings: BackReadings) -> Iterator[list[str]]:
    yield ["station", "distance", "height", "repeat", "side", "y", "z"]
    for distance, height in _heights(readings):
        yield ["", _number(distance), _number(height), "", "", "", ""]
    for one in sections:
        for side, points in (("near", one.left), ("off", one.right)):
            for out, up in points:
                yield [*_place(one), side, _number(out), _number(up)]


def _place(one: StationReadings | SectionPoints) -> list[str]:
    return [str(one.number), _number(one.distance_mm), "", str(one.repeat) if one.repeat else ""]


def _heights(readings: BackReadings) -> Iterator[tuple[float, float]]:
    if isinstance(readings.topline, ToplineHeights):
        yield from zip(readings.topline.distance_mm, readings.topline.height_mm, strict=True)


def _padded(cells: tuple[Reading, ...], n: int) -> list[str]:
    return [_number(cell) for cell in cells] + [""] * (n - len(cells))


def _number(value: Reading) -> str:
    return "" if value is None else f"{value:g}".replace(".", ",")


def write_sheet(
    path: Path,
    *,
    horse: str,
    day: dt.date,
    instrument: str,
    marks: Landmarks,
    tilt_deg: tuple[float, float],
    story: str,
) -> None:
    """Write a back sheet; `tilt_deg` is the floor's pitch and roll."""
    lines = [
        INVENTED,
        f"horse = {_text(horse)}",
        f"measured_on = {day.isoformat()}",
        f"instrument = {_text(instrument)}",
        f"notes = {_text(story)}",
        "",
        "[stance]",
        f"pitch_deg = {tilt_deg[0]}",
        f"roll_deg = {tilt_deg[1]}",
        "",
        "[marks]",
    ]
    for name in Landmarks.__dataclass_fields__:
        mark = getattr(marks, name)
        if isinstance(mark, Mark):
            lines.append(f"{name} = {round(mark.value_mm)}")
    write_whole(path, ("\n".join(lines) + "\n").encode("utf-8"))


def write_saddle_file(record: SaddleRecord, path: Path) -> None:
    """Write a saddle file as JSON."""
    text = json.dumps(saddle_document(record), ensure_ascii=False, indent=2) + "\n"
    write_whole(path, text.encode("utf-8"))


def write_marks_file(path: Path, *, horse: str, day: dt.date, shape: BackShape) -> None:
    """Write the marks file of an invented scan, its marks set on the skin."""
    marks = shape.landmarks
    places = {
        "shoulder": (0.0, 0.0),
        "withers": (_at(marks.withers), 0.0),
        "lowest": (_at(marks.lowest), 0.0),
        "last_rib": (_at(marks.last_rib), 0.0),
        "shoulder_edge_near": (_at(marks.shoulder_left), 0.9),
        "shoulder_edge_off": (_at(marks.shoulder_right), -0.9),
        "girth_groove": (_at(marks.girth_groove), 1.2),
    }
    lines = [
        INVENTED,
        f"label = {_text(horse)}",
        f"measured_on = {day.isoformat()}",
        'unit = "mm"',
        'up = { axis = "+z" }',
        'head = { axis = "+x" }',
        f"spine_strip_width_mm = {shape.spine_strip_width_mm * shape.scale:.0f}",
        "",
        "[marks]",
        *(f"{name} = {_point(shape, s, phi)}" for name, (s, phi) in places.items()),
    ]
    write_whole(path, ("\n".join(lines) + "\n").encode("utf-8"))


def _at(mark: object) -> float:
    return mark.value_mm if isinstance(mark, Mark) else 0.0


def _point(shape: BackShape, s_mm: float, phi: float) -> str:
    radius = float(shape.radius(s_mm, phi))
    x, y, z = -s_mm, radius * np.sin(phi), radius * np.cos(phi) + shape.axis_z_mm
    return f"[{x:.1f}, {y:.1f}, {z:.1f}]"


def write_ply(vertices: FloatArray, faces: NDArray[np.integer], path: Path) -> None:
    """Write a mesh as ASCII PLY."""
    head = [
        "ply", "format ascii 1.0", "comment an invented horse", f"element vertex {len(vertices)}",
        "property float x", "property float y", "property float z",
        f"element face {len(faces)}", "property list uchar int vertex_indices", "end_header",
    ]  # fmt: skip
    points = (f"{x:.2f} {y:.2f} {z:.2f}" for x, y, z in vertices)
    corners = (f"3 {a} {b} {c}" for a, b, c in faces)
    write_whole(path, ("\n".join([*head, *points, *corners]) + "\n").encode("ascii"))


def _text(value: str) -> str:
    """Return a TOML basic string; JSON's escapes are TOML's too."""
    return json.dumps(value, ensure_ascii=False)
