"""Sections of both days laid on each other, with what an unchanged back could show between them."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.change.results import ChangeMap, ChangeStudy, Comparison
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.change_words import along, day
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style, scale_bar
from saddlebench.exchange.vocabulary import said

SCALE = 0.2
"""1:5, as every section."""
CELL_HEIGHT_MM, CELL_WIDTH_MM = 62.0, 95.0
HEAD_MM, KEY_MM, MARGIN_MM = 17.0, 22.0, 4.0
USUAL_PLACES = (0.12, 0.37, 0.62, 0.87)
"""Shares of the common length where sections are drawn if no patch asks for another place."""
APART_MM = 60.0


def change_sections(
    study: ChangeStudy, *, width_mm: float = PHONE_WIDTH_MM, places_mm: Sequence[float] | None = None
) -> Drawing:
    """Return sections of both days, as seen from behind, at 1:5.

    Parameters
    ----------
    study : ChangeStudy
        Whose first and last record could be compared.
    width_mm : float
        Paper width [mm].
    places_mm : float
        Behind the shoulder mark of the earlier record; by default through the patches and evenly.

    Raises
    ------
    TypeError
        If they could not be compared.
    """
    whole = study.whole
    if not isinstance(whole, Comparison):
        msg = "records that cannot be compared have no sections in common"
        raise TypeError(msg)
    places = tuple(places_mm) if places_mm is not None else usual_places(whole)
    columns = max(1, int((width_mm - MARGIN_MM) // CELL_WIDTH_MM)) if width_mm < 180 else 2
    cell = (width_mm - 2 * MARGIN_MM) / columns
    rows = -(-len(places) // columns)
    first, last = study.visits[whole.earlier], study.visits[whole.later]
    with drawing_style():
        sheet = Sheet(width_mm, HEAD_MM + rows * CELL_HEIGHT_MM + KEY_MM)
        sheet.heading(
            MARGIN_MM,
            6.0,
            said("Both days, section by section"),
            (f"{study.horse}, {said('seen from behind')}",),
        )
        for k, place in enumerate(places):
            left, top = MARGIN_MM + (k % columns) * cell, HEAD_MM + (k // columns) * CELL_HEIGHT_MM
            _cell(sheet, whole.map, place, (left, top, cell), gid=f"section-{k + 1}")
        base = HEAD_MM + rows * CELL_HEIGHT_MM + 4.0
        _key(sheet, base, day(first), day(last))
    return Drawing(
        figure=sheet.figure,
        title=f"{study.horse}: {said('Both days, section by section')}",
        description=f"{', '.join(along(place) for place in places)}: {said('earlier dashed, later solid.')}",
        scale=SCALE,
    )


def usual_places(whole: Comparison) -> tuple[float, ...]:
    """Return where sections are drawn: through the patches, and evenly along what both days measured."""
    s = whole.map.grid.s_mm[np.any(whole.map.common, axis=1)]
    even = [float(s[0] + share * (s[-1] - s[0])) for share in USUAL_PLACES]
    held: list[float] = []
    for place in [patch.s_mm for patch in whole.scan.patches[:2]] + even:
        if all(abs(place - other) >= APART_MM for other in held) and len(held) < len(USUAL_PLACES):
            held.append(place)
    return tuple(sorted(held))


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _cell(sheet: Sheet, held: ChangeMap, place: float, corner: tuple[float, float, float], gid: str) -> None:
    left, top, width = corner
    sheet.text(left, top + 3.0, _capital(along(place)), weight="bold", room=width - 2.0)
    grid = held.grid
    row = int(np.clip(np.rint((place - grid.s0_mm) / grid.ds_mm), 0, grid.n_s - 1))
    phi = np.linspace(grid.phi[held.common[row]].min(), grid.phi[held.common[row]].max(), 181)
    at = np.full_like(phi, place)
    both = [
        PolarSpline.through(grid, radius).radius(at, phi)[:, 0] for radius in (held.earlier_mm, held.later_mm)
    ]
    wide = np.interp(phi, grid.phi, held.band * held.sd_mm[row])
    curves = [np.stack([-r * np.sin(phi), r * np.cos(phi)], axis=1) for r in both]
    low, high = (
        np.stack([-(both[0] + sign * wide) * np.sin(phi), (both[0] + sign * wide) * np.cos(phi)], axis=1)
        for sign in (-1.0, 1.0)
    )
    top_mm = max(curve[:, 1].max() for curve in curves)
    axes = sheet.scaled_axes(
        left,
        top + 4.5,
        width,
        CELL_HEIGHT_MM - 7.0,
        scale=SCALE,
        centre=(0.0, top_mm + 18.0 - (CELL_HEIGHT_MM - 7.0) / SCALE / 2),
    )
    axes.set_gid(gid)
    _draw(axes, curves, low, high)
    axes.text(-0.5 * width / SCALE + 6, top_mm + 6, said("NEAR"), size=ink.TEXT_PT, va="top")
    axes.text(0.5 * width / SCALE - 6, top_mm + 6, said("OFF"), size=ink.TEXT_PT, va="top", ha="right")


def _draw(axes: Axes, curves: list[FloatArray], low: FloatArray, high: FloatArray) -> None:
    around = np.concatenate([low, high[::-1]])
    axes.fill(around[:, 0], around[:, 1], facecolor=ink.HAIR, edgecolor="none", alpha=0.7, zorder=1)
    axes.plot(*curves[0].T, color=ink.SOFT, lw=ink.LINE_PT, ls=(0, (4, 2)), zorder=3)
    axes.plot(*curves[1].T, color=ink.INK, lw=ink.LINE_PT * 1.2, zorder=4)


def _key(sheet: Sheet, base: float, first: str, last: str) -> None:
    axes = sheet.scaled_axes(0.0, base, sheet.width_mm, 12.0, scale=1.0, centre=(sheet.width_mm / 2, 6.0))
    axes.plot([MARGIN_MM, MARGIN_MM + 9], [10, 10], color=ink.SOFT, lw=ink.LINE_PT, ls=(0, (4, 2)))
    axes.text(MARGIN_MM + 11, 9.2, first, size=ink.TEXT_PT)
    axes.plot([MARGIN_MM + 44, MARGIN_MM + 53], [10, 10], color=ink.INK, lw=ink.LINE_PT * 1.2)
    axes.text(MARGIN_MM + 55, 9.2, last, size=ink.TEXT_PT)
    axes.fill(
        [MARGIN_MM, MARGIN_MM + 9, MARGIN_MM + 9, MARGIN_MM], [4, 4, 7, 7], facecolor=ink.HAIR, alpha=0.7
    )
    axes.text(MARGIN_MM + 11, 4.6, said("an unchanged back stays in here (19 of 20)"), size=ink.TEXT_PT)
    bar = sheet.scaled_axes(MARGIN_MM, base + 11.0, 60.0, 6.0, scale=SCALE, centre=(150.0, 0.0))
    scale_bar(bar, 0.0, -8.0, length_mm=100.0, scale=SCALE, name="sections")
