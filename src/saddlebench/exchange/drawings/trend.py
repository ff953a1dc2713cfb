"""Numbers of a back over the days: every visit with its error, the trend and its band, winters shaded."""

import datetime as dt
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, date2num, num2date
from matplotlib.ticker import FuncFormatter, MaxNLocator

from saddlebench.engine.back.estimates import NORMAL_95
from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.trend.recheck import RecheckAdvice
from saddlebench.engine.change.trend.study import Line, Trend, TrendPoint
from saddlebench.engine.units import Length
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.readers import reader
from saddlebench.exchange.trend_words import (
    change_words,
    name_of,
    odd_words,
    season_words,
    short_swing_words,
    swing_words,
)
from saddlebench.exchange.vocabulary import said

ROW_MM, PLOT_MM, HEAD_MM, FOOT_MM, MARGIN_MM = 54.0, 27.0, 16.0, 14.5, 4.0
LEFT_MM, LINE_MM = 11.0, 3.6
MOST_SWINGS = 2
LEAST_CELL_MM = 80.0
BAND = "#cfe0ea"
WINTER = "#eef0f2"
ODD = "#b33c00"


def trend_chart(
    trends: Sequence[Trend],
    *,
    label: str = "",
    advice: RecheckAdvice | None = None,
    width_mm: float = PHONE_WIDTH_MM,
    is_headed: bool = True,
) -> Drawing:
    """Return a chart of every trend; a diagram, not to scale.

    Parameters
    ----------
    trends : one panel each, in order
    label : which horse
    advice : its day is marked
    width_mm : paper width [mm]; one column on a phone, two on an A4 page
    is_headed : whether the sheet says above what it is; not where a page does
    """
    head = HEAD_MM if is_headed else 1.0
    columns = 2 if width_mm >= 2.0 * LEAST_CELL_MM + 3.0 * MARGIN_MM - 2.0 else 1
    rows = -(-len(trends) // columns)
    cell = (width_mm - MARGIN_MM) / columns - MARGIN_MM
    height = head + rows * ROW_MM + FOOT_MM
    with drawing_style():
        sheet = Sheet(width_mm, height)
        visits = max((len(trend.points) for trend in trends), default=0)
        name = f": {label}" if label else ""
        if is_headed:
            sheet.heading(MARGIN_MM, 6.0, f"{said('Over the visits')}{name}", (said(f"{visits} visits"),))
        for k, trend in enumerate(trends):
            left = MARGIN_MM + (k % columns) * (cell + MARGIN_MM)
            _panel(sheet, trend, advice, (left, head + (k // columns) * ROW_MM, cell))
        _key(sheet, height - 9.5)
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Over the visits')}{name}",
        description=" ".join(_sentence(trend) for trend in trends),
        scale=None,
    )


def _sentence(trend: Trend) -> str:
    odd, swing = odd_words(trend), swing_words(trend)
    if swing:
        return f"{name_of(trend.quantity)}: {swing}{f'; {odd}' if odd else ''}."
    overall = change_words(trend.overall, trend.quantity)
    return f"{name_of(trend.quantity)}: {said('first to last')} {overall}{f'; {odd}' if odd else ''}."


def _panel(sheet: Sheet, trend: Trend, advice: RecheckAdvice | None, box: tuple[float, float, float]) -> None:
    left, top, width = box
    quantity = trend.quantity
    # A long name is cut; its unit never is.
    taken = 0.0
    if quantity.shown_unit:
        unit = f"[{_shown_unit(quantity)}]"
        taken = sheet.text(left + width, top + 3.4, unit, ha="right", color=ink.SOFT) + 2.0
    sheet.text(left, top + 3.4, name_of(quantity), weight="bold", room=width - taken)
    axes = sheet.axes(left + LEFT_MM, top + 5.5, width - LEFT_MM - 1.0, PLOT_MM)
    _frame(axes, trend, advice)
    if isinstance(trend.line, Line):
        days = date2num(trend.line.days)
        axes.fill_between(days, trend.line.low, trend.line.high, color=BAND, lw=0.0, zorder=2)
        axes.plot(days, trend.line.mean, color=ink.LOAD, lw=ink.LINE_PT, zorder=3)
    _points(axes, [point for point in trend.points if point.belongs], is_odd=False)
    _points(axes, [point for point in trend.points if not point.belongs], is_odd=True)
    below = top + 5.5 + PLOT_MM + 7.4
    lines = [(f"◆ {short_swing_words(one, quantity)}", ink.INK) for one in trend.swings[:MOST_SWINGS]]
    if not lines:
        change, _, interval = change_words(trend.overall, quantity).partition(" (")
        lines = [(f"○ {said('first to last')} {change}", ink.INK)]
        lines += [(f"    {interval.removesuffix(')')}", ink.INK)] if interval else []
    elif len(trend.swings) > MOST_SWINGS:
        lines[-1] = (f"{lines[-1][0]}; …", ink.INK)
    lines += [(season_words(trend.season, quantity), ink.SOFT), (odd_words(trend), ODD)]
    for k, (words, colour) in enumerate(lines):
        sheet.text(left, below + LINE_MM * k, words, color=colour, room=width)


def _frame(axes: Axes, trend: Trend, advice: RecheckAdvice | None) -> None:
    days = [point.day for point in trend.points]
    last = max(days)
    if isinstance(trend.line, Line):
        last = max(last, trend.line.days[-1])
    if advice is not None and advice.day <= last + dt.timedelta(days=60):
        last = max(last, advice.day)
    first = min(days)
    margin = max((last - first).days * 0.03, 5.0)
    axes.set_xlim(date2num(first) - margin, date2num(last) + margin)
    low = min(point.value - NORMAL_95 * point.sd for point in trend.points)
    high = max(point.value + NORMAL_95 * point.sd for point in trend.points)
    if isinstance(trend.line, Line):
        low, high = min(low, *trend.line.low), max(high, *trend.line.high)
    pad = 0.06 * max(high - low, 1e-6)
    axes.set_ylim(low - pad, high + pad)
    for year in range(first.year - 1, last.year + 1):
        axes.axvspan(
            date2num(dt.date(year, 11, 1)), date2num(dt.date(year + 1, 3, 31)), color=WINTER, lw=0.0, zorder=0
        )
    locator = AutoDateLocator(minticks=2, maxticks=5)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(FuncFormatter(_month))
    unit = _in_shown(trend.quantity)
    ticks = MaxNLocator(nbins=4).tick_values((low - pad) / unit, (high + pad) / unit)
    shown = [float(tick) for tick in ticks if low - pad <= tick * unit <= high + pad]
    digits = _digits(shown)
    words = [reader().number(f"{tick:.{digits}f}".replace("-", "\u2212")) for tick in shown]
    axes.set_yticks([tick * unit for tick in shown], words)
    axes.tick_params(labelsize=ink.TEXT_PT, length=2.0)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(True)
        axes.spines[side].set_linewidth(ink.HAIR_PT)
    if advice is not None:
        axes.axvline(date2num(advice.day), color=ink.INK, lw=ink.HAIR_PT * 1.6, ls=(0, (4, 2)), zorder=1)


def _digits(ticks: Sequence[float], most: int = 4) -> int:
    """Return with how many digits ticks are written as what they are: 2.5 is not 2, nor 0.455 0.46."""
    return next((n for n in range(most) if np.allclose(np.round(ticks, n), ticks, rtol=0.0, atol=1e-9)), most)


def _in_shown(quantity: Quantity) -> float:
    """Return how many of a number's units one unit on the axis is."""
    is_inch = quantity.shown_unit == Length.MM and reader().length is Length.INCH
    return Length.INCH.in_mm if is_inch else 1.0


def _shown_unit(quantity: Quantity) -> str:
    return reader().length_sign if quantity.shown_unit == Length.MM else quantity.shown_unit


def _month(at: float, _index: int) -> str:
    """Return a day on the axis as month and year, in the reader's language."""
    return reader().month(num2date(at).date())


def _points(axes: Axes, points: Sequence[TrendPoint], *, is_odd: bool) -> None:
    if not points:
        return
    days = date2num([point.day for point in points])
    values = np.array([point.value for point in points])
    bars = NORMAL_95 * np.array([point.sd for point in points])
    colour = ODD if is_odd else ink.INK
    axes.vlines(days, values - bars, values + bars, color=colour, lw=ink.HAIR_PT, zorder=4)
    axes.plot(
        days,
        values,
        ls="none",
        marker="X" if is_odd else "o",
        ms=5.5 if is_odd else 3.0,
        mfc=ink.PAPER if is_odd else colour,
        mec=colour,
        mew=1.0,
        zorder=5,
    )


def _key(sheet: Sheet, top: float) -> None:
    axes = sheet.axes(MARGIN_MM, top - 2.2, 6.0, 2.8)
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(0.0, 1.0)
    axes.vlines(0.5, 0.0, 1.0, color=ink.INK, lw=ink.HAIR_PT)
    axes.plot(0.5, 0.5, marker="o", ms=3.0, color=ink.INK)
    at = MARGIN_MM + 6.5
    at += sheet.text(at, top, said("visit, 95 %")) + 3.0
    sheet.box(at, top - 2.2, 6.0, 2.6, facecolor=BAND)
    at += 7.0
    at += sheet.text(at, top, said("trend, 95 %")) + 3.0
    sheet.box(at, top - 2.2, 6.0, 2.6, facecolor=WINTER, edgecolor=ink.HAIR, lw=0.4)
    at += 7.0
    at += sheet.text(at, top, said("winter months")) + 3.0
    if sheet.width_mm < 2.0 * LEAST_CELL_MM:
        at, top = MARGIN_MM, top + 4.5
    odd = sheet.axes(at, top - 2.2, 4.0, 2.8)
    odd.set_xlim(0.0, 1.0)
    odd.set_ylim(0.0, 1.0)
    odd.plot(0.5, 0.5, marker="X", ms=5.0, mfc=ink.PAPER, mec=ODD, mew=1.0)
    at += 4.6
    at += sheet.text(at, top, said("does not belong"), room=sheet.width_mm - at - 6.0) + 3.0
    sheet.text(at, top, f"◆ {said('moved')}", room=sheet.width_mm - at - 2.0)
