"""Widths, heights, angles and volumes: how much each changed, with its interval."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.change.results import ChangeStudy, Comparison
from saddlebench.engine.units import Length
from saddlebench.exchange.change_words import days, digits_of, number_words, region_words, signed
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.readers import INCH_SIGN, reader
from saddlebench.exchange.vocabulary import said

ROW_MM, HEAD_MM, BLOCK_MM, KEY_MM, MARGIN_MM = 8.6, 17.0, 14.0, 12.0, 4.0
INCH_DIGITS = 2
UNITS = (
    ("mm", "Widths, heights, dip"),
    ("°", "Angles"),
    ("cm²", "Areas of sections"),
    ("cm³", "Volumes"),
    ("1", "Width 30 mm down over width 150 mm down"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    words: str
    change: Estimate
    is_told: bool


def change_numbers(study: ChangeStudy, *, width_mm: float = PHONE_WIDTH_MM, sides: bool = False) -> Drawing:
    """Return the chart of every number's change; a diagram, not to scale.

    Parameters
    ----------
    study : ChangeStudy
        Whose first and last record could be compared.
    width_mm : float
        Paper width [mm].
    sides : bool
        Whether near and off are shown apart as well.

    Raises
    ------
    TypeError
        If they could not be compared.
    """
    whole = study.whole
    if not isinstance(whole, Comparison):
        msg = "records that cannot be compared have no numbers in common"
        raise TypeError(msg)
    blocks = [(words, unit, rows) for unit, words in UNITS if (rows := _rows(whole, unit, sides=sides))]
    height = HEAD_MM + KEY_MM + sum(BLOCK_MM + ROW_MM * len(rows) for _, _, rows in blocks)
    first, last = study.visits[whole.earlier], study.visits[whole.later]
    with drawing_style():
        sheet = Sheet(width_mm, height)
        sheet.heading(MARGIN_MM, 6.0, said("By how much"), (f"{study.horse}: {days(first, last)}",))
        top = HEAD_MM
        for words, unit, rows in blocks:
            _block(sheet, top, words, unit, rows)
            top += BLOCK_MM + ROW_MM * len(rows)
        _key(sheet, top + 1.0)
    told = [row.words for _, _, rows in blocks for row in rows if row.is_told]
    return Drawing(
        figure=sheet.figure,
        title=f"{said('By how much')}: {study.horse}, {days(first, last)}",
        description=f"{said('Changed beyond measuring error')}: {'; '.join(told) or said('none')}.",
        scale=None,
    )


def _rows(whole: Comparison, unit: str, *, sides: bool) -> list[_Row]:
    held = [
        _Row(words=number_words(number), change=number.change, is_told=number.is_told)
        for number in whole.numbers
        if number.unit == unit and isinstance(number.change, Estimate) and (sides or number.side == "both")
    ]
    if unit == "cm³":
        held += [
            _Row(words=region_words(region), change=region.volume, is_told=region.is_told)
            for region in whole.volumes
            if isinstance(region.volume, Estimate) and (sides or region.along is None)
        ]
    return held


def _block(sheet: Sheet, top: float, words: str, unit: str, rows: Sequence[_Row]) -> None:
    is_inch = unit == Length.MM and reader().length is Length.INCH
    one, digits = (Length.INCH.in_mm, INCH_DIGITS) if is_inch else (1.0, digits_of(unit))
    shown = "" if unit == "1" else f" [{INCH_SIGN if is_inch else unit}]"
    sheet.text(
        MARGIN_MM, top + 3.5, f"{said(words)}{shown}", weight="bold", room=sheet.width_mm - 2 * MARGIN_MM
    )
    reach = max(max(abs(row.change.low), abs(row.change.high)) for row in rows) / one * 1.08
    left, width = MARGIN_MM + 2.0, sheet.width_mm - 2 * MARGIN_MM - 4.0
    axes = sheet.axes(left, top + 5.0, width, ROW_MM * len(rows))
    axes.set_gid(f"numbers-{unit}")
    axes.set_xlim(-reach, reach)
    axes.set_ylim(ROW_MM * len(rows), 0.0)
    axes.axvline(0.0, color=ink.INK, lw=ink.LINE_PT * 0.7)
    for k, row in enumerate(rows):
        y = ROW_MM * k + 6.4
        axes.text(
            -reach, ROW_MM * k + 3.4, ink.drawable(row.words), size=ink.TEXT_PT, va="baseline", clip_on=False,
            bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.5},
        )  # fmt: skip
        axes.text(
            reach, ROW_MM * k + 3.4, reader().number(signed(row.change.value / one, digits)),
            size=ink.TEXT_PT, va="baseline", ha="right", weight="bold" if row.is_told else "normal",
            bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.5},
        )  # fmt: skip
        low, value, high = (end / one for end in (row.change.low, row.change.value, row.change.high))
        axes.plot([low, high], [y, y], color=ink.LOAD, lw=1.6, zorder=4)
        axes.plot(
            value, y, marker="D" if row.is_told else "o", ms=4.6, color=ink.LOAD,
            mfc=ink.LOAD if row.is_told else ink.PAPER, zorder=5,
        )  # fmt: skip
    steps = np.array([-1.0, -0.5, 0.0, 0.5, 1.0]) * _round(reach * 0.9)
    axes.set_xticks(steps, [reader().number(f"{step:+g}") if step else "0" for step in steps])
    axes.tick_params(labelsize=ink.TEXT_PT, pad=1.5)
    axes.grid(visible=True, axis="x", color=ink.HAIR, lw=0.4)
    axes.set_axisbelow(True)


def _round(reach: float) -> float:
    """Return the largest of 1, 2, 4, 6, 8 times a power of ten that is not beyond `reach`."""
    power = 10.0 ** np.floor(np.log10(reach))
    return float(max(step for step in (1.0, 2.0, 4.0, 6.0, 8.0) if step * power <= reach * 1.0001) * power)


def _key(sheet: Sheet, top: float) -> None:
    axes = sheet.axes(MARGIN_MM, top, sheet.width_mm - 2 * MARGIN_MM, KEY_MM - 2.0)
    axes.set_xlim(0, sheet.width_mm - 2 * MARGIN_MM)
    axes.set_ylim(0, KEY_MM - 2.0)
    for x, y, marker, fill, words in (
        (2.0, 7.6, "D", ink.LOAD, "changed beyond what measuring explains"),
        (2.0, 3.2, "o", ink.PAPER, "cannot be told; the bar is the 95 % interval"),
    ):
        axes.plot(x, y, marker=marker, ms=4.6, color=ink.LOAD, mfc=fill)
        axes.text(x + 4.0, y - 0.9, said(words), size=ink.TEXT_PT)
