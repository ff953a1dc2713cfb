"""The findings as a strip of rows: number on its band of limits, verdict in symbol and word, interval."""

from collections.abc import Sequence
from math import inf

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.findings import Confidence, Finding
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.verdicts import PressureGuide, Verdict
from saddlebench.exchange import phrases
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.vocabulary import said

ROW_MM = 18.0
BADGE_MM = 22.0
LEAST_CELL_MM = 85.0
MARGIN_MM = 4.0
VERDICT_COLOURS = {
    Verdict.FINE: "#0072b2",
    Verdict.BORDERLINE: "#8a5700",
    Verdict.NOT_RIGHT: "#b33c00",
    Verdict.CANNOT_TELL: "#5a6772",
}
"""Darkened from the colour-blind-safe palette until white text on them reaches a contrast of 4.5."""


def findings_strip(
    findings: Sequence[Finding], *, pair: str = "", width_mm: float = PHONE_WIDTH_MM
) -> Drawing:
    """Return every finding as a row, the worst first.

    Parameters
    ----------
    findings
        As judged, in any order.
    pair
        Which saddle on which back, for the heading.
    width_mm
        Paper width [mm]: one column on a phone, two on an A4 page.
    """
    ordered = phrases.sorted_worst_first(findings)
    n_columns = 2 if width_mm >= 2 * LEAST_CELL_MM + 3 * MARGIN_MM - 2.0 else 1
    n_rows = -(-len(ordered) // n_columns)
    cell_width = (width_mm - MARGIN_MM) / n_columns - MARGIN_MM
    height = 14.0 + n_rows * ROW_MM + 7.0
    with drawing_style():
        sheet = Sheet(width_mm, height)
        sheet.heading(MARGIN_MM, 6.0, said("Findings"), (pair,) if pair else ())
        for k, finding in enumerate(ordered):
            left = MARGIN_MM + (k // n_rows) * (cell_width + MARGIN_MM)
            finding_row(sheet, finding, (left, 14.0 + (k % n_rows) * ROW_MM, cell_width))
        _key(sheet, MARGIN_MM, height - 6.0)
    every = " ".join(phrases.sentence_of(finding) for finding in ordered)
    return Drawing(figure=sheet.figure, title=f"{said('Findings')}: {pair}", description=every, scale=None)


def finding_row(sheet: Sheet, finding: Finding, box: tuple[float, float, float]) -> None:
    """Draw one finding in a box (left, top, width) [mm] that is `ROW_MM` high."""
    left, top, width = box
    sheet.box(left, top, width, 0.25, facecolor=ink.HAIR)
    sheet.text(left, top + 4.6, phrases.title_of(finding), weight="bold", room=width - BADGE_MM - 2.0)
    verdict_badge(sheet, finding.verdict, left + width - BADGE_MM, top + 1.5, BADGE_MM)
    sheet.text(left, top + 9.2, phrases.number_of(finding.decided_by.measure))
    sheet.text(left, top + 12.6, phrases.interval_of(finding), color=ink.SOFT)
    _band(sheet.axes(left + 28.0, top + 6.6, width - 28.0, 4.6), finding)
    sheet.text(left, top + 16.2, phrases.remark_of(finding), color=ink.SOFT, room=width)


def verdict_badge(sheet: Sheet, verdict: Verdict, left: float, top: float, width: float) -> None:
    """Write a verdict as symbol and word, white on its colour."""
    sheet.box(left, top, width, 4.2, facecolor=VERDICT_COLOURS[verdict])
    words = f"{phrases.SYMBOLS[verdict]} {said(verdict)}"
    sheet.text(left + width / 2, top + 3.1, words, ha="center", color=ink.PAPER, weight="bold")


def _band(axes: Axes, finding: Finding) -> None:
    judged = finding.decided_by
    interval = None
    if isinstance(finding.confidence, Confidence) and is_known(finding.confidence.interval):
        interval = finding.confidence.interval
    fine, borderline, bounds = _levels(finding)
    span = max(bounds) - min(bounds) if len(bounds) > 1 else max(abs(bounds[0]), 1.0)
    low, high = min(bounds) - 0.9 * span, max(bounds) + 0.9 * span
    axes.set_xlim(low, high)
    axes.set_ylim(0.0, 1.0)
    axes.add_patch(_zone(low, high, facecolor=ink.HAIR, hatch="xxxxx"))
    axes.add_patch(
        _zone(max(borderline[0], low), min(borderline[1], high), facecolor=ink.PAPER, hatch="////")
    )
    axes.add_patch(_zone(max(fine[0], low), min(fine[1], high), facecolor=ink.PAPER, hatch=""))
    for bound in bounds:
        axes.text(
            bound, -0.05, f"{bound:g}".replace("-", "\u2212"), ha="center", va="top", size=ink.TEXT_PT * 0.87
        )
    if interval is not None:
        start, end = (min(max(value, low), high) for value in interval)
        axes.plot([start, end], [0.78, 0.78], color=ink.INK, lw=2.2, solid_capstyle="butt", zorder=5)
    if isinstance(judged.measure, Measure):
        shown = judged.measure.shown
        inside = min(max(shown, low), high)
        marker = "D" if inside == shown else (">" if shown > high else "<")
        axes.plot(
            inside, 0.78, marker=marker, ms=5.0, mfc=ink.INK, mec=ink.PAPER, mew=0.7, zorder=6, clip_on=False
        )


def _levels(finding: Finding) -> tuple[tuple[float, float], tuple[float, float], tuple[float, ...]]:
    limit = finding.decided_by.limit
    if isinstance(limit, PressureGuide):
        return (-inf, limit.usual_below_kpa), (-inf, inf), (limit.usual_below_kpa,)
    return limit.levels.fine, limit.levels.borderline, limit.levels.bounds


def _zone(start: float, end: float, *, facecolor: str, hatch: str) -> Rectangle:
    return Rectangle(
        (start, 0.56),
        end - start,
        0.44,
        facecolor=facecolor,
        hatch=hatch,
        edgecolor=ink.SOFT,
        lw=0.5,
        clip_on=False,
    )


def _key(sheet: Sheet, left: float, top: float) -> None:
    places = (
        (0.0, "", ink.PAPER, "fine"),
        (18.0, "////", ink.PAPER, "borderline"),
        (44.0, "xxxxx", ink.HAIR, "not right"),
    )
    for offset, hatch, fill, words in places:
        style = {"facecolor": fill, "hatch": hatch, "edgecolor": ink.SOFT, "lw": 0.6}
        sheet.box(left + offset, top, 6.0, 2.6, **style)
        sheet.text(left + offset + 7.2, top + 2.3, said(words))
    axes = sheet.axes(left + 67.0, top, 8.0, 2.6)
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.plot([0, 1], [0.5, 0.5], color=ink.INK, lw=2.2, solid_capstyle="butt")
    axes.plot(0.5, 0.5, marker="D", ms=5.0, mfc=ink.INK, mec=ink.PAPER, mew=0.7)
    sheet.text(left + 76.5, top + 2.3, said("95 of 100"))
