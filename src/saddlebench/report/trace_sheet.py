"""Trace sheets as PDF: vector, at true size, a page for each paper."""

from pathlib import Path
from typing import Any

from saddlebench.exchange.readers import reader
from saddlebench.exchange.sheets.drawn import Box, TileDrawn, tiles_drawn
from saddlebench.exchange.sheets.layout import MARGIN_MM, RING_MM, SheetLayout
from saddlebench.exchange.vocabulary import said
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.setting import region_of
from saddlebench.report.typeset import typeset_for_all

TEMPLATE = "trace_sheet.typ"


def write_trace_sheet(layout: SheetLayout, path: Path) -> None:
    """Write a trace sheet as PDF; whole, or not at all."""
    write_whole(path, trace_sheet_pdf(layout))


def trace_sheet_pdf(layout: SheetLayout) -> bytes:
    """Return a trace sheet as PDF/UA-1 in its reader's language; equal layouts give equal bytes."""
    contents = {
        "title": f"{said('Trace sheet')}, {said(layout.kind.value)}, {layout.paper.name}",
        "language": reader().language,
        "region": region_of(reader()),
        "width": layout.width_mm,
        "height": layout.height_mm,
        "ring": RING_MM,
        "sheets": [_sheet(layout, tile) for tile in tiles_drawn(layout)],
    }
    return typeset_for_all(TEMPLATE, [contents], shared=False)


def _sheet(layout: SheetLayout, drawn: TileDrawn) -> dict[str, Any]:
    """Return one tile in its paper's own millimetres, from the upper left corner, y down."""
    left, top = layout.tile_left_mm(drawn.tile) - MARGIN_MM, layout.top_mm + MARGIN_MM

    def on_paper(place: tuple[float, float]) -> list[float]:
        return [round(place[0] - left, 4), round(top - place[1], 4)]

    def box(one: Box) -> list[float]:
        x, low, right, high = one
        return [*on_paper((x, high)), round(right - x, 4), round(high - low, 4)]

    return {
        "squares": [box(one) for one in drawn.squares],
        "whites": [box(one) for one in drawn.whites],
        "lines": [
            {
                "from": on_paper(one.start),
                "to": on_paper(one.end),
                "faint": one.is_faint,
                "width": one.width_mm,
            }
            for one in drawn.lines
        ],
        "rings": [on_paper(one) for one in drawn.rings],
        "words": [
            {"at": on_paper(one.at), "words": one.words, "height": one.height_mm, "faint": one.is_faint}
            for one in drawn.words
        ],
    }
