"""Templates for paper and cutter: flat drawings at true size, and their tiling over sheets of paper."""

from saddlebench.exchange.templates.drawn import TemplateNames, template_drawing, ticks_every_mm
from saddlebench.exchange.templates.tiles import (
    PAPERS,
    Paper,
    PrintScale,
    Tile,
    Tiling,
    print_scale_from,
    tiling_of,
)

__all__ = [
    "PAPERS",
    "Paper",
    "PrintScale",
    "TemplateNames",
    "Tile",
    "Tiling",
    "print_scale_from",
    "template_drawing",
    "ticks_every_mm",
    "tiling_of",
]
