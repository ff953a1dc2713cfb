"""Drawings of a saddle on a back: sections, plan, side view, load along the panels; as SVG, PNG or PDF."""

from saddlebench.exchange.drawings.findings import findings_strip
from saddlebench.exchange.drawings.line_load import line_load
from saddlebench.exchange.drawings.overview import back_view, overview
from saddlebench.exchange.drawings.plan import before_and_after, plan
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.drawings.section import SectionPlace, key_places, section_row, sections
from saddlebench.exchange.drawings.sheet import (
    PAGE_WIDTH_MM,
    PHONE_WIDTH_MM,
    Drawing,
    as_pdf,
    as_png,
    as_svg,
    write_drawing,
)
from saddlebench.exchange.drawings.side import side
from saddlebench.exchange.drawings.underside import underside

__all__ = [
    "PAGE_WIDTH_MM",
    "PHONE_WIDTH_MM",
    "Drawing",
    "Scene",
    "SectionPlace",
    "as_pdf",
    "as_png",
    "as_svg",
    "back_view",
    "before_and_after",
    "findings_strip",
    "key_places",
    "line_load",
    "overview",
    "plan",
    "section_row",
    "sections",
    "side",
    "underside",
    "write_drawing",
]
