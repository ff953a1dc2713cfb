"""How well each number repeats in one hand, beside what the instrument states of itself."""

from collections.abc import Sequence

import numpy as np

from saddlebench.engine.change.repeat.exercise import CheckMe, Hand, HandOn
from saddlebench.engine.change.repeat.sets import SURFACE
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.repeat_words import headline, plain_sentences, with_unit
from saddlebench.exchange.vocabulary import said

MARGIN_MM, ROW_MM, HEAD_MM = 4.0, 9.0, 30.0
LOW, HIGH = 0.125, 8.0
"""Times the stated deviation: the ends of the axis."""
COLOURS = {Hand.STEADIER: "#0b4f79", Hand.AS_STATED: ink.INK, Hand.LESS_STEADY: "#b33c00"}
PLATE = {"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.2}
"""Behind words that a line of the axis would cross."""
MARKERS = {Hand.STEADIER: "v", Hand.AS_STATED: "o", Hand.LESS_STEADY: "^"}


def hand_chart(
    found: CheckMe, *, label: str = "", width_mm: float = PHONE_WIDTH_MM, surface: bool = False
) -> Drawing:
    """Return every number's own deviation over the stated one; a diagram, not to scale.

    Parameters
    ----------
    found : the result of the exercise
    label : which horse and instrument
    width_mm : paper width [mm]
    surface : whether the regions of the surface are shown as well
    """
    rows = [one for one in found.numbers if surface or one.quantity.what != SURFACE]
    height = HEAD_MM + ROW_MM * len(rows) + 12.0
    with drawing_style():
        sheet = Sheet(width_mm, height)
        sheet.heading(MARGIN_MM, 6.0, said("How well this hand repeats"), (label,) if label else ())
        width = width_mm - 2.0 * MARGIN_MM
        sheet.paragraph(MARGIN_MM, 15.5, headline(found), room=width, n_lines=3)
        _rows(sheet, rows, width)
    described = " ".join(plain_sentences(found))
    return Drawing(
        figure=sheet.figure,
        title=f"{said('How well this hand repeats')}: {label}",
        description=described,
        scale=None,
    )


def _rows(sheet: Sheet, rows: Sequence[HandOn], width: float) -> None:
    top = HEAD_MM
    axes = sheet.axes(MARGIN_MM, top - 2.0, width, ROW_MM * len(rows) + 6.0)
    axes.set_xlim(np.log2(LOW), np.log2(HIGH))
    total = len(rows) + 6.0 / ROW_MM
    axes.set_ylim(total, 0.0)
    for times in (0.25, 0.5, 1.0, 2.0, 4.0):
        is_one = times == 1.0
        axes.plot(
            [np.log2(times)] * 2,
            [0.45, len(rows) + 0.1],
            color=ink.INK if is_one else ink.HAIR,
            lw=ink.LINE_PT if is_one else ink.HAIR_PT,
            zorder=1,
        )
        words = said("stated") if is_one else f"×{times:g}"
        axes.text(np.log2(times), total - 0.04, words, ha="center", va="bottom", size=ink.TEXT_PT)
    for k, one in enumerate(rows):
        base = top - 2.0 + k * ROW_MM + 2.8
        stated = f"{said('stated')} {with_unit(one.stated_sd, one.quantity)}"
        numbers = f"{with_unit(one.own.sd, one.quantity)}; {stated}"
        taken = sheet.text(MARGIN_MM + width, base, numbers, ha="right", color=ink.SOFT, bbox=PLATE)
        sheet.text(MARGIN_MM, base, said(one.quantity.words), room=width - taken - 3.0, bbox=PLATE)
        ratios = np.array([one.own.low, one.own.sd, one.own.high]) / one.stated_sd
        ends = np.log2(np.clip(ratios, LOW, HIGH))
        colour, y = COLOURS[one.hand], k + 0.66
        for end, goes_on, marker in ((ends[0], ratios[0] < LOW, "<"), (ends[2], ratios[2] > HIGH, ">")):
            if goes_on:
                axes.plot(end, y, marker=marker, ms=5.0, color=colour, mew=0.0, clip_on=False, zorder=4)
        axes.plot(ends[[0, 2]], [y, y], color=colour, lw=2.0, solid_capstyle="butt", zorder=3)
        axes.plot(ends[1], y, marker=MARKERS[one.hand], ms=5.0, mfc=colour, mec=ink.PAPER, mew=0.6, zorder=4)
