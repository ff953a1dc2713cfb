"""How far two readings of one number lie apart: by the same fitter, and by any of several."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from saddlebench.engine.change.repeat.spread import Spread
from saddlebench.engine.change.repeat.study import QuantityRepeats, RepeatStudy
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.repeat_words import repeat_sentences, shown_quantities, with_unit
from saddlebench.exchange.vocabulary import said

MARGIN_MM, ROW_MM, HEAD_MM, BAR_MM = 4.0, 12.5, 20.0, 2.2
BARS: tuple[dict[str, Any], ...] = (
    {"facecolor": "#0b4f79", "edgecolor": "none"},
    {"facecolor": "#f3d9cc", "edgecolor": "#b33c00", "hatch": "////", "lw": 0.4},
)
"""The same fitter again, and any of them: told apart without colour as well."""
UNITS = ("mm", "°", "cm³", "1")


def fitters_chart(study: RepeatStudy, *, label: str = "", width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return within what 95 of 100 pairs of readings lie, number by number; bars of a unit share a scale.

    Parameters
    ----------
    study : RepeatStudy
    label : who was compared
    width_mm : paper width [mm]
    """
    known = [one for one in shown_quantities(study) if isinstance(one.repeatability, Spread)]
    rows = sorted(known, key=lambda one: UNITS.index(one.quantity.unit) if one.quantity.unit in UNITS else 9)
    with drawing_style():
        sheet = Sheet(width_mm, HEAD_MM + ROW_MM * max(len(rows), 1) + 4.0)
        sheet.heading(MARGIN_MM, 6.0, said("Two readings lie within"), (label,) if label else ())
        if any(isinstance(one.reproducibility, Spread) for one in rows):
            _key(sheet)
        if not rows:
            sheet.text(MARGIN_MM, HEAD_MM + 4.0, said("No number was read twice by the same fitter."))
        y = HEAD_MM
        for _, group in groupby(rows, key=lambda one: one.quantity.unit):
            y = _rows(sheet, tuple(group), y, width_mm - 2.0 * MARGIN_MM)
    return Drawing(
        figure=sheet.figure,
        title=f"{said('How far two readings lie apart')}: {label}",
        description=" ".join(repeat_sentences(study)) or said("No number was read twice by the same fitter."),
        scale=None,
    )


def _key(sheet: Sheet) -> None:
    base = 15.5
    sheet.box(MARGIN_MM, base - 2.2, 5.0, BAR_MM, **BARS[0])
    taken = sheet.text(MARGIN_MM + 6.5, base, said("same fitter again"))
    left = MARGIN_MM + 6.5 + taken + 5.0
    sheet.box(left, base - 2.2, 5.0, BAR_MM, **BARS[1])
    sheet.text(left + 6.5, base, said("any of them"))


def _rows(sheet: Sheet, rows: Sequence[QuantityRepeats], y: float, width: float) -> float:
    longest = max(one.limit for row in rows for one in _spans(row))
    for row in rows:
        spans = _spans(row)
        numbers = "; ".join(with_unit(one.limit, row.quantity) for one in spans)
        taken = sheet.text(MARGIN_MM + width, y + 3.5, numbers, ha="right", color=ink.SOFT)
        sheet.text(MARGIN_MM, y + 3.5, said(row.quantity.words), room=width - taken - 3.0)
        for k, one in enumerate(spans):
            long = width * one.limit / longest if longest > 0.0 else 0.0
            sheet.box(MARGIN_MM, y + 5.0 + k * (BAR_MM + 0.6), max(long, 0.3), BAR_MM, **BARS[k])
        y += ROW_MM
    return y


def _spans(row: QuantityRepeats) -> list[Spread]:
    return [one for one in (row.repeatability, row.reproducibility) if isinstance(one, Spread)]
