"""Cross-sections of the back with the saddle in place, as seen from behind: the horse's left on the left."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize

from saddlebench.engine.errors import is_known
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import Zone
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.clearances import arch_station, draw_clearances, highest_over
from saddlebench.exchange.drawings.dimension import label
from saddlebench.exchange.drawings.geometry import (
    BoolArray,
    Underside,
    back_section,
    saddle_reach,
    underside,
    zone_station,
)
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.drawings.sheet import (
    PAGE_WIDTH_MM,
    PHONE_WIDTH_MM,
    Drawing,
    Sheet,
    drawing_style,
    scale_bar,
)
from saddlebench.exchange.vocabulary import said

SCALE = 0.2
"""1:5, whatever the paper: a section 450 mm wide fills half an A4 page or a phone."""
CELL_HEIGHT_MM = 66.0
LEGEND_HEIGHT_MM = 16.0
PRESSED_NOTE = (
    "Panels are drawn unpressed: as far as they lie below",
    "the back's line, panel, pad and flesh give way.",
)
ROW_SCALE, ROW_HEIGHT_MM = 1 / 8, 46.0
ROW_PLACES = ("Front arch", "Waist", "Rear")
LEAST_CELL_MM = 80.0
LEAST_FOR_WORDS_MM = 70.0
MARGIN_MM = 4.0
HAIR_MM_PER_KPA = 2.0
"""True length on the drawing of the hair that stands for 1 kPa."""
HAIR_SPACING_MM = 4.0
BAND_MM = 20.0
ABOVE_SADDLE_MM = 46.0
ABOVE_BACK_MM = 112.0
"""True height kept free above the back, for the arch and the dimensions."""
PRESSURE_RANGE = Normalize(0.0, 25.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPlace:
    """A cross-section worth drawing."""

    name: str
    s_mm: float
    """Distance behind the shoulder mark [mm]."""


def key_places(scene: Scene) -> tuple[SectionPlace, ...]:
    """Return the sections at front arch, waist, lowest point, rear and last rib, as far as they are known."""
    found = [("Front arch", arch_station(scene))]
    waist = zone_station(scene, Zone.WAIST)
    if waist is not None:
        found.append(("Waist", waist))
    if is_known(scene.landmarks.lowest):
        found.append(("Lowest point", scene.landmarks.lowest.value_mm))
    front, rear = saddle_reach(scene)
    found.append(("Rear", rear - 0.1 * (rear - front)))
    if is_known(scene.landmarks.last_rib):
        found.append(("Last rib", scene.landmarks.last_rib.value_mm))
    return tuple(SectionPlace(name=name, s_mm=s) for name, s in found)


def sections(
    scene: Scene, places: Sequence[SectionPlace] | None = None, *, width_mm: float = PHONE_WIDTH_MM
) -> Drawing:
    """Return cross-sections at 1:5 with the saddle in place and the clearances in mm.

    Parameters
    ----------
    scene
        The back, the saddle, and how it sits.
    places
        Where to cut; by default `key_places`.
    width_mm
        Paper width [mm]: one column on a phone, two on an A4 page.
    """
    chosen = tuple(places) if places is not None else key_places(scene)
    n_columns = max(1, int((width_mm - MARGIN_MM) // (LEAST_CELL_MM + MARGIN_MM)))
    cell_width = (width_mm - MARGIN_MM) / n_columns - MARGIN_MM
    n_rows = -(-len(chosen) // n_columns)
    height = 17.0 + n_rows * CELL_HEIGHT_MM + LEGEND_HEIGHT_MM
    with drawing_style():
        sheet = Sheet(width_mm, height)
        sheet.heading(MARGIN_MM, 6.0, said("Cross-sections, seen from behind"), scene.subtitle)
        for k, place in enumerate(chosen):
            left = MARGIN_MM + (k % n_columns) * (cell_width + MARGIN_MM)
            top = 17.0 + (k // n_columns) * CELL_HEIGHT_MM
            named = SectionPlace(name=said(place.name), s_mm=place.s_mm)
            draw_section(sheet, scene, named, (left, top, cell_width, CELL_HEIGHT_MM), scale=SCALE)
        _legend(sheet, MARGIN_MM, height - LEGEND_HEIGHT_MM - 1.0, width_mm - 2 * MARGIN_MM)
    names = said("; ".join(f"{p.name}, {p.s_mm:.0f} mm behind the shoulder mark" for p in chosen))
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Cross-sections')}: {scene.pair}, {scene.state}",
        description=f"{said('Seen from behind, near side on the left, scale 1:5.')} {names}.",
        scale=SCALE,
    )


def section_row(scene: Scene, *, width_mm: float = PAGE_WIDTH_MM) -> Drawing:
    """Return front arch, waist and rear side by side at 1:8, for a page that has more to show.

    Parameters
    ----------
    scene
        The back, the saddle, and how it sits.
    width_mm
        Paper width [mm].
    """
    chosen = tuple(place for place in key_places(scene) if place.name in ROW_PLACES)
    width = width_mm / max(1, len(chosen))
    with drawing_style():
        sheet = Sheet(width_mm, ROW_HEIGHT_MM)
        for k, (letter, place) in enumerate(zip("ABC", chosen, strict=False)):
            named = SectionPlace(name=f"{letter}  {said(place.name)}", s_mm=place.s_mm)
            draw_section(
                sheet, scene, named, (k * width + 1.0, 0.0, width - 2.0, ROW_HEIGHT_MM), scale=ROW_SCALE
            )
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Cross-sections')}: {scene.pair}, {scene.state}",
        description=said("Front arch, waist and rear seen from behind, near side on the left, scale 1:8."),
        scale=ROW_SCALE,
    )


def draw_section(
    sheet: Sheet, scene: Scene, place: SectionPlace, box: tuple[float, float, float, float], *, scale: float
) -> None:
    """Draw one section in a box (left, top, width, height) [mm] of the sheet."""
    left, top, width, height = box
    where = f"{abs(place.s_mm):.0f} mm {'behind' if place.s_mm >= 0 else 'in front of'} the shoulder mark"
    where = said(where)
    if width < LEAST_FOR_WORDS_MM:
        where = said(f"at {place.s_mm:.0f} mm")
    sheet.two_weights(left, top + 4.0, place.name, where)
    y, z, measured = back_section(scene.surface, place.s_mm)
    highest = max(
        float(np.interp(0.0, y, z)) + ABOVE_BACK_MM, highest_over(scene, place.s_mm) + ABOVE_SADDLE_MM
    )
    centre_z = highest - (height - 8.0) / scale / 2
    axes = sheet.scaled_axes(left, top + 5.5, width, height - 8.0, scale=scale, centre=(0.0, centre_z))
    axes.set_gid(f"section-{place.s_mm:.0f}")
    floor = axes.get_ylim()[0]
    _draw_back(axes, -y, z, measured, floor + 28.0)
    cuts = [cut for side in (1, -1) if (cut := underside(scene, side, place.s_mm)) is not None]
    for cut in cuts:
        draw_underside(axes, cut)
    if not cuts:
        label(axes, 0.0, highest - 43.0, said("no panel here"), colour=ink.SOFT)
    draw_clearances(axes, scene, place.s_mm, cuts, scale)
    label(axes, -7.0, floor + 32.0, said("NEAR (left)"), align="right", colour=ink.SOFT)
    label(axes, 7.0, floor + 32.0, said("OFF (right)"), align="left", colour=ink.SOFT)
    axes.plot([0.0, 0.0], [floor + 28.0, floor + 48.0], color=ink.SOFT, lw=ink.HAIR_PT)
    edge = width / scale / 2
    scale_bar(axes, -edge + 2, floor + 8, length_mm=100.0, scale=scale, name=f"{place.s_mm:.0f}")


def _draw_back(axes: Axes, y: FloatArray, z: FloatArray, measured: BoolArray, floor: float) -> None:
    axes.fill_between(y, floor, z, where=z >= floor, color=ink.BACK_FILL, lw=0, zorder=1)
    z = np.where(z >= floor, z, np.nan)
    unseen = np.where(measured, np.nan, z)
    axes.plot(y, np.where(measured, z, np.nan), color=ink.BACK_LINE, lw=ink.LINE_PT, zorder=5)
    if not measured.all():
        axes.plot(y, unseen, color=ink.BACK_LINE, lw=ink.LINE_PT, ls=(0, (3, 2)), zorder=5)
        axes.fill_between(
            y,
            floor,
            z,
            where=~measured,
            facecolor="none",
            edgecolor=ink.HAIR,
            hatch=ink.NOT_MEASURED_HATCH,
            lw=0,
        )


def draw_underside(axes: Axes, cut: Underside) -> None:
    """Draw one panel's cut: the pad below it, and hairs above it as long as the pressure."""
    y, pad_y = -cut.y, -cut.pad_y
    outward = _outward(y, cut.z)
    upper = np.column_stack([y, cut.z]) - outward * BAND_MM
    axes.fill(
        np.concatenate([y, upper[::-1, 0]]),
        np.concatenate([cut.z, upper[::-1, 1]]),
        color=ink.PANEL_FILL,
        zorder=3,
    )
    if np.any(np.hypot(pad_y - y, cut.pad_z - cut.z) > 0.1):
        axes.fill(
            np.concatenate([y, pad_y[::-1]]),
            np.concatenate([cut.z, cut.pad_z[::-1]]),
            facecolor=ink.PAD_FILL,
            edgecolor=ink.SOFT,
            lw=ink.HAIR_PT,
            zorder=4,
        )
    (line,) = axes.plot(y, cut.z, color=ink.INK, lw=ink.LINE_PT, zorder=6)
    line.set_gid(f"underside-{'near' if cut.y.mean() > 0.0 else 'off'}")
    _draw_hairs(axes, cut, y, outward)
    if not cut.measured.all():
        axes.plot(
            np.where(cut.measured, np.nan, y), np.where(cut.measured, np.nan, cut.z), color=ink.PAPER, lw=1.0,
            ls=(0, (2, 2)), zorder=8,
        )  # fmt: skip


def _draw_hairs(axes: Axes, cut: Underside, y: FloatArray, outward: FloatArray) -> None:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(y), np.diff(cut.z)))])
    even = np.arange(HAIR_SPACING_MM / 2, along[-1], HAIR_SPACING_MM)
    direction = np.column_stack([np.interp(even, along, outward[:, axis]) for axis in (0, 1)])
    foot = np.column_stack([np.interp(even, along, y), np.interp(even, along, cut.z)]) - direction * BAND_MM
    pressure = np.interp(even, along, cut.pressure_kpa)
    tips = foot - direction * HAIR_MM_PER_KPA * pressure[:, None]
    hairs = np.stack([foot, tips], axis=1)[pressure > 0.0]
    shades = ink.PRESSURE_MAP(PRESSURE_RANGE(pressure[pressure > 0.0]))
    axes.add_collection(LineCollection(list(hairs), colors=shades, linewidths=1.0, zorder=7, capstyle="butt"))


def _outward(y: FloatArray, z: FloatArray) -> FloatArray:
    """Return (m, 2) float: unit normals of a cut, pointing down to the horse."""
    normal = np.column_stack([np.gradient(z), -np.gradient(y)])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return np.asarray(np.where(normal[:, 1:] > 0.0, -normal, normal))


def _legend(sheet: Sheet, left: float, top: float, width: float) -> None:
    axes = sheet.axes(left, top, width, LEGEND_HEIGHT_MM + 1.0)
    axes.set_xlim(0, width)
    axes.set_ylim(-LEGEND_HEIGHT_MM + 8.0, 9.0)
    ten = 10.0 * HAIR_MM_PER_KPA * SCALE
    shade = ink.PRESSURE_MAP(PRESSURE_RANGE(10.0))
    axes.plot([0.5, 0.5], [1.6, 1.6 + ten], color=shade, lw=1.7, solid_capstyle="butt")
    label(axes, 2.0, 4.6, "10 kPa", align="left")
    axes.plot([17.0, 22.0], [5.4, 5.4], color=ink.INK, lw=ink.LINE_PT)
    label(axes, 23.0, 4.6, said("underside"), align="left")
    axes.plot([42.0, 47.0], [5.4, 5.4], color=ink.BACK_LINE, lw=ink.LINE_PT)
    label(axes, 48.0, 4.6, said("back"), align="left")
    axes.plot([59.0, 64.0], [5.4, 5.4], color=ink.BACK_LINE, lw=ink.LINE_PT, ls=(0, (3, 2)))
    label(axes, 65.0, 4.6, said("not measured"), align="left")
    for row, words in enumerate(PRESSED_NOTE):
        label(axes, 0.0, -1.8 - 3.6 * row, said(words), align="left", colour=ink.SOFT)
