"""What a measuring holds of its tracings, moved by hand where a person did, and turned into readings."""

import json
import re
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from django.utils.translation import gettext as _

from saddlebench.engine.back.readings import SectionPoints, ToplineHeights
from saddlebench.engine.errors import input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.as_readings import section_of, topline_of
from saddlebench.exchange.tracings.plain import curve_of_plain, sheet_of_plain
from saddlebench.exchange.tracings.sheet_read import ReadCurve, ReadSheet, height_at
from saddlebench.practice.catalogue import Value
from saddlebench.practice.queries.captures import CapturePage
from saddlebench.practice.services import NotFoundError

HANDLE_MM = 60.0
_PHOTO = re.compile(r"trace/(\d{1,3})/photo")
_STATION = re.compile(r"s(\d{1,3})r0/distance")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPhoto:
    """One photo and what was read from it."""

    number: int
    """From 1."""
    photo: uuids.UUID
    sheet: ReadSheet
    stations: tuple[int, ...]
    """Of each curve; 0: the topline."""
    is_kept: bool

    @property
    def words(self) -> str:
        """What it shows."""
        if self.sheet.kind is SheetKind.TOPLINE:
            return _("Topline")
        used = [str(one) for one in self.stations if one]
        words = _("Stations %(numbers)s") if len(used) > 1 else _("Station %(numbers)s")
        return words % {"numbers": ", ".join(used)}


@dataclass(frozen=True, slots=True, kw_only=True)
class UnreadPhoto:
    """A photo whose sheet has too few marks to be measured by: its corners are marked by hand."""

    number: int
    photo: uuids.UUID
    reason: str


def unread_photos(page: CapturePage) -> tuple[UnreadPhoto, ...]:
    """Return the photos of a measuring that wait for their corners."""
    return tuple(
        UnreadPhoto(
            number=number, photo=uuids.UUID(str(page.values[f"trace/{number}/photo"])), reason=str(reason)
        )
        for number in _numbers(page.values)
        if (reason := page.values.get(f"trace/{number}/unread")) is not None
    )


def next_number(values: Mapping[str, Value]) -> int:
    """Return the number of the next photo of a measuring."""
    return max(_numbers(values), default=0) + 1


def _numbers(values: Mapping[str, Value]) -> list[int]:
    return sorted(int(match[1]) for name in values if (match := _PHOTO.fullmatch(name)))


def held_photos(page: CapturePage) -> tuple[HeldPhoto, ...]:
    """Return the photos of a measuring that was begun from tracings."""
    values = page.values
    return tuple(_held(values, number) for number in _numbers(values) if f"trace/{number}/sheet" in values)


def held_photo(page: CapturePage, number: int) -> HeldPhoto:
    """Return one of them.

    Raises
    ------
    NotFoundError
        If there is none of this number.
    """
    if f"trace/{number}/sheet" not in page.values:
        raise NotFoundError("photo of a tracing", str(number))
    return _held(page.values, number)


def _held(values: Mapping[str, Value], number: int) -> HeldPhoto:
    curves: list[ReadCurve] = []
    stations: list[int] = []
    while (text := values.get(f"trace/{number}/curve/{len(curves)}")) is not None:
        station = values.get(f"trace/{number}/station/{len(curves)}")
        stations.append(int(station) if isinstance(station, int | float) else 0)
        curves.append(curve_of_plain(json.loads(str(text))))
    sheet = sheet_of_plain(json.loads(str(values[f"trace/{number}/sheet"])))
    return HeldPhoto(
        number=number,
        photo=uuids.UUID(str(values[f"trace/{number}/photo"])),
        sheet=replace(sheet, curves=tuple(curves)),
        stations=tuple(stations),
        is_kept=values.get(f"trace/{number}/kept") is True,
    )


def distances_of(values: Mapping[str, Value]) -> dict[int, float]:
    """Return each station's distance behind the shoulder mark [mm]."""
    return {
        int(match[1]): float(value)
        for name, value in values.items()
        if (match := _STATION.fullmatch(name)) and isinstance(value, int | float)
    }


def handles_of(curve: ReadCurve) -> tuple[int, ...]:
    """Return the points of a curve that can be moved: one every 60 mm or so, and both ends."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(curve.points, axis=0), axis=1))])
    count = max(2, round(length[-1] / HANDLE_MM) + 1)
    at = np.searchsorted(length, np.linspace(0.0, length[-1], count))
    return tuple(int(one) for one in np.unique(np.minimum(at, len(length) - 1)))


def moved(curve: ReadCurve, to_mm: FloatArray, moves: Mapping[int, tuple[float, float]]) -> ReadCurve:
    """Return a curve after some of its handles were moved; between two handles the move fades evenly.

    Parameters
    ----------
    to_mm : (3, 3) float, from the photo [px] to mm
    moves : of handles, by their point's number: how far in the photo, right and down [px]
    """
    if not moves:
        return curve
    at = np.array(handles_of(curve), dtype=float)
    own = np.array([moves.get(int(k), (0.0, 0.0)) for k in at])
    every = np.arange(len(curve.points))
    shift = np.column_stack([np.interp(every, at, own[:, axis]) for axis in (0, 1)])
    in_mm = _mapped(to_mm, curve.photo + shift) - _mapped(to_mm, curve.photo)
    points = curve.points + in_mm
    return replace(curve, points=points, photo=curve.photo + shift)


def _mapped(matrix: FloatArray, places: FloatArray) -> FloatArray:
    """Return places (n, 2) float [px] through a homography (3, 3) float, (n, 2) float [mm]."""
    seen = np.column_stack([places, np.ones(len(places))]) @ matrix.T
    return np.asarray(seen[:, :2] / seen[:, 2:], dtype=float)


def values_of_section(section: SectionPoints, before: Mapping[str, Value]) -> dict[str, Value]:
    """Return the entries that stand for a section, and those of points that are no more."""
    key = f"s{section.number}r0"
    values: dict[str, Value] = {
        name: None for name in before if name.startswith((f"{key}/near/", f"{key}/off/"))
    }
    for side, points in (("near", section.left), ("off", section.right)):
        for i, (out, up) in enumerate(points, start=1):
            values |= {f"{key}/{side}/{i}/out": out, f"{key}/{side}/{i}/down": 0.0 - up}
    return values | {f"{key}/done": True}


def values_of_topline(topline: ToplineHeights, before: Mapping[str, Value]) -> dict[str, Value]:
    """Return the entries that stand for a topline, and those of heights that are no more."""
    values: dict[str, Value] = {name: None for name in before if re.fullmatch(r"top/\d+/\w+", name)}
    pairs = zip(topline.distance_mm, topline.height_mm, strict=True)
    for row, (distance, height) in enumerate(pairs, start=1):
        values |= {f"top/{row}/distance": distance, f"top/{row}/height": height}
    return values | {"top/how": "heights"}


def readings_of_photo(
    held: HeldPhoto, curves: Mapping[int, ReadCurve], stations: Mapping[int, int], values: Mapping[str, Value]
) -> dict[str, Value]:
    """Return everything that is entered when a person keeps a photo's curves.

    Parameters
    ----------
    curves : those that are kept, by their number from 0
    stations : which station each is

    Raises
    ------
    InputProblemsError
        If a station has no distance, or two curves are the same.
    """
    places = distances_of(values)
    entered: dict[str, Value] = {f"trace/{held.number}/kept": True}
    if len(set(stations.values())) < len(stations):
        raise input_problem("two curves are said to be one station", "Say which is which.")
    for k, curve in curves.items():
        if held.sheet.kind is SheetKind.TOPLINE:
            starts, level = (values.get(f"trace/{name}") for name in ("starts", "level"))
            topline = topline_of(
                curve,
                starts_at_mm=float(starts) if isinstance(starts, int | float) else 0.0,
                level_deg=float(level) if isinstance(level, int | float) else 0.0,
            )
            entered |= values_of_topline(topline, values)
            continue
        station = stations[k]
        if station not in places:
            what = f"station {station} has no distance behind the shoulder mark"
            raise input_problem(what, f"Choose one of {', '.join(map(str, sorted(places)))}.")
        # Moved by hand at the midline, too, a curve's heights still count from there.
        risen = curve.points - np.array([0.0, height_at(curve.points, 0.0)])
        section = section_of(replace(curve, points=risen), station, places[station])
        entered |= values_of_section(section, values)
        entered[f"trace/{held.number}/station/{k}"] = station
    return entered
