"""Flat drawings in true millimetres for paper, knife, laser and router: as SVG and as DXF."""

from saddlebench.exchange.planar.dxf import as_dxf
from saddlebench.exchange.planar.model import Label, Layer, PlanarDrawing, Stroke
from saddlebench.exchange.planar.svg import planar_svg

__all__ = ["Label", "Layer", "PlanarDrawing", "Stroke", "as_dxf", "planar_svg"]
