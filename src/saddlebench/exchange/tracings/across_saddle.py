"""Curves read from photos become curves across a saddle: which station, where each panel begins and ends."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import radians

import numpy as np

from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.underside.across import CurveAcross
from saddlebench.exchange.sheets.layout import SheetKind
from saddlebench.exchange.tracings.gathering import CurveStation, NamedSheet, stations_of
from saddlebench.exchange.tracings.sheet_read import ReadCurve, height_at

POINT_STEP_MM = 6.0
INNER_MM = (16.0, 100.0)
"""A stroke so far from the middle is a panel's inner edge."""
NARROWEST_MM = 20.0
"""A stroke so far beyond that is its outer edge."""
MOST_LEAN_DEG = 20.0
LONGEST_MM = 900.0
CHANNEL_MM = (32.0, 200.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionsStated:
    """What was measured beside the tracings, a value for each station."""

    behind_mm: tuple[float, ...]
    """Behind the front edge of the panels [mm]."""
    leans_deg: tuple[float | None, ...] = ()
    """Of a rule laid across both panels there, saddle upside down, near side higher counts up [°]; None or
    empty: not read."""
    gaps_mm: tuple[float, ...] = ()
    """From a straight rod, laid along the near panel's inner edge, to that edge [mm]; empty: not measured."""
    channel_mm: tuple[float | None, ...] = ()
    """Between the panels' inner edges, by tape [mm], for tracings without strokes there."""
    mirrored: bool = False
    """Whether the near panel is on the right of the tracings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvesGathered:
    """The curves, what was measured beside each, and what there is to say."""

    curves: tuple[CurveAcross, ...]
    gaps_mm: tuple[float, ...] | None
    remarks: tuple[Problem, ...]


def inner_edges(curve: ReadCurve) -> tuple[float | None, float | None]:
    """Return how far left and right of the middle strokes mark the inner edges [mm]; None: no stroke."""
    return _stroke(curve, -1.0), _stroke(curve, 1.0)


def with_inner_edges(curve: ReadCurve, left: float | None, right: float | None) -> ReadCurve:
    """Return a curve whose panels begin so far left and right of the middle [mm]; None: by its strokes."""
    ticks = curve.ticks
    for sign, wanted in ((-1.0, left), (1.0, right)):
        if wanted is None:
            continue
        out = sign * ticks[:, 0]
        others = ticks[(out < INNER_MM[0]) | (out > max(INNER_MM[1], wanted))]
        place = (sign * wanted, height_at(curve.points, sign * wanted))
        ticks = np.vstack([others, place])
    return replace(curve, ticks=ticks)


def _stroke(curve: ReadCurve, sign: float) -> float | None:
    outwards = sorted(float(sign * x) for x in curve.ticks[:, 0])
    return next((x for x in outwards if INNER_MM[0] <= x <= INNER_MM[1]), None)


def stated_problems(stated: SectionsStated) -> list[Problem]:
    """Return everything that is wrong with what was stated."""
    problems = []
    n = len(stated.behind_mm)
    bounds: tuple[tuple[str, str, Sequence[float | None], tuple[float, float]], ...] = (
        ("stations", "lies beyond a saddle’s panels", stated.behind_mm, (0.0, LONGEST_MM)),
        ("lean", "is no lean of a rule on a saddle", stated.leans_deg, (-MOST_LEAN_DEG, MOST_LEAN_DEG)),
        ("gaps", "is no gap beside a rod", stated.gaps_mm, (0.0, 150.0)),
        ("channel", "is no channel’s width", stated.channel_mm, CHANNEL_MM),
    )
    for name, what, values, (low, high) in bounds:
        where = Where(field=name)
        problems += [
            Problem(what=f"{value:g} {what}", cure="Check the number and its unit.", where=where)
            for value in values
            if value is not None and not low <= value <= high
        ]
        if values and len(values) != n:
            words = f"{len(values)} values are given for {n} stations"
            cure = "Give one for each station, in their order; a dash where none was taken."
            problems.append(Problem(what=words, cure=cure, where=where))
    if len(set(stated.behind_mm)) < n:
        cure = "Give each station its own distance."
        problems.append(
            Problem(what="two stations have one distance", cure=cure, where=Where(field="stations"))
        )
    return problems


def curves_across(photos: Sequence[NamedSheet], stated: SectionsStated) -> CurvesGathered:
    """Return the curves of a saddle's photos.

    Parameters
    ----------
    photos : in the order of the stations where the sheets' rings do not say it
    stated : what was measured beside them

    Raises
    ------
    InputProblemsError
        With everything that is wrong: a photo of something else, a station without its distance or there
        twice, a panel whose inner edge nothing says.
    """
    problems = stated_problems(stated)
    remarks: list[Problem] = []
    curves: list[CurveAcross] = []
    gaps: list[float] = []
    seen: set[int] = set()
    for one in stations_of([photo.sheet for photo in photos]):
        photo = photos[one.photo]
        if one.curve == 0:
            remarks += _said_of(photo)
        wrong = _misplaced(one, photo, stated, seen)
        if wrong is not None:
            problems.append(wrong)
            continue
        seen.add(one.station)
        if one.is_guessed:
            remarks.append(_guessed(one, photo))
        found = _across(photo.sheet.curves[one.curve], one.station, stated, photo.name)
        if isinstance(found, CurveAcross):
            curves.append(found)
            gaps += stated.gaps_mm[one.station - 1 : one.station]
        else:
            problems += found
    if problems:
        raise InputProblemsError(problems)
    return CurvesGathered(
        curves=tuple(curves), gaps_mm=tuple(gaps) if stated.gaps_mm else None, remarks=tuple(remarks)
    )


def _misplaced(
    one: CurveStation, photo: NamedSheet, stated: SectionsStated, seen: set[int]
) -> Problem | None:
    where = Where(file=photo.name, station=one.station or None)
    if photo.sheet.kind is not SheetKind.SADDLE:
        return Problem(
            what=f"this is a sheet for a back ({photo.sheet.kind.value})",
            cure="Leave it out; print the sheet for a saddle.",
            where=where,
        )
    if one.station > len(stated.behind_mm):
        return Problem(
            what=f"station {one.station} has no distance; {len(stated.behind_mm)} are given",
            cure="Give a distance for every station, or leave the curve out.",
            where=where,
        )
    if one.station in seen:
        return Problem(
            what=f"two curves are of station {one.station}", cure="Leave one of them out.", where=where
        )
    return None


def _said_of(photo: NamedSheet) -> list[Problem]:
    where = Where(file=photo.name)
    return [
        Problem(what=said.what, cure=said.cure, where=where, weight=said.weight)
        for said in photo.sheet.remarks
    ]


def _guessed(one: CurveStation, photo: NamedSheet) -> Problem:
    return Problem(
        what=f"curve {one.curve + 1} is taken as station {one.station}, by its order",
        cure="Fill in the ring of each station on the sheet, and nothing is guessed.",
        where=Where(file=photo.name, station=one.station),
        weight=Weight.WARNING,
    )


def _across(curve: ReadCurve, station: int, stated: SectionsStated, name: str) -> CurveAcross | list[Problem]:
    flip = np.array([-1.0, 1.0]) if stated.mirrored else np.ones(2)
    points, ticks = (curve.points * flip)[curve.seen], curve.ticks * flip
    width = stated.channel_mm[station - 1] if stated.channel_mm else None
    sides: dict[str, FloatArray] = {}
    problems = []
    marked = []
    for side, sign in (("near", -1.0), ("off", 1.0)):
        where = Where(file=name, station=station, side=side)
        strokes = sorted(float(sign * x) for x in ticks[:, 0])
        inner = _stroke(curve, -sign if stated.mirrored else sign)
        marked.append(inner is not None)
        if inner is None and width is None:
            what = f"no stroke says where the {side} panel begins"
            cure = (
                "Draw a short stroke across the curve at its inner edge, or give the channel’s width there."
            )
            problems.append(Problem(what=what, cure=cure, where=where))
            continue
        begins = 0.5 * width if inner is None and width is not None else float(inner or 0.0)
        ends = next((x for x in strokes if x > begins + NARROWEST_MM), None)
        line = _face(points * (sign, 1.0), begins, ends)
        if len(line) < 3 or line[-1, 0] - begins < NARROWEST_MM:
            what = f"the curve reaches less than {NARROWEST_MM:.0f} mm beyond the {side} panel’s inner edge"
            cure = "Trace it to the panel’s outer edge; or leave this section out."
            problems.append(Problem(what=what, cure=cure, where=where))
            continue
        sides[side] = line
    if problems:
        return problems
    lean = stated.leans_deg[station - 1] if stated.leans_deg else None
    return CurveAcross(
        behind_mm=stated.behind_mm[station - 1],
        near=sides["near"],
        off=sides["off"],
        edges_are_marked=all(marked),
        lean=None if lean is None else radians(lean),
    )


def _face(points: FloatArray, begins: float, ends: float | None) -> FloatArray:
    """Return one panel's face from its inner edge outwards, (k, 2) float [mm], every 6 mm and both ends."""
    middle = int(np.abs(points[:, 0]).argmin())
    # Which way round the line runs outwards on this side.
    arm = points[middle:] if points[-1, 0] > points[0, 0] else points[middle::-1]
    if len(arm) < 2 or arm[:, 0].max() <= begins:
        return np.zeros((0, 2))
    first = int(np.argmax(arm[:, 0] > begins))
    last = len(arm) if ends is None or arm[:, 0].max() <= ends else int(np.argmax(arm[:, 0] > ends))
    parts = [_between(arm, first, begins), arm[first:last]]
    if ends is not None and last < len(arm):
        parts.append(_between(arm, last, ends))
    face = np.vstack(parts)
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(face, axis=0), axis=1))])
    count = max(3, round(length[-1] / POINT_STEP_MM) + 1)
    at = np.searchsorted(length, np.linspace(0.0, length[-1], count))
    return face[np.unique(np.minimum(at, len(face) - 1))]


def _between(arm: FloatArray, after: int, out: float) -> FloatArray:
    """Return where an arm is so far out, between a point and the one before it, (1, 2) float [mm]."""
    one, other = arm[max(after - 1, 0)], arm[after]
    share = (out - one[0]) / (other[0] - one[0]) if other[0] != one[0] else 0.0
    return np.asarray(one + np.clip(share, 0.0, 1.0) * (other - one))[None, :]
