"""Where the doubt of a finding comes from: one bar a source, the longest on top."""

from collections.abc import Sequence

from matplotlib.axes import Axes

from saddlebench.engine.fit.worth_repeating import FindingDoubt, SourceKind, WorthRepeating
from saddlebench.exchange.doubt_words import (
    DOUBT_HEADING,
    advice_of,
    number_words,
    source_words,
    title_of_doubt,
)
from saddlebench.exchange.drawings import ink
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
BEST, OTHER = "#0b4f79", "#9fb6c4"


def doubt_chart(
    doubts: Sequence[FindingDoubt],
    *,
    pair: str = "",
    width_mm: float = PHONE_WIDTH_MM,
    is_headed: bool = True,
) -> Drawing:
    """Return the sources of doubt of some findings, a block each; a diagram, not to scale.

    Parameters
    ----------
    doubts : in the order in which they are drawn
    pair : which saddle on which back
    width_mm : paper width [mm]
    is_headed : whether the sheet says above what it is; not where a page does
    """
    head = HEAD_MM if is_headed else 1.0
    foot = BLOCK_FOOT_MM + LINE_MM * _lines(width_mm)
    heights = [BLOCK_HEAD_MM + ROW_MM * max(len(one.sources), 1) + foot for one in doubts]
    height = head + sum(heights) + 8.0
    with drawing_style():
        sheet = Sheet(width_mm, height)
        if is_headed:
            sheet.heading(MARGIN_MM, 6.0, said(DOUBT_HEADING), (pair,) if pair else ())
        top = head
        for doubt, block in zip(doubts, heights, strict=True):
            _block(sheet, doubt, top)
            top += block
        _key(sheet, height - 4.0)
    described = " ".join(f"{title_of_doubt(one)}: {advice_of(one)}" for one in doubts)
    title = f"{said(DOUBT_HEADING)}: {pair}" if pair else said(DOUBT_HEADING)
    return Drawing(figure=sheet.figure, title=title, description=described, scale=None)


def _block(sheet: Sheet, doubt: FindingDoubt, top: float) -> None:
    width = sheet.width_mm - 2.0 * MARGIN_MM
    sheet.box(MARGIN_MM, top, width, 0.25, facecolor=ink.HAIR)
    sheet.text(MARGIN_MM, top + 4.6, title_of_doubt(doubt), weight="bold", room=width)
    sheet.paragraph(MARGIN_MM, top + 8.6, number_words(doubt), room=width, n_lines=2, color=ink.SOFT)
    rows = len(doubt.sources)
    begins = top + BLOCK_HEAD_MM - 2.0
    if rows:
        axes = sheet.axes(MARGIN_MM, begins, width, ROW_MM * rows + 3.6)
        _bars(axes, doubt, rows)
        for k, source in enumerate(doubt.sources):
            is_best = source == doubt.best
            words = source_words(source)
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
    sheet.paragraph(MARGIN_MM, below, advice_of(doubt), room=width, n_lines=_lines(sheet.width_mm))


def _lines(width_mm: float) -> int:
    """Return over how many lines the advice goes: on a wide sheet it is short."""
    return 2 if width_mm >= 150.0 else 4


def _bars(axes: Axes, doubt: FindingDoubt, rows: int) -> None:
    ends = [end for source in doubt.sources for end in (source.low, source.high)]
    reach = max(1e-9, *(abs(end - doubt.value) for end in ends)) * 1.12
    near = [bound for bound in doubt.bounds if abs(bound - doubt.value) <= 2.5 * reach]
    low = min(doubt.value - reach, *(bound - 0.1 * reach for bound in near)) if near else doubt.value - reach
    high = max(doubt.value + reach, *(bound + 0.1 * reach for bound in near)) if near else doubt.value + reach
    axes.set_xlim(low, high)
    # Rows count downwards; the strip below them holds the limits' numbers.
    axes.set_ylim(rows + 3.6 / ROW_MM, 0.0)
    for bound in near:
        axes.plot([bound, bound], [0.42, rows], color=ink.INK, lw=ink.HAIR_PT * 1.6, ls=(0, (3, 2)), zorder=1)
        words = _bound_words(bound, doubt.unit)
        axes.text(bound, rows + 3.2 / ROW_MM, words, ha="center", va="bottom", size=ink.TEXT_PT)
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
