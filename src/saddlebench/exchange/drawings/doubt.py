"""Where the doubt of a finding, or of an order, comes from: one bar a source, the longest on top."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

from matplotlib.axes import Axes

from saddlebench.engine.choose import OrderDoubt
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.doubt_sources import SourceKind, WorthRepeating
from saddlebench.engine.fit.worth_repeating import FindingDoubt
from saddlebench.exchange.doubt_of_order import order_advice, order_words, title_of_order
from saddlebench.exchange.doubt_words import (
    DOUBT_HEADING,
    advice_of,
    number_words,
    short_source_words,
    title_of_doubt,
)
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.ink import shortened
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said

MARGIN_MM, ROW_MM, HEAD_MM, BLOCK_HEAD_MM, BLOCK_FOOT_MM, LINE_MM = 4.0, 8.2, 15.0, 17.5, 8.4, 3.8
HATCHES = {
    SourceKind.SECTION: "",
    SourceKind.MARK: "",
    SourceKind.SADDLE: "",
    SourceKind.KIT: "",
    SourceKind.LEVEL: "",
    SourceKind.ASSUMPTION: "////",
}
"""What no reading lessens is hatched; what one can measure again is solid."""
END_LETTERS = 22
BEST, OTHER = "#0b4f79", "#9fb6c4"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """A doubt as it is drawn."""

    title: str
    number: str
    advice: str
    value: float
    limits: tuple[tuple[float, str], ...]
    """Where the answer changes, each with its words."""
    ends: tuple[str, str]
    """What is the case left and right of the limits; empty where their numbers say it."""
    sources: tuple[WorthRepeating, ...]
    best: WorthRepeating | Undetermined

    @classmethod
    def of(cls, doubt: FindingDoubt | OrderDoubt) -> Self:
        """Put a doubt into words."""
        if isinstance(doubt, OrderDoubt):
            return cls(
                title=title_of_order(doubt),
                number=order_words(doubt),
                advice=order_advice(doubt),
                value=doubt.lead,
                limits=((0.0, said("neither first")),),
                ends=(
                    f"\u2190 {shortened(doubt.other_label, END_LETTERS)}",
                    f"{shortened(doubt.first_label, END_LETTERS)} \u2192",
                ),
                sources=doubt.sources,
                best=doubt.best,
            )
        return cls(
            title=title_of_doubt(doubt),
            number=number_words(doubt),
            advice=advice_of(doubt),
            value=doubt.value,
            limits=tuple((bound, _bound_words(bound, doubt.unit)) for bound in doubt.bounds),
            ends=("", ""),
            sources=doubt.sources,
            best=doubt.best,
        )


def doubt_chart(
    doubts: Sequence[FindingDoubt] | Sequence[OrderDoubt],
    *,
    heading: str = DOUBT_HEADING,
    pair: str = "",
    width_mm: float = PHONE_WIDTH_MM,
    is_headed: bool = True,
) -> Drawing:
    """Return the sources of doubt of some findings, a block each; a diagram, not to scale.

    Parameters
    ----------
    doubts : in the order in which they are drawn
    heading : what the sheet is called
    pair : which saddle on which back, or whose list
    width_mm : paper width [mm]
    is_headed : whether the sheet says above what it is; not where a page does
    """
    head = HEAD_MM if is_headed else 1.0
    foot = BLOCK_FOOT_MM + LINE_MM * _lines(width_mm)
    shown = [_Shown.of(one) for one in doubts]
    heights = [BLOCK_HEAD_MM + ROW_MM * max(len(one.sources), 1) + foot for one in shown]
    height = head + sum(heights) + 8.0
    with drawing_style():
        sheet = Sheet(width_mm, height)
        if is_headed:
            sheet.heading(MARGIN_MM, 6.0, said(heading), (pair,) if pair else ())
        top = head
        for doubt, block in zip(shown, heights, strict=True):
            _block(sheet, doubt, top)
            top += block
        _key(sheet, height - 4.0)
    described = " ".join(f"{one.title}: {one.advice}" for one in shown)
    title = f"{said(heading)}: {pair}" if pair else said(heading)
    return Drawing(figure=sheet.figure, title=title, description=described, scale=None)


def _block(sheet: Sheet, doubt: _Shown, top: float) -> None:
    width = sheet.width_mm - 2.0 * MARGIN_MM
    sheet.box(MARGIN_MM, top, width, 0.25, facecolor=ink.HAIR)
    sheet.text(MARGIN_MM, top + 4.6, doubt.title, weight="bold", room=width)
    sheet.paragraph(MARGIN_MM, top + 8.6, doubt.number, room=width, n_lines=2, color=ink.SOFT)
    rows = len(doubt.sources)
    begins = top + BLOCK_HEAD_MM - 2.0
    if rows:
        axes = sheet.axes(MARGIN_MM, begins, width, ROW_MM * rows + 3.6)
        _bars(axes, doubt, rows)
        for k, source in enumerate(doubt.sources):
            is_best = source == doubt.best
            words = short_source_words(source)
            sheet.text(
                MARGIN_MM,
                begins + k * ROW_MM + 2.4,
                words,
                room=width,
                weight="bold" if is_best else "normal",
                bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.2},
            )
    else:
        sheet.text(MARGIN_MM, begins + 3.0, said("no single source stands out"), color=ink.SOFT)
    below = begins + ROW_MM * max(rows, 1) + 8.2
    sheet.paragraph(MARGIN_MM, below, doubt.advice, room=width, n_lines=_lines(sheet.width_mm))


def _lines(width_mm: float) -> int:
    """Return over how many lines the advice goes: on a wide sheet it is short."""
    return 2 if width_mm >= 150.0 else 4


def _bars(axes: Axes, doubt: _Shown, rows: int) -> None:
    ends = [end for source in doubt.sources for end in (source.low, source.high)]
    reach = max(1e-9, *(abs(end - doubt.value) for end in ends)) * 1.12
    near = [limit for limit in doubt.limits if abs(limit[0] - doubt.value) <= 2.5 * reach]
    low = min([doubt.value - reach, *(bound - 0.1 * reach for bound, _ in near)])
    high = max([doubt.value + reach, *(bound + 0.1 * reach for bound, _ in near)])
    axes.set_xlim(low, high)
    # Rows count downwards; the strip below them holds the limits' numbers.
    axes.set_ylim(rows + 3.6 / ROW_MM, 0.0)
    for bound, words in near:
        axes.plot([bound, bound], [0.42, rows], color=ink.INK, lw=ink.HAIR_PT * 1.6, ls=(0, (3, 2)), zorder=1)
        axes.text(bound, rows + 3.2 / ROW_MM, words, ha="center", va="bottom", size=ink.TEXT_PT)
    for at, align, end in ((low, "left", doubt.ends[0]), (high, "right", doubt.ends[1])):
        axes.text(at, rows + 3.2 / ROW_MM, end, ha=align, va="bottom", size=ink.TEXT_PT)
    axes.plot([doubt.value, doubt.value], [0.42, rows], color=ink.SOFT, lw=ink.HAIR_PT, zorder=1)
    for k, source in enumerate(doubt.sources):
        _bar(axes, source, k, is_best=source == doubt.best)


def _bound_words(bound: float, unit: str) -> str:
    shown = f"{bound:g}".replace("-", "\u2212")
    return reader().millimetres(shown) if unit == "mm" else reader().number(shown)


def _bar(axes: Axes, source: WorthRepeating, row: int, *, is_best: bool) -> None:
    hatch = HATCHES[source.kind]
    axes.barh(
        row + 0.68,
        source.high - source.low,
        left=source.low,
        height=0.42,
        color=ink.PAPER if hatch else (BEST if is_best else OTHER),
        hatch=hatch,
        edgecolor=ink.SOFT,
        lw=0.5,
        zorder=3,
    )


def _key(sheet: Sheet, top: float) -> None:
    at = MARGIN_MM
    places = (
        (BEST, "", "repeat this first"),
        (OTHER, "", "can be repeated"),
        (ink.PAPER, "////", "assumption"),
    )
    for fill, hatch, words in places:
        sheet.box(at, top - 2.2, 4.2, 2.6, facecolor=fill, hatch=hatch, edgecolor=ink.SOFT, lw=0.5)
        at += 5.0
        at += sheet.text(at, top, said(words)) + 2.2
