"""Where on the back a hand repeats well: the skin laid flat, head up, shaded by how far repeats scatter."""

import numpy as np
from matplotlib.patches import Rectangle

from saddlebench.engine.back.tissue import distance_over_skin
from saddlebench.engine.change.repeat.exercise import CheckMe
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style, scale_bar
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said

LEVELS_MM = (0.0, 1.0, 2.0, 3.0, 5.0, 1e6)
SHADES = ("#f4f1ea", "#d8d2c4", "#b0a998", "#7d7767", "#4b463b")
"""From steady, light, to unsteady, dark: told apart in print without colour."""
MARGIN_MM, HEAD_MM, KEY_MM = 4.0, 23.0, 17.0
MOST_SCALE = 0.2
RULE_MM = 9.0


def surface_chart(found: CheckMe, *, label: str = "", width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the map of how far repeats scatter, at 1:5 where the paper allows.

    Parameters
    ----------
    found : the result of the exercise, with its surface
    label : which fitter, instrument and day
    width_mm : paper width [mm]

    Raises
    ------
    TypeError
        If the result holds no surface.
    """
    held = found.surface
    if held is None:
        msg = "this result holds no surface"
        raise TypeError(msg)
    across = -np.sign(held.grid.phi)[None, :] * distance_over_skin(held.grid, held.radius_mm)
    s = held.grid.s_mm[np.any(held.is_common, axis=1)]
    extent = 2.0 * float(np.abs(across[held.is_common]).max()) + 20.0
    room = min(width_mm - 2.0 * MARGIN_MM - RULE_MM, MOST_SCALE * extent)
    scale = room / extent
    height = (float(s[-1] - s[0]) + 40.0) * scale
    typical = float(np.sqrt(np.mean(held.sd_mm[held.is_common] ** 2)))
    worst = float(np.quantile(held.sd_mm[held.is_common], 0.95))
    words = f"{typical:.1f} mm on the whole, {worst:.1f} mm and more on the worst twentieth of the back"
    with drawing_style():
        sheet = Sheet(width_mm, HEAD_MM + height + KEY_MM)
        sheet.heading(MARGIN_MM, 6.0, said("Where this hand repeats well"), (label,) if label else ())
        sheet.paragraph(MARGIN_MM, 14.0, said(f"{words}."), room=width_mm - 2.0 * MARGIN_MM, n_lines=2)
        left = MARGIN_MM + RULE_MM
        axes = sheet.scaled_axes(
            left, HEAD_MM, room, height, scale=scale, centre=(0.0, -float(s[0] + s[-1]) / 2.0)
        )
        y = np.broadcast_to(-held.grid.s_mm[:, None], across.shape)
        shown = np.ma.masked_where(~held.is_common, held.sd_mm)
        axes.contourf(across, y, shown, levels=LEVELS_MM, colors=SHADES, zorder=2)
        axes.contour(
            across, y, held.is_common.astype(float), levels=[0.5], colors=ink.BACK_LINE, linewidths=0.9
        )
        axes.plot([0, 0], [-s[0], -s[-1]], color=ink.BACK_LINE, lw=0.6, ls=(0, (6, 2, 1, 2)), zorder=5)
        for at in np.arange(np.ceil(s[0] / 100.0) * 100.0, s[-1] + 1.0, 100.0):
            axes.text(
                -extent / 2.0,
                -at,
                reader().millimetres(f"{at:g}", is_place=True),
                ha="right",
                va="center",
                size=ink.TEXT_PT,
            )
        top = -float(s[0]) + 8.0
        axes.text(-extent / 2.0 + 8.0, top, said("NEAR (left)"), va="bottom", size=ink.TEXT_PT, weight="bold")
        axes.text(
            extent / 2.0 - 2.0,
            top,
            said("OFF (right)"),
            va="bottom",
            ha="right",
            size=ink.TEXT_PT,
            weight="bold",
        )
        bar = sheet.scaled_axes(left, HEAD_MM + height, room, 5.0, scale=scale, centre=(0.0, 0.0))
        scale_bar(bar, -extent / 2.0 + 10.0, -5.0, length_mm=100.0, scale=scale, name="repeat-map")
        _key(sheet, HEAD_MM + height + 7.0)
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Where this hand repeats well')}: {label}",
        description=said(f"{found.n_repeats} repeats scatter by {words}."),
        scale=scale,
    )


def _key(sheet: Sheet, top: float) -> None:
    width = sheet.width_mm - 2.0 * MARGIN_MM
    axes = sheet.axes(MARGIN_MM, top, width, 8.0)
    axes.set_xlim(0.0, width)
    axes.set_ylim(8.0, 0.0)
    cell = width / len(SHADES)
    for k, shade in enumerate(SHADES):
        axes.add_patch(Rectangle((k * cell, 0.0), cell, 3.0, facecolor=shade, edgecolor=ink.INK, lw=0.3))
        last = k == len(SHADES) - 1
        words = f"> {LEVELS_MM[k]:g} mm" if last else f"{LEVELS_MM[k]:g} to {LEVELS_MM[k + 1]:g} mm"
        axes.text((k + 0.5) * cell, 7.0, said(words), ha="center", size=ink.TEXT_PT)
