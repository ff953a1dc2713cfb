"""The map of change: the skin laid flat, head up; colour where a change is real, hatching where it is not."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle
from scipy import ndimage

from saddlebench.engine.back.tissue import distance_over_skin
from saddlebench.engine.change.results import ChangeMap, ChangeStudy, Comparison, Patch
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.change_place import outside_place_mm, place_bounds_mm
from saddlebench.exchange.change_words import days, headline, least_told_words, patch_words
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.change_ink import CHANGE_MAP
from saddlebench.exchange.drawings.dimension import label
from saddlebench.exchange.drawings.geometry import BoolArray
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style, scale_bar
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said

MOST_SCALE = 0.2
"""1:5 where the paper allows."""
MARGIN_MM = 4.0
HEAD_MM, KEY_MM = 24.0, 34.0
PLACE_STEP_MM = 3.0
PLACE_DOTS, PLACE_LINE_PT = (0, (1.0, 1.4)), 1.3
"""A dotted line is drawn by nothing else on the map."""
TOLD_LEVELS_MM = (4.0, 5.0, 6.0, 8.0, 10.0)
TOLD_SHADES = ("#f4f1ea", "#e3ded2", "#cbc5b6", "#aaa494", "#858070", "#605c50")


def change_map(study: ChangeStudy, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the map of change beside the map of what could have been told; below it on a phone.

    Parameters
    ----------
    study : ChangeStudy
        Whose first and last record could be compared.
    width_mm : float
        Paper width [mm].

    Raises
    ------
    TypeError
        If they could not be compared.
    """
    whole = study.whole
    if not isinstance(whole, Comparison):
        msg = "records that cannot be compared have no map"
        raise TypeError(msg)
    flat = flattened(whole.map)
    beside = width_mm >= 150.0
    room = (width_mm - 2 * MARGIN_MM - (6.0 if beside else 0.0)) / (2 if beside else 1) - 9.0
    extent = 2.0 * float(np.abs(flat[whole.map.common]).max()) + 20.0
    s = whole.map.grid.s_mm[np.any(whole.map.common, axis=1)]
    length = float(s[-1] - s[0]) + 40.0
    scale = min(MOST_SCALE, room / extent)
    height = length * scale
    parts = 1 if beside else 2
    with drawing_style():
        sheet = Sheet(width_mm, HEAD_MM + parts * (height + KEY_MM + 5.0) + 2.0)
        first, last = study.visits[whole.earlier], study.visits[whole.later]
        sheet.heading(MARGIN_MM, 6.0, said("What changed"), (f"{study.horse}: {days(first, last)}",))
        sheet.paragraph(MARGIN_MM, 14.2, headline(study), room=width_mm - 2 * MARGIN_MM, n_lines=2)
        step = (width_mm - 2 * MARGIN_MM + 6.0) / 2
        centre = (0.0, -float(s[0] + s[-1]) / 2)
        for k, (draw, key) in enumerate(((_draw_change, _change_key), (_draw_told, _told_key))):
            left = MARGIN_MM + (k * step if beside else 0.0) + 9.0
            top = HEAD_MM + (0.0 if beside else k * (height + KEY_MM + 5.0))
            axes = sheet.scaled_axes(left, top, room, height, scale=scale, centre=centre)
            axes.set_gid(("change-map", "told-map")[k])
            draw(axes, whole, flat)
            _rule(axes, whole, room / scale)
            key(sheet, whole, left - 8.0, top + height + 6.0, room + 8.0)
            if k == 0:
                bar = sheet.scaled_axes(left, top + height, room, 5.0, scale=scale, centre=(0.0, 0.0))
                scale_bar(bar, -room / scale / 2 + 4, -5.0, length_mm=100.0, scale=scale, name="map")
    described = "; ".join(patch_words(patch) for patch in whole.scan.patches)
    of = f"{study.horse}, {days(first, last)}"
    return Drawing(
        figure=sheet.figure,
        title=f"{said('What changed')}: {of}",
        description=f"{headline(study)} {described} {least_told_words(whole.map)}",
        scale=scale,
    )


def flattened(change: ChangeMap) -> FloatArray:
    """Return each node's place across the flat map (n_s, n_phi), back frame, its left negative [mm]."""
    over = distance_over_skin(change.grid, change.earlier_mm)
    return np.asarray(-np.sign(change.grid.phi)[None, :] * over)


def shade_limit(whole: Comparison) -> float:
    """Return the largest change the colours show, a whole even number of mm."""
    held = [abs(patch.depth.value) for patch in whole.scan.patches]
    real = np.abs(whole.map.change_mm[whole.map.is_real])
    most = max([*held, float(real.max()) if real.size else 0.0, 6.0])
    return float(2.0 * np.ceil(most / 2.0))


def _places(whole: Comparison, flat: FloatArray) -> tuple[FloatArray, FloatArray]:
    return flat, np.broadcast_to(-whole.map.grid.s_mm[:, None], flat.shape)


def _draw_change(axes: Axes, whole: Comparison, flat: FloatArray) -> None:
    x, y = _places(whole, flat)
    held, limit = whole.map, shade_limit(whole)
    _outline(axes, x, y, held.common)
    axes.contourf(x, y, held.common.astype(float), levels=[0.5, 1.5], colors="none", hatches=[ink.OPEN_HATCH])
    levels = np.linspace(-limit, limit, 17)
    shown = np.where(held.is_real, held.change_mm, np.nan)
    if held.is_real.any():
        axes.contourf(x, y, np.nan_to_num(shown), levels=[-1e9, -0.01], colors="none")
        axes.contourf(x, y, np.ma.masked_invalid(shown), levels=levels, cmap=CHANGE_MAP, zorder=3)
        axes.contour(x, y, held.is_real.astype(float), levels=[0.5], colors=ink.INK, linewidths=0.8, zorder=5)
    for number, patch in enumerate(whole.scan.patches, start=1):
        _place(axes, patch, number)
    for number, patch in enumerate(whole.scan.patches, start=1):
        _patch(axes, patch, number, limit)


def _patch(axes: Axes, patch: Patch, number: int, limit: float) -> None:
    centre = (-patch.from_midline_mm, -patch.s_mm)
    colour = CHANGE_MAP(0.5 + 0.5 * patch.depth.value / limit)
    axes.add_patch(
        Circle(centre, patch.diameter_mm / 2, facecolor=colour, edgecolor="none", zorder=4, alpha=0.9)
    )
    axes.add_patch(
        Circle(
            centre, patch.diameter_mm / 2, facecolor="none", edgecolor=ink.INK, lw=1.2, zorder=6,
            ls="-" if patch.depth.value > 0 else (0, (4, 2)),
        )
    )  # fmt: skip
    doubt = " ?" if patch.is_way_in_doubt else ""
    label(axes, *centre, f"{number}: {said(f'{patch.depth.value:+.0f} mm')}{doubt}", halo=True)


def _place(axes: Axes, patch: Patch, number: int) -> None:
    """Draw where the patch's middle is in 95 of 100 cases; a study kept before it was worked out has none.

    A part of it that does not hold the patch's own middle bears its number, too.
    """
    if not patch.middles_mm:
        return
    (s_low, s_high), (over_low, over_high) = place_bounds_mm(patch)
    s = np.arange(s_low - PLACE_STEP_MM, s_high + 2 * PLACE_STEP_MM, PLACE_STEP_MM)
    over = np.arange(over_low - PLACE_STEP_MM, over_high + 2 * PLACE_STEP_MM, PLACE_STEP_MM)
    outside = outside_place_mm(patch, s[:, None], over[None, :])
    for colour, width, style in ((ink.PAPER, 2.2, "-"), (ink.INK, PLACE_LINE_PT, PLACE_DOTS)):
        axes.contour(
            -over, -s, outside, levels=[0.0], colors=colour, linewidths=width, linestyles=[style], zorder=6
        )
    parts, count = ndimage.label(outside <= 0.0)
    row, column = (
        int(np.argmin(np.abs(held - at))) for held, at in ((s, patch.s_mm), (over, patch.from_midline_mm))
    )
    for part in set(range(1, count + 1)) - {int(parts[row, column])}:
        at_s, at_over = ndimage.center_of_mass(parts == part)
        place = (
            -float(np.interp(at_over, np.arange(len(over)), over)),
            -float(np.interp(at_s, np.arange(len(s)), s)),
        )
        label(axes, *place, str(number), halo=True)


def _draw_told(axes: Axes, whole: Comparison, flat: FloatArray) -> None:
    x, y = _places(whole, flat)
    held = whole.map
    told = np.where(held.common & np.isfinite(held.told_mm), held.told_mm, np.nan)
    _outline(axes, x, y, held.common)
    axes.contourf(
        x, y, held.common.astype(float), levels=[0.5, 1.5], colors="none", hatches=[ink.NOT_MEASURED_HATCH]
    )
    levels = (0.0, *TOLD_LEVELS_MM, 1e6)
    axes.contourf(x, y, np.ma.masked_invalid(told), levels=levels, colors=TOLD_SHADES, zorder=3)
    s = held.grid.s_mm[np.any(held.common, axis=1)]
    for at in np.arange(np.ceil(s[0] / 100.0) * 100.0 + 50.0, s[-1], 100.0):
        row = int(np.argmin(np.abs(held.grid.s_mm - at)))
        for across in (-200.0, -100.0, 0.0, 100.0, 200.0):
            column = int(np.argmin(np.abs(flat[row] - across)))
            if np.isfinite(told[row, column]):
                label(axes, across, -at, reader().millimetres(f"{told[row, column]:.0f}"))


def _outline(axes: Axes, x: FloatArray, y: FloatArray, common: BoolArray) -> None:
    axes.contour(x, y, common.astype(float), levels=[0.5], colors=ink.BACK_LINE, linewidths=0.9, zorder=5)


def _rule(axes: Axes, whole: Comparison, width: float) -> None:
    """Draw the midline, and distances behind the shoulder mark beside the map."""
    s = whole.map.grid.s_mm[np.any(whole.map.common, axis=1)]
    axes.plot([0, 0], [-s[0], -s[-1]], color=ink.BACK_LINE, lw=0.6, ls=(0, (6, 2, 1, 2)), zorder=5)
    edge = -width / 2
    for at in np.arange(np.ceil(s[0] / 100.0) * 100.0, s[-1] + 1.0, 100.0):
        axes.plot([edge, edge + 6], [-at, -at], color=ink.SOFT, lw=0.6, clip_on=False)
        axes.text(
            edge - 4,
            -at,
            reader().millimetres(f"{at:g}", is_place=True),
            ha="right",
            va="center",
            size=ink.TEXT_PT,
            color=ink.SOFT,
        )
    top = -s[0] + 8
    axes.text(
        -width / 2 + 12, top, said("NEAR (left)"), ha="left", va="bottom", size=ink.TEXT_PT, weight="bold"
    )
    axes.text(
        width / 2 - 2, top, said("OFF (right)"), ha="right", va="bottom", size=ink.TEXT_PT, weight="bold"
    )


def _change_key(sheet: Sheet, whole: Comparison, left: float, top: float, width: float) -> None:
    limit = shade_limit(whole)
    axes = _key_axes(sheet, left, top, width)
    bar = width - 8.0
    for k in range(16):
        axes.add_patch(
            Rectangle((4 + k * bar / 16, 20.5), bar / 16, 3.0, facecolor=CHANGE_MAP((k + 0.5) / 16), lw=0)
        )
    axes.add_patch(Rectangle((4, 20.5), bar, 3.0, facecolor="none", edgecolor=ink.INK, lw=0.3))
    for share, words in ((0.0, f"{-limit:.0f} mm less"), (0.5, "0"), (1.0, f"{limit:+.0f} mm fuller")):
        align = {0.0: "left", 0.5: "center", 1.0: "right"}[share]
        label(axes, 4 + share * bar, 17.0, said(words), align=align)
    axes.add_patch(
        Rectangle((4, 11.2), 7.0, 3.0, facecolor=ink.PAPER, hatch=ink.OPEN_HATCH, edgecolor=ink.SOFT, lw=0.3)
    )
    label(axes, 13.0, 11.9, said("cannot be told from measuring error"), align="left")
    axes.add_patch(Circle((7.5, 7.3), 1.8, facecolor="none", edgecolor=ink.INK, lw=1.1))
    label(axes, 13.0, 6.5, said("a real change (dashed: less; ?: or the other way)"), align="left")
    axes.plot([4, 11], [2.6, 2.6], color=ink.INK, lw=PLACE_LINE_PT, ls=PLACE_DOTS)
    label(axes, 13.0, 1.8, said("where its middle is, in 95 of 100 cases"), align="left")


def _key_axes(sheet: Sheet, left: float, top: float, width: float) -> Axes:
    axes = sheet.axes(left, top, width, KEY_MM - 4.0)
    axes.set_xlim(0, width)
    axes.set_ylim(0, KEY_MM - 4.0)
    return axes


def _told_key(sheet: Sheet, whole: Comparison, left: float, top: float, width: float) -> None:
    del whole
    axes = _key_axes(sheet, left, top, width)
    bar = (width - 8.0) / len(TOLD_SHADES)
    ends = [reader().millimetres(f"{level:.0f}") for level in TOLD_LEVELS_MM]
    words = (f"{said('to')} {ends[0]}", *ends[1:], said("more"))
    for k, (shade, word) in enumerate(zip(TOLD_SHADES, words, strict=True)):
        axes.add_patch(Rectangle((4 + k * bar, 20.5), bar, 3.0, facecolor=shade, edgecolor=ink.INK, lw=0.3))
        label(axes, 4 + (k + 0.5) * bar, 17.0, word)
    sign = reader().length_sign
    label(axes, 4.0, 12.6, f"{sign}: {said('the least change over 100 mm across that')}", align="left")
    label(axes, 4.0, 8.8, said("would be found here in 95 of 100 cases"), align="left")
    axes.add_patch(
        Rectangle(
            (4, 2.4), 7.0, 3.0, facecolor=ink.PAPER, hatch=ink.NOT_MEASURED_HATCH, edgecolor=ink.SOFT, lw=0.3
        )
    )
    label(axes, 13.0, 3.0, said("nothing would be found"), align="left")
