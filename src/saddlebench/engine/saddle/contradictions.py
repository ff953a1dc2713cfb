"""Numbers of a saddle that contradict each other: said in words, with the cure."""

from collections.abc import Iterator
from math import cos, radians, sin

import numpy as np

from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.saddle.bars import MIDDLE, BarsNumbers, bar_face
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.face import Face
from saddlebench.engine.saddle.fittings import Fittings
from saddlebench.engine.saddle.panelled import PanelledNumbers, panel_sides
from saddlebench.engine.saddle.panels import (
    WAIST,
    PanelSide,
    face,
    front_edge_z,
)
from saddlebench.engine.saddle.side_saddle import SideSaddleNumbers, saddle_sides

SPINE_STRIP_MM = 40.0
"""No horse's spine strip is narrower than about this (common practice)."""
_LOWEST_FRONT_MM, _HIGHEST_FRONT_MM = -70.0, 120.0
_APART_MM = 40.0
_ALONG = 49
_LEAST_WIDTH_MM = 20.0
_ROUNDEST = 0.2
_STEEPEST = radians(85.0)


def panelled_contradictions(numbers: PanelledNumbers) -> list[Problem]:
    """Return what contradicts itself in a panelled saddle."""
    near, _ = panel_sides(numbers)
    return [
        *_panel_contradictions(near, "panel", "tree"),
        *_fitting_contradictions(numbers.fittings, numbers.panel.length_mm),
    ]


def side_contradictions(numbers: SideSaddleNumbers) -> list[Problem]:
    """Return what contradicts itself in a side-saddle."""
    near, off = saddle_sides(numbers)
    return [
        *_panel_contradictions(near, "near.panel", "near"),
        *_panel_contradictions(off, "off.panel", "off"),
        *_fitting_contradictions(numbers.fittings, numbers.near.panel.length_mm),
    ]


def _too_far_back(what: str, field: str) -> Problem:
    return Problem(
        what=f"the {what} would stand at the waist of the saddle",
        cure="Measure their distance from the front edge backwards.",
        where=Where(field=field),
    )


def bars_contradictions(numbers: BarsNumbers) -> list[Problem]:
    """Return what contradicts itself in a saddle with bars."""
    if numbers.fork.behind_mm > MIDDLE * numbers.bar.length_mm - _APART_MM:
        return [_too_far_back("fork", "fork.behind")]
    return [
        *_face_contradictions(bar_face(numbers, off=False), "bar", "crown"),
        *_fitting_contradictions(numbers.fittings, numbers.bar.length_mm),
    ]


def cut_contradictions(numbers: CutBackNumbers) -> list[Problem]:
    """Return what contradicts itself in a cut-back saddle."""
    problems = panelled_contradictions(numbers.base)
    rear = numbers.base.tree.behind_mm + numbers.cut.depth_mm
    waist = WAIST * numbers.base.panel.length_mm
    if rear > waist - 10.0:
        problems.append(
            Problem(
                what=f"the cut would reach {rear:.0f} mm behind the front edge, to the waist of the seat",
                cure="Measure the cut from the points back to its rear edge.",
                where=Where(field="cut.depth"),
            )
        )
    return problems


def _face_contradictions(one: Face, part: str, rounding: str) -> Iterator[Problem]:
    """Tell where numbers that are possible one by one make no face between the places they are taken at."""
    d = np.linspace(0.0, one.length_mm, _ALONG)
    width = one.width_mm(d)
    if width.min() < _LEAST_WIDTH_MM:
        yield Problem(
            what=f"between the places it is measured at, the width would fall to {width.min():.0f} mm",
            cure="Measure the width again at each place: they differ too much to be one panel's.",
            where=Where(field=f"{part}.width"),
        )
    elif (np.abs(one.rounding_mm(d)) > _ROUNDEST * width).any():
        yield Problem(
            what="the face would be rounder across than a pipe",
            cure="Lay a straight edge across the face and measure how far its middle stands out beyond it.",
            where=Where(field=f"{part}.{rounding}"),
        )
    if one.inner_y_mm(d).min() < 0.25 * SPINE_STRIP_MM:
        yield Problem(
            what="between the places they are measured at, the two sides would meet over the spine",
            cure="Measure the gap between them again at each place.",
            where=Where(field=f"{part}.{'spread' if part == 'bar' else 'channel'}"),
        )
    if np.abs(one.angle_rad(d)).max() > _STEEPEST:
        yield Problem(
            what="between the places it is measured at, the face would stand upright",
            cure="Measure the angles again: they differ too much to be one panel's.",
            where=Where(field=f"{part}.angle"),
        )


def _panel_contradictions(side: PanelSide, part: str, tree: str) -> Iterator[Problem]:
    panel, arch = side.panel, side.arch
    if arch.behind_mm > WAIST * panel.length_mm - _APART_MM:
        yield _too_far_back("points", "tree.behind" if tree == "tree" else "behind")
        return
    yield from _face_contradictions(face(side), part, "rounding")
    front = front_edge_z(side) - side.waist_z_mm
    if not _LOWEST_FRONT_MM <= front <= _HIGHEST_FRONT_MM:
        yield Problem(
            what=f"the tree's width, depth, angle and rise together put the inner edge of the panels' front "
            f"{abs(front):.0f} mm {'above' if front > 0.0 else 'below'} their waist",
            cure="Measure the four again, all on the inner face of the arch; check their units.",
            where=Where(field=tree),
        )
    narrowest = min(panel.channel_mm)
    if narrowest < SPINE_STRIP_MM:
        yield Problem(
            what=f"the channel is {narrowest:g} mm wide, narrower than any horse's spine strip",
            cure="Measure the gap between the panels at its narrowest, and check its unit.",
            where=Where(field=f"{part}.channel"),
        )
    if max(panel.width_mm) > 0.6 * panel.length_mm:
        yield Problem(
            what=f"a panel {max(panel.width_mm):g} mm wide on {panel.length_mm:g} mm of length is no panel",
            cure="Measure the width of one panel along its face, from the channel to its outer edge.",
            where=Where(field=f"{part}.width"),
        )
    if panel.front_corner_mm + panel.rear_corner_mm > 0.5 * panel.length_mm:
        yield Problem(
            what="the rounded corners take up more than half of the panel's length",
            cure="Measure how far a corner lies behind the middle of the panel's end.",
            where=Where(field=f"{part}.rear_corner"),
        )
    inward = arch.half_width_mm - arch.point_mm * sin(arch.half_angle)
    below = arch.depth_mm - arch.point_mm * cos(arch.half_angle)
    if inward <= 0.0 or below <= 0.0:
        yield Problem(
            what="points so long at this angle would cross, or stand above the inside top of the arch",
            cure="Measure the straight part of a point only, and the width at the point ends.",
            where=Where(field=f"{tree}.point"),
        )
    if arch.half_width_mm - side.cover_mm * cos(arch.half_angle) <= 0.5 * panel.channel_mm[0]:
        yield Problem(
            what="the point ends lie no further apart than the channel is wide",
            cure="Measure the tree between the insides of the point ends, the channel between the panels.",
            where=Where(field=f"{tree}.width"),
        )


def _fitting_contradictions(fittings: Fittings, length_mm: float) -> Iterator[Problem]:
    seat = fittings.seat
    if not seat.front_behind_mm + 30.0 <= seat.lowest_behind_mm <= seat.rear_behind_mm - 30.0:
        yield Problem(
            what="the lowest point of the seat does not lie between pommel and cantle",
            cure="Measure its distance behind the front edge of the panels, with the seat level.",
            where=Where(field="seat.lowest_behind"),
        )
    if fittings.stirrups.behind_mm >= seat.lowest_behind_mm + 40.0:
        yield Problem(
            what="the stirrup bars lie behind the lowest point of the seat",
            cure="Measure both from the front edge of the panels.",
            where=Where(field="stirrups.behind"),
        )
    names = [strap.name for strap in fittings.straps]
    for strap in fittings.straps:
        if strap.behind_mm > length_mm:
            yield Problem(
                what=f"the {strap.name} is anchored behind the end of the saddle",
                cure="Measure from the front edge of the panels.",
                where=Where(field=f"straps.{strap.name}.behind"),
            )
    if len(set(names)) < len(names):
        yield Problem(
            what="two pairs of girth straps have the same name",
            cure="Give each pair its own name, such as front strap and rear strap.",
            where=Where(field="straps"),
        )
