"""Plan views, head up: clearance and pressure under both panels, with the marks on the back."""

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, Colormap
from matplotlib.patches import Rectangle

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.dimension import label
from saddlebench.exchange.drawings.geometry import centre_of_pressure, lattice, saddle_reach
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style, scale_bar
from saddlebench.exchange.vocabulary import said

SCALES = (1 / 5, 1 / 6, 1 / 8, 1 / 10)
"""The largest that fits the paper is taken."""
LABELS_MM = 23.0
LEAST_CELL_MM = 85.0
MARGIN_MM = 3.0
BEARS_KPA = 1.0
"""Contact is pressure above 1 kPa."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapKind:
    """One quantity on the plan, its bands and its words."""

    name: str
    unit: str
    levels: tuple[float, ...]
    colours: Colormap
    rest_words: str
    """What lies below the first band."""


PRESSURE = MapKind(
    name="Pressure",
    unit="kPa",
    levels=(BEARS_KPA, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0),
    colours=ink.PRESSURE_MAP,
    rest_words="not bearing",
)
CLEARANCE = MapKind(
    name="Clearance",
    unit="mm",
    levels=(0.5, 3.0, 6.0, 10.0, 15.0, 25.0),
    colours=ink.CLEARANCE_MAP,
    rest_words="bearing",
)


def plan(scene: Scene, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return plan views of clearance and of pressure to scale, head up.

    Parameters
    ----------
    scene
        The back, the saddle, and how it sits.
    width_mm
        Paper width [mm]: one below the other on a phone, side by side on an A4 page.
    """
    front, rear = _extent(scene)
    n_columns = 2 if width_mm >= 2 * LEAST_CELL_MM + 3 * MARGIN_MM else 1
    cell_width = (width_mm - MARGIN_MM) / n_columns - MARGIN_MM
    scale = _scale_for(scene, cell_width - LABELS_MM)
    cell_height = (rear - front) * scale + 23.0
    height = 17.0 + cell_height * (2 // n_columns)
    with drawing_style():
        sheet = Sheet(width_mm, height)
        sheet.heading(MARGIN_MM, 6.0, said("Plan view, head up"), scene.subtitle)
        for k, kind in enumerate((PRESSURE, CLEARANCE)):
            left = MARGIN_MM + (k % n_columns) * (cell_width + MARGIN_MM)
            _cell(sheet, scene, kind, (left, 17.0 + (k // n_columns) * cell_height, cell_width), scale)
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Plan view')}: {scene.pair}, {scene.state}",
        description=_in_words(scene, scale),
        scale=scale,
    )


def before_and_after(before: Scene, after: Scene, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the pressure under both panels before and after an alteration, to one scale and in one key.

    Parameters
    ----------
    before, after
        The same saddle on the same back under the same load, as it is and as altered.
    width_mm
        Paper width [mm]: one below the other on a phone, side by side on an A4 page.
    """
    n_columns = 2 if width_mm >= 2 * LEAST_CELL_MM + 3 * MARGIN_MM else 1
    cell_width = (width_mm - MARGIN_MM) / n_columns - MARGIN_MM
    scale = min(_scale_for(scene, cell_width - LABELS_MM) for scene in (before, after))
    heights = [(rear - front) * scale + 23.0 for front, rear in (_extent(before), _extent(after))]
    with drawing_style():
        sheet = Sheet(width_mm, 17.0 + (max(heights) if n_columns == 2 else sum(heights)))
        sheet.heading(MARGIN_MM, 6.0, said("Pressure before and after, head up"), before.subtitle)
        top = 17.0
        for k, (words, scene) in enumerate(((said("before"), before), (said("after"), after))):
            left = MARGIN_MM + (k % n_columns) * (cell_width + MARGIN_MM)
            _cell(sheet, scene, PRESSURE, (left, top, cell_width), scale)
            sheet.text(left + cell_width, top + 4.0, words, weight="bold", ha="right")
            top += heights[k] if n_columns == 1 else 0.0
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Pressure before and after')}: {before.pair}, {before.state}",
        description=" ".join(
            f"{said(when)}: {_in_words(scene, scale)}"
            for when, scene in (("Before", before), ("After", after))
        ),
        scale=scale,
    )


def side_shares(scene: Scene) -> tuple[float, float]:
    """Return the shares of the load near and off [1]; zeros without load."""
    load = scene.settled.pressure_kpa * scene.saddle.bearing.area_mm2
    total = float(load.sum())
    near = float(load[scene.saddle.bearing.side == 1].sum()) / total if total > 0.0 else 0.0
    return near, (1.0 - near if total > 0.0 else 0.0)


def _in_words(scene: Scene, scale: float) -> str:
    near, off = side_shares(scene)
    return said(
        f"Seen from above, head up, near side on the left, scale 1:{1 / scale:.0f}. Highest pressure "
        f"{scene.settled.pressure_kpa.max():.0f} kPa, largest clearance under a panel "
        f"{max(scene.settled.gap_mm.max(), 0.0):.0f} mm; near panel carries {near:.0%}, off panel {off:.0%}."
    )


def _scale_for(scene: Scene, room_mm: float) -> float:
    half = _half_width(scene)
    return next((scale for scale in SCALES if 2 * half * scale <= room_mm), SCALES[-1])


def _half_width(scene: Scene) -> float:
    points = scene.settled.saddle_to_back.points(scene.saddle.bearing.points_saddle)
    return float(np.abs(points[:, 1]).max()) + 6.0


def _extent(scene: Scene) -> tuple[float, float]:
    front, rear = saddle_reach(scene)
    marks = [mark.value_mm for _, mark, _ in _marks(scene) if is_known(mark)]
    return min([front, *marks]) - 20.0, max([rear, *marks]) + 20.0


def _marks(scene: Scene) -> tuple[tuple[str, Mark | NotMeasured, int], ...]:
    marks = scene.landmarks
    return (
        ("shoulder, near", marks.shoulder_left, 1),
        ("shoulder, off", marks.shoulder_right, -1),
        ("girth groove", marks.girth_groove, 0),
        ("lowest point", marks.lowest, 0),
        ("last rib", marks.last_rib, 0),
    )


def _cell(sheet: Sheet, scene: Scene, kind: MapKind, box: tuple[float, float, float], scale: float) -> None:
    left, top, width = box
    front, rear = _extent(scene)
    sheet.text(left, top + 4.0, f"{said(kind.name)}, {kind.unit}", weight="bold")
    map_left = left + LABELS_MM
    map_width = min(width - LABELS_MM, 2 * max(_half_width(scene), 150.0) * scale)
    axes = sheet.scaled_axes(
        map_left, top + 8.0, map_width, (rear - front) * scale, scale=scale, centre=(0.0, -(front + rear) / 2)
    )
    axes.set_gid(f"plan-{kind.name.lower()}")
    half = map_width / scale / 2
    sheet.text(map_left, top + 7.2, said("NEAR (left)"), color=ink.SOFT)
    sheet.text(map_left + map_width, top + 7.2, said("OFF (right)"), color=ink.SOFT, ha="right")
    sheet.text(map_left + map_width / 2, top + 7.2, f"▲ {said('head')}", color=ink.SOFT, ha="center")
    _draw_spine(axes, scene, front, rear)
    field = scene.settled.pressure_kpa if kind is PRESSURE else scene.settled.gap_mm
    for side in (1, -1):
        draw_panel_map(axes, scene, side, field, kind)
    _draw_marks(axes, scene, half, scale)
    if kind is PRESSURE:
        _draw_centre(axes, scene)
    _key(sheet, kind, left, top + 8.0 + (rear - front) * scale, width)
    scale_bar(axes, -half + 1, -rear + 3, length_mm=100.0, scale=scale, name=f"plan-{kind.name.lower()}")


def draw_panel_map(axes: Axes, scene: Scene, side: int, field: FloatArray, kind: MapKind) -> None:
    """Fill one panel with the bands of a field, label the lines between them, hatch what is not known."""
    held = lattice(scene, side)
    x, y = -held.points[:, :, 1], held.points[:, :, 0]
    values = np.clip(field[held.index], None, kind.levels[-1] - 1e-6)
    measured = scene.settled.measured[held.index].astype(float)
    low = min(float(values.min()), kind.levels[0]) - 1.0
    axes.contourf(x, y, values, levels=[low, kind.levels[0]], colors=[ink.PAPER])
    if kind is PRESSURE:
        axes.contourf(x, y, values, levels=[low, kind.levels[0]], colors="none", hatches=[ink.OPEN_HATCH])
    else:
        axes.contourf(x, y, values, levels=[low, kind.levels[0]], colors=[ink.PANEL_FILL])
    axes.contourf(x, y, values, levels=kind.levels, colors=_shades(kind))
    lines = axes.contour(x, y, values, levels=kind.levels, colors=ink.INK, linewidths=0.4)
    for text in axes.clabel(lines, fmt="%.3g", fontsize=ink.TEXT_PT * 0.87, inline=False, colors=ink.INK):
        text.set_bbox({"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.4, "alpha": 0.8})
        text.set_rotation(0)
    if not np.all(measured > 0.5):
        axes.contourf(x, y, measured, levels=[-1.0, 0.5], colors=[ink.PAPER])
        axes.contourf(x, y, measured, levels=[-1.0, 0.5], colors="none", hatches=[ink.NOT_MEASURED_HATCH])
    edges = {"inner": held.points[:, 0], "outer": held.points[:, -1], "front": held.points[0]}
    for name, line in {**edges, "rear": held.points[-1]}.items():
        (drawn,) = axes.plot(-line[:, 1], line[:, 0], color=ink.INK, lw=ink.LINE_PT * 0.8, zorder=6)
        drawn.set_gid(f"panel-{'near' if side > 0 else 'off'}-{name}")


def _shades(kind: MapKind) -> list[tuple[float, float, float, float]]:
    norm = BoundaryNorm(kind.levels, 256)
    middles = [(a + b) / 2 for a, b in zip(kind.levels[:-1], kind.levels[1:], strict=True)]
    return [kind.colours(norm(value)) for value in middles]


def _draw_spine(axes: Axes, scene: Scene, front: float, rear: float) -> None:
    strip = scene.landmarks.spine_strip_width
    if is_known(strip):
        axes.add_patch(
            Rectangle(
                (-strip.value_mm / 2, -rear),
                strip.value_mm,
                rear - front,
                facecolor=ink.STRIP_FILL,
                edgecolor="none",
                zorder=0,
            )
        )
    axes.plot([0, 0], [-rear, -front], color=ink.SOFT, lw=ink.HAIR_PT, ls=(0, (8, 2, 1, 2)), zorder=1)


def _draw_marks(axes: Axes, scene: Scene, half: float, scale: float) -> None:
    known = [(name, mark.value_mm, side) for name, mark, side in _marks(scene) if is_known(mark)]
    known.sort(key=lambda item: item[1])
    least = 3.6 / scale
    heights: list[float] = []
    for _, s, _ in known:
        heights.append(max(s, heights[-1] + least) if heights else s)
    for (name, s, side), height in zip(known, heights, strict=True):
        start, end = (-half, half) if side == 0 else ((-half, -20.0) if side > 0 else (20.0, half))
        axes.plot([start, end], [-s, -s], color=ink.SOFT, lw=ink.HAIR_PT, ls=(0, (4, 2)), zorder=8)
        if side >= 0:
            axes.plot(
                [-half - 8, -half],
                [-height, -s],
                color=ink.SOFT,
                lw=ink.HAIR_PT * 0.8,
                clip_on=False,
                zorder=8,
            )
        axes.text(-half - 10, -height, said(name), ha="right", va="center", size=ink.TEXT_PT, color=ink.SOFT)


def _draw_centre(axes: Axes, scene: Scene) -> None:
    centre = centre_of_pressure(scene)
    if centre is None:
        return
    place = (-float(centre[1]), float(centre[0]))
    axes.plot(*place, marker="o", ms=6.5, mfc=ink.PAPER, mec=ink.INK, mew=1.0, zorder=9)
    axes.plot(*place, marker="+", ms=6.5, color=ink.INK, mew=1.0, zorder=10)


def _key(sheet: Sheet, kind: MapKind, left: float, top: float, width: float) -> None:
    axes = sheet.axes(left, top, width, 14.0)
    axes.set_xlim(0, width)
    axes.set_ylim(0, 14)
    step = (width - 20.0) / (len(kind.levels) - 1)
    for k, shade in enumerate(_shades(kind)):
        axes.add_patch(Rectangle((20 + k * step, 8.2), step, 2.8, facecolor=shade, edgecolor=ink.INK, lw=0.3))
    for k, level in enumerate(kind.levels[:-1]):
        label(axes, 20 + k * step, 4.8, said(f"{level:g}"))
    hatch = ink.OPEN_HATCH if kind is PRESSURE else ""
    fill = ink.PAPER if kind is PRESSURE else ink.PANEL_FILL
    axes.add_patch(Rectangle((0.2, 8.2), 14.0, 2.8, facecolor=fill, hatch=hatch, edgecolor=ink.INK, lw=0.3))
    label(axes, 0.0, 4.8, said(kind.rest_words), align="left")
    axes.add_patch(
        Rectangle((0.2, 0.2), 7.0, 2.6, facecolor=ink.PAPER, hatch="xxxxx", edgecolor=ink.INK, lw=0.3)
    )
    label(axes, 8.5, 0.7, said("not measured"), align="left")
    axes.add_patch(Rectangle((29.5, 0.2), 4.0, 2.6, facecolor=ink.STRIP_FILL, edgecolor="none"))
    label(axes, 34.5, 0.7, said("spine strip"), align="left")
    if kind is PRESSURE:
        axes.plot(63.5, 1.5, marker="o", ms=5.5, mfc=ink.PAPER, mec=ink.INK, mew=0.9)
        axes.plot(63.5, 1.5, marker="+", ms=5.5, color=ink.INK, mew=0.9)
        label(axes, 65.5, 0.7, said("centre of load"), align="left")
