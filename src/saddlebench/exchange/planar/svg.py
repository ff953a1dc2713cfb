"""Flat drawings as SVG: one user unit is one millimetre, and the page says so."""

from xml.etree import ElementTree as ET

from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.planar.model import Label, Layer, PlanarDrawing, Stroke

NAMESPACE = "http://www.w3.org/2000/svg"
STYLE = {
    Layer.CUT: {"stroke": "#ff0000", "stroke-width": "0.1"},
    Layer.ENGRAVE: {"stroke": "#0000ff", "stroke-width": "0.1"},
    Layer.SKIN: {"stroke": "#000000", "stroke-width": "0.35"},
    Layer.NOT_MEASURED: {"stroke": "#777777", "stroke-width": "0.3", "stroke-dasharray": "4 3"},
    Layer.TEXT: {"stroke": "#0000ff", "stroke-width": "0.1"},
    Layer.CHECK: {"stroke": "#000000", "stroke-width": "0.2"},
    Layer.SHEET: {"stroke": "#999999", "stroke-width": "0.2", "stroke-dasharray": "1 2"},
}


def planar_svg(drawing: PlanarDrawing) -> str:
    """Return a drawing as SVG at true size, a group to each layer, with title and description."""
    left, low, right, high = drawing.bounds()
    width, height = right - left, high - low
    root = ET.Element(
        f"{{{NAMESPACE}}}svg",
        {
            "width": f"{width:.3f}mm",
            "height": f"{height:.3f}mm",
            "viewBox": f"0 0 {width:.3f} {height:.3f}",
            "role": "img",
            "aria-labelledby": "title description",
        },
    )
    ET.SubElement(root, f"{{{NAMESPACE}}}title", {"id": "title"}).text = drawable(drawing.title)
    ET.SubElement(root, f"{{{NAMESPACE}}}desc", {"id": "description"}).text = drawable(drawing.description)
    for layer in Layer:
        strokes = [one for one in drawing.strokes if one.layer is layer]
        labels = [one for one in drawing.labels if one.layer is layer]
        if strokes or labels:
            group = ET.SubElement(root, f"{{{NAMESPACE}}}g", {"id": layer, "fill": "none", **STYLE[layer]})
            for stroke in strokes:
                group.append(_path(stroke, left, high))
            for label in labels:
                group.append(_words(label, left, high, STYLE[layer]["stroke"]))
    ET.register_namespace("", NAMESPACE)
    ET.indent(root, space=" ")
    return ET.tostring(root, encoding="unicode", xml_declaration=True) + "\n"


def _path(stroke: Stroke, left: float, high: float) -> ET.Element:
    places = " L ".join(f"{x - left:.3f} {high - y:.3f}" for x, y in stroke.points)
    return ET.Element(f"{{{NAMESPACE}}}path", {"d": f"M {places}{' Z' if stroke.closed else ''}"})


def _words(label: Label, left: float, high: float, colour: str) -> ET.Element:
    x, y = label.at[0] - left, high - label.at[1]
    held = {
        "x": f"{x:.3f}",
        "y": f"{y:.3f}",
        "font-size": f"{label.height_mm / 0.72:.2f}",
        "font-family": "sans-serif",
        "fill": colour,
        "stroke": "none",
        "text-anchor": "middle" if label.centred else "start",
    }
    if label.turned_deg:
        held["transform"] = f"rotate({-label.turned_deg:g} {x:.3f} {y:.3f})"
    made = ET.Element(f"{{{NAMESPACE}}}text", held)
    made.text = drawable(label.words)
    return made
