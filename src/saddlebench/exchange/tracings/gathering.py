"""Several photos become the readings of one back: which curve is which station, and the topline."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from saddlebench.engine.back.readings import NO_TOPLINE, BackReadings, SectionPoints, Topline
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.as_readings import section_of, topline_of
from saddlebench.exchange.tracings.sheet_read import ReadSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedSheet:
    """A photo's name and what was read from it."""

    name: str
    sheet: ReadSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveStation:
    """Which station a curve is."""

    photo: int
    """From 0."""
    curve: int
    """From 0, from the upper one down."""
    station: int
    """From 1; 0: the topline."""
    is_guessed: bool
    """By the order alone; the sheet's rings do not say it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """The readings, and what there is to say of them."""

    readings: BackReadings
    remarks: tuple[Problem, ...]


def stations_of(sheets: Sequence[ReadSheet], others: Collection[int] = ()) -> tuple[CurveStation, ...]:
    """Return which station each curve is: by the rings that are filled in, else the next that is free.

    Parameters
    ----------
    others : stations of curves that are there already
    """
    taken = set(others)
    for sheet in sheets:
        if len(sheet.stations) == len(sheet.curves):
            taken |= set(sheet.stations)
    free = (n for n in range(1, 1000) if n not in taken)
    found = []
    for p, sheet in enumerate(sheets):
        if sheet.kind is SheetKind.TOPLINE:
            found.append(CurveStation(photo=p, curve=0, station=0, is_guessed=False))
            continue
        is_said = len(sheet.stations) == len(sheet.curves)
        numbers = sheet.stations if is_said else tuple(next(free) for _ in sheet.curves)
        found += [
            CurveStation(photo=p, curve=c, station=number, is_guessed=not is_said)
            for c, number in enumerate(numbers)
        ]
    return tuple(found)


def gather(
    photos: Sequence[NamedSheet],
    distances_mm: Sequence[float],
    *,
    topline_starts_mm: float = 0.0,
    topline_level_deg: float = 0.0,
) -> Gathered:
    """Return the readings of a back from its photos.

    Parameters
    ----------
    photos : in the order of the stations where the sheets' rings do not say it
    distances_mm : of each station behind the shoulder mark, station 1 first [mm]
    topline_starts_mm : where the topline sheet's long line lay, behind the shoulder mark [mm]
    topline_level_deg : by how much its level lines fell towards the tail [°]

    Raises
    ------
    InputProblemsError
        If a station has no distance, or a photo is of a saddle.
    """
    problems: list[Problem] = []
    remarks: list[Problem] = []
    sections: list[SectionPoints] = []
    topline: Topline = NO_TOPLINE
    repeats: dict[int, int] = {}
    for one in stations_of([photo.sheet for photo in photos]):
        photo = photos[one.photo]
        where = Where(file=photo.name, station=one.station or None)
        curve = photo.sheet.curves[one.curve]
        if photo.sheet.kind is SheetKind.SADDLE:
            what = "this is a sheet for a saddle’s sections"
            problems.append(Problem(what=what, cure="Leave it out of a back.", where=where))
        elif one.station == 0:
            topline = topline_of(curve, starts_at_mm=topline_starts_mm, level_deg=topline_level_deg)
        elif one.station > len(distances_mm):
            what = f"station {one.station} has no distance; {len(distances_mm)} are given"
            cure = "Give a distance for every station, or take out the curve."
            problems.append(Problem(what=what, cure=cure, where=where))
        else:
            repeat = repeats.get(one.station, 0)
            repeats[one.station] = repeat + 1
            distance = distances_mm[one.station - 1]
            sections.append(section_of(curve, one.station, distance, repeat=repeat))
            if one.is_guessed:
                what = f"curve {one.curve + 1} is taken as station {one.station}, by its order"
                cure = "Fill in the ring of each station on the sheet, and nothing is guessed."
                remarks.append(Problem(what=what, cure=cure, where=where, weight=Weight.WARNING))
        if one.curve == 0:
            remarks += [
                Problem(what=said.what, cure=said.cure, where=where, weight=said.weight)
                for said in photo.sheet.remarks
            ]
    if problems:
        raise InputProblemsError(problems)
    ordered = tuple(sorted(sections, key=lambda one: (one.repeat, one.distance_mm)))
    return Gathered(readings=BackReadings(stations=ordered, topline=topline), remarks=tuple(remarks))
