"""Flat drawings as DXF (release 2010): the file states millimetres, a layer says what each line is for."""

import io

from ezdxf import units
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment

from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.planar.model import Label, Layer, PlanarDrawing

COLOURS = {
    Layer.CUT: 1,
    Layer.ENGRAVE: 5,
    Layer.SKIN: 7,
    Layer.NOT_MEASURED: 8,
    Layer.TEXT: 5,
    Layer.CHECK: 3,
    Layer.SHEET: 9,
}
"""AutoCAD colour index by layer."""
SAFE = {"−": "-", "“": '"', "”": '"', "’": "'", "…": "...", "\u00a0": " ", "→": "->", "≤": "<="}
"""The plain font of most machines knows little beyond ASCII."""


def as_dxf(drawing: PlanarDrawing) -> bytes:
    """Return a drawing as a DXF file in mm."""
    document = Drawing.new("R2010")
    document.units = units.MM
    document.header["$MEASUREMENT"] = 1
    for layer in Layer:
        document.layers.add(layer, color=COLOURS[layer])
    space = document.modelspace()
    for stroke in drawing.strokes:
        places = [(float(x), float(y)) for x, y in stroke.points]
        space.add_lwpolyline(places, close=stroke.closed, dxfattribs={"layer": stroke.layer})
    for label in drawing.labels:
        _add_words(document, label)
    held = io.StringIO()
    document.write(held)
    return held.getvalue().encode(document.output_encoding, errors="dxfreplace")


def _add_words(document: Drawing, label: Label) -> None:
    words = "".join(SAFE.get(character, character) for character in drawable(label.words))
    text = document.modelspace().add_text(
        words,
        height=label.height_mm,
        rotation=label.turned_deg,
        dxfattribs={"layer": label.layer},
    )
    align = TextEntityAlignment.CENTER if label.centred else TextEntityAlignment.LEFT
    text.set_placement(label.at, align=align)
