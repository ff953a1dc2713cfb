"""Side view, head to the left: topline, saddle, rider's load, girth straps, marks and tilt."""

from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes

from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.loads import State
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.dimension import label, percent
from saddlebench.exchange.drawings.geometry import BoolArray, lattice, saddle_reach, topline
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style, scale_bar
from saddlebench.exchange.vocabulary import said

MARGIN_MM = 4.0
BEYOND_MM = 80.0
SCALES = (1 / 5, 1 / 6, 1 / 8, 1 / 10)
"""The largest that fits the paper is taken."""


def side(scene: Scene, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the side view to scale, seen from the near side, head to the left.

    Parameters
    ----------
    scene
        The back, the saddle, and how it sits.
    width_mm
        Paper width [mm]; the scale is the largest of `SCALES` that fits.
    """
    s, z, measured = topline(scene.surface)
    front, rear = _extent(scene)
    shown = (s >= front) & (s <= rear)
    s, z, measured = s[shown], z[shown], measured[shown]
    room = width_mm - 2 * MARGIN_MM
    scale = next((value for value in SCALES if (rear - front) * value <= room), SCALES[-1])
    seat = _seat_line(scene)
    floor, high = float(np.min(z)) - 130.0, float(max(seat[:, 1].max(), seat[:, 1].min() + 20.0 / scale))
    low = floor - 16.0 / scale
    height = 21.0 + (high - low) * scale + 5.0
    with drawing_style():
        sheet = Sheet(width_mm, height)
        sheet.heading(MARGIN_MM, 6.0, said("Side view, head to the left"), scene.subtitle)
        axes = sheet.scaled_axes(
            MARGIN_MM,
            18.0,
            room,
            (high - low) * scale,
            scale=scale,
            centre=((front + rear) / 2, (low + high) / 2),
        )
        axes.set_gid("side-view")
        _draw_back(axes, s, z, measured, floor)
        _draw_saddle(axes, scene, seat)
        _draw_straps(axes, scene, floor)
        _draw_marks(axes, scene, floor, scale)
        _draw_load(axes, scene, seat, scale)
        tilt = tilt_words(scene)
        sheet.text(MARGIN_MM, 18.5, said(f"Seat {tilt}"), weight="bold")
        scale_bar(axes, axes.get_xlim()[0] + 2, low + 1.5 / scale, length_mm=100.0, scale=scale, name="side")
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Side view')}: {scene.pair}, {scene.state}",
        description=said(f"Seen from the near side, head to the left, scale 1:{1 / scale:.0f}. Seat {tilt}."),
        scale=scale,
    )


def _extent(scene: Scene) -> tuple[float, float]:
    places = [*saddle_reach(scene), *(s for s, _ in _known_marks(scene))]
    return min(places) - BEYOND_MM, max(places) + BEYOND_MM


def _known_marks(scene: Scene) -> list[tuple[float, str]]:
    marks = scene.landmarks
    named = (
        ("withers", marks.withers),
        ("shoulder", marks.shoulder_left),
        ("girth groove", marks.girth_groove),
        ("lowest point", marks.lowest),
        ("last rib", marks.last_rib),
    )
    return sorted((mark.value_mm, said(name)) for name, mark in named if is_known(mark))


def tilt_deg(scene: Scene) -> float:
    """Return how far the saddle is tipped from level as designed [°]; positive: front higher."""
    forward = scene.settled.saddle_to_back.rotation[:, 0]
    return float(np.degrees(np.arctan2(forward[2], np.hypot(forward[0], forward[1]))))


def tilt_words(scene: Scene) -> str:
    """Return the tilt in words."""
    tilt = tilt_deg(scene)
    if abs(tilt) < 0.05:
        return "level as designed"
    return f"tipped {abs(tilt):.1f}° {'back' if tilt > 0 else 'forward'} from level as designed"


def _seat_line(scene: Scene) -> FloatArray:
    seat = scene.saddle.seat
    points = scene.settled.saddle_to_back.points(
        np.column_stack([seat.x_mm, np.zeros(seat.x_mm.size), seat.z_mm])
    )
    return np.column_stack([-points[:, 0], points[:, 2]])


def _draw_back(axes: Axes, s: FloatArray, z: FloatArray, measured: BoolArray, floor: float) -> None:
    axes.fill_between(s, floor, z, where=measured, color=ink.BACK_FILL, lw=0, zorder=1)
    axes.fill_between(
        s, floor, z, where=~measured, facecolor="none", edgecolor=ink.HAIR, hatch=ink.NOT_MEASURED_HATCH, lw=0
    )
    axes.plot(s, np.where(measured, z, np.nan), color=ink.BACK_LINE, lw=ink.LINE_PT, zorder=4)
    axes.plot(s, np.where(measured, np.nan, z), color=ink.BACK_LINE, lw=ink.LINE_PT, ls=(0, (3, 2)), zorder=4)


def _draw_saddle(axes: Axes, scene: Scene, seat: FloatArray) -> None:
    points = lattice(scene, 1).points
    inner, outer = points[:, 0], points[:, -1]
    order = np.argsort(seat[:, 0])
    body = np.concatenate([seat[order], np.column_stack([-outer[::-1, 0], outer[::-1, 2]])])
    axes.fill(body[:, 0], body[:, 1], color=ink.PANEL_FILL, alpha=0.85, zorder=5, lw=0)
    axes.plot(-inner[:, 0], inner[:, 2], color=ink.SOFT, lw=ink.HAIR_PT, ls=(0, (4, 2)), zorder=6)
    axes.plot(-outer[:, 0], outer[:, 2], color=ink.INK, lw=ink.LINE_PT, zorder=6)
    for end in (0, -1):
        axes.plot(
            [seat[order][end, 0], -outer[end, 0]],
            [seat[order][end, 1], outer[end, 2]],
            color=ink.INK,
            lw=ink.LINE_PT,
            zorder=6,
        )
    axes.plot(seat[:, 0], seat[:, 1], color=ink.INK, lw=2.4, zorder=7)
    arch = scene.settled.saddle_to_back.points(scene.saddle.arch_saddle)
    axes.plot(-arch[:, 0], arch[:, 2], color=ink.INK, lw=ink.HAIR_PT, zorder=6)
    level = [seat[:, 0].min(), seat[:, 0].max()]
    base = float(seat[:, 1].min()) - 4.0
    axes.plot(level, [base, base], color=ink.SOFT, lw=ink.HAIR_PT, ls=(0, (6, 2)), zorder=8)
    axes.text(level[1] + 8, base, said("level"), size=ink.TEXT_PT, va="center", color=ink.SOFT)


def _draw_straps(axes: Axes, scene: Scene, floor: float) -> None:
    groove = scene.landmarks.girth_groove
    for strap in scene.saddle.straps:
        anchor = scene.settled.saddle_to_back.points(strap.left_saddle[None, :])[0]
        foot = groove.value_mm if is_known(groove) else float(-anchor[0])
        axes.plot([-anchor[0], foot], [anchor[2], floor], color=ink.LOAD, lw=1.6, zorder=9)
        axes.plot([-anchor[0]], [anchor[2]], marker="s", ms=3.5, color=ink.LOAD, zorder=9)


def _draw_marks(axes: Axes, scene: Scene, floor: float, scale: float) -> None:
    known = _known_marks(scene)
    height = 3.4 / scale
    rows = _rows_without_overlap([s for s, _ in known], [len(name) * 1.45 / scale for _, name in known])
    top_s, top_z, _ = topline(scene.surface)
    for (s, name), row in zip(known, rows, strict=True):
        base = floor - (row + 1) * height
        axes.plot(
            [s, s],
            [base + height * 0.75, float(np.interp(s, top_s, top_z))],
            color=ink.SOFT,
            lw=ink.HAIR_PT,
            ls=(0, (4, 2)),
            zorder=3,
        )
        label(axes, s, base, name, colour=ink.SOFT, halo=True)


def _rows_without_overlap(places: list[float], widths: list[float]) -> list[int]:
    """Return for each label, from left to right, the first row (from 0) in which it has room."""
    ends: list[float] = []
    rows = []
    for place, width in zip(places, widths, strict=True):
        row = next((k for k, end in enumerate(ends) if place - width / 2 > end), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = place + width / 2
        rows.append(row)
    return rows


def _draw_load(axes: Axes, scene: Scene, seat: FloatArray, scale: float) -> None:
    case = scene.settled.case
    if case.state not in (State.RIDER_UP, State.MOVING):
        return
    lowest = seat[int(np.argmin(seat[:, 1]))]
    bar = scene.settled.saddle_to_back.points(scene.saddle.seat.stirrup_bar_left[None, :])[0]
    longest = 13.0 / scale
    places = (
        (float(lowest[0]), float(lowest[1]), 1.0 - case.stirrup_share, "seat"),
        (float(-bar[0]), float(bar[2]), case.stirrup_share, "stirrups"),
    )
    for s, z, share, name in places:
        if share <= 0.0:
            continue
        axes.annotate(
            "",
            xy=(s, z),
            xytext=(s, z + max(longest * share, 4.0 / scale)),
            arrowprops={
                "arrowstyle": "-|>,head_length=0.5,head_width=0.22",
                "lw": 1.8,
                "color": ink.LOAD,
                "shrinkA": 0,
                "shrinkB": 0,
            },
            zorder=10,
        )
        label(
            axes,
            s,
            z + max(longest * share, 4.0 / scale) + 1.0 / scale,
            f"{said(name)} {percent(share)}",
            halo=True,
        )


def gaps_along(s: FloatArray, is_open: BoolArray) -> list[tuple[float, float]]:
    """Return the stretches (from, to) [mm] of consecutive places (n,) [mm] that are open, ends included."""
    held = np.concatenate([[False], is_open, [False]]).astype(int)
    changes = np.flatnonzero(np.diff(held))
    return [(float(s[a]), float(s[b - 1])) for a, b in list(pairwise(changes))[::2]]
