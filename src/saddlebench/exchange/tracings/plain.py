"""What was read from a photo, as plain data and back: for other processes, and to be kept."""

from typing import Any

import numpy as np

from saddlebench.engine.errors import Problem, Weight, Where
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.paper_edge import PrintedScale
from saddlebench.exchange.tracings.sheet_read import Asked, Frame, KnownLength, ReadCurve, ReadSheet

KEPT_EVERY_MM = 4.0
MOST_KEPT = 180


def plain_of_curve(curve: ReadCurve, *, every_mm: float = KEPT_EVERY_MM) -> dict[str, Any]:
    """Return a curve as plain data, thinned to points every so many mm and its end."""
    apart = float(np.median(np.linalg.norm(np.diff(curve.points, axis=0), axis=1)))
    step = max(1, round(every_mm / apart), len(curve.points) // MOST_KEPT)
    at = np.unique([*range(0, len(curve.points), step), len(curve.points) - 1])
    return {
        "points": np.round(curve.points[at], 2).tolist(),
        "seen": curve.seen[at].astype(int).tolist(),
        "photo": np.round(curve.photo[at], 1).tolist(),
        "point_sd_mm": round(curve.point_sd_mm, 3),
        "ticks": np.round(curve.ticks, 2).tolist(),
        "by_tick": bool(curve.by_tick),
        "is_doubled": bool(curve.is_doubled),
    }


def curve_of_plain(plain: dict[str, Any]) -> ReadCurve:
    """Return a curve from plain data."""
    return ReadCurve(
        points=np.array(plain["points"], dtype=float).reshape(-1, 2),
        seen=np.array(plain["seen"], dtype=bool),
        photo=np.array(plain["photo"], dtype=float).reshape(-1, 2),
        point_sd_mm=float(plain["point_sd_mm"]),
        ticks=np.array(plain["ticks"], dtype=float).reshape(-1, 2),
        by_tick=bool(plain["by_tick"]),
        is_doubled=bool(plain["is_doubled"]),
    )


def plain_of_sheet(sheet: ReadSheet, *, every_mm: float = KEPT_EVERY_MM) -> dict[str, Any]:
    """Return everything that was read as plain data."""
    return {
        "kind": sheet.kind.value,
        "size_px": list(sheet.size_px),
        "curves": [plain_of_curve(curve, every_mm=every_mm) for curve in sheet.curves],
        "stations": list(sheet.stations),
        "scale": {
            "across": sheet.scale.across,
            "down": sheet.scale.down,
            "sd": sheet.scale.sd,
            "source": sheet.scale.source,
        },
        "tilt_deg": sheet.tilt_deg,
        "curl": sheet.curl,
        "n_markers": sheet.n_markers,
        "inside_mm": sheet.inside_mm,
        "to_mm": sheet.to_mm.tolist(),
        "remarks": [plain_of_problem(one) for one in sheet.remarks],
    }


def sheet_of_plain(plain: dict[str, Any]) -> ReadSheet:
    """Return what was read from plain data."""
    width, height = plain["size_px"]
    return ReadSheet(
        kind=SheetKind(plain["kind"]),
        size_px=(int(width), int(height)),
        curves=tuple(curve_of_plain(one) for one in plain["curves"]),
        stations=tuple(int(one) for one in plain["stations"]),
        scale=PrintedScale(**plain["scale"]),
        tilt_deg=plain["tilt_deg"],
        curl=plain["curl"],
        n_markers=plain["n_markers"],
        inside_mm=plain["inside_mm"],
        to_mm=np.array(plain["to_mm"], dtype=float),
        remarks=tuple(problem_of_plain(one) for one in plain["remarks"]),
    )


def plain_of_problem(problem: Problem) -> dict[str, str]:
    """Return a problem as plain data."""
    return {
        "what": problem.what,
        "cure": problem.cure,
        "field": problem.where.field,
        "weight": problem.weight.value,
    }


def problem_of_plain(plain: dict[str, str]) -> Problem:
    """Return a problem from plain data."""
    where = Where(field=plain["field"])
    return Problem(what=plain["what"], cure=plain["cure"], where=where, weight=Weight(plain["weight"]))


def plain_of_asked(asked: Asked) -> dict[str, Any]:
    """Return what is known beforehand as plain data."""
    frame = asked.frame
    return {
        "ruler_across_mm": asked.ruler_across_mm,
        "ruler_down_mm": asked.ruler_down_mm,
        "frame": None
        if frame is None
        else {
            "kind": frame.kind.value,
            "corners": [list(corner) for corner in frame.corners],
            "width_mm": frame.width_mm,
            "height_mm": frame.height_mm,
            "length": None
            if frame.length is None
            else {"start": list(frame.length.start), "end": list(frame.length.end), "mm": frame.length.mm},
            "corner_sd_px": frame.corner_sd_px,
            "middle_mm": frame.middle_mm,
        },
    }


def asked_of_plain(plain: dict[str, Any]) -> Asked:
    """Return what is known beforehand from plain data."""
    held = plain["frame"]
    frame = (
        None
        if held is None
        else Frame(
            kind=SheetKind(held["kind"]),
            corners=tuple((float(x), float(y)) for x, y in held["corners"]),
            width_mm=held["width_mm"],
            height_mm=held["height_mm"],
            length=_length_of_plain(held["length"]),
            corner_sd_px=held["corner_sd_px"],
            middle_mm=held["middle_mm"],
        )
    )
    return Asked(ruler_across_mm=plain["ruler_across_mm"], ruler_down_mm=plain["ruler_down_mm"], frame=frame)


def _length_of_plain(plain: dict[str, Any] | None) -> KnownLength | None:
    if plain is None:
        return None
    (x, y), (u, v) = plain["start"], plain["end"]
    return KnownLength(start=(float(x), float(y)), end=(float(u), float(v)), mm=float(plain["mm"]))
