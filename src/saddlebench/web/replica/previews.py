"""What a part will look like, drawn before it is made: templates, sheets of ribs, the solid and its cuts."""

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np

from saddlebench.exchange.readers import read_by, reader
from saddlebench.practice.queries.rebuilds import RebuildSource
from saddlebench.web.replica.choices import (
    RIBS,
    SOLID,
    TEMPLATES,
    Given,
    query_of,
    reader_of,
    ribs_of,
    solid_of,
    templates_of,
)
from saddlebench.web.replica.loading import measured_source, pictures

if TYPE_CHECKING:
    from saddlebench.engine.errors import Problem
    from saddlebench.engine.frames import FloatArray
    from saddlebench.exchange.planar import PlanarDrawing

_SVG = "http://www.w3.org/2000/svg"
_WIDTHS = {"CUT": "1.6", "ENGRAVE": "1", "SKIN": "2.2", "NOT_MEASURED": "1.2", "CHECK": "1", "SHEET": "1"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """A part before it is made."""

    drawings: "tuple[PlanarDrawing, ...]"
    words: tuple[str, ...]
    """What it will take: sheets, pieces, sizes."""
    problems: "tuple[Problem, ...]"


def preview_of(source: RebuildSource, what: str, given: Given) -> Preview:
    """Return what a part will look like; kept while it is looked at.

    Raises
    ------
    InputProblemsError
        If it cannot be made like this.
    """
    makers = {TEMPLATES: _templates, RIBS: _ribs, SOLID: _solid}
    key = (source.sha256, source.horse.label, what, query_of(given))

    def made() -> Preview:
        with read_by(reader_of(given)):
            return makers[what](source, given)

    found: Preview = pictures.get(key, made)
    return found


def _templates(source: RebuildSource, given: Given) -> Preview:
    from saddlebench.engine.replica.templates import template_set  # noqa: PLC0415
    from saddlebench.exchange.templates import (  # noqa: PLC0415
        TemplateNames,
        template_drawing,
        ticks_every_mm,
        tiling_of,
    )

    request, back = templates_of(given), measured_source(source)
    made = template_set(
        back.estimated,
        request.distances_mm,
        forms=request.forms,
        thickness_mm=request.thickness_mm,
        ticks_every_mm=ticks_every_mm(),
    )
    names = TemplateNames(label=back.record.label, measured_on=back.record.measured_on)
    drawings = tuple(template_drawing(one, names) for one in made)
    n_sheets = sum(len(tiling_of(one, request.paper, request.scale).tiles) for one in drawings)
    scale = request.scale
    checked = (
        "Corrected for your printer."
        if scale.checked
        else "Not yet corrected for your printer: print one sheet, measure both check bars, type them in."
    )
    return Preview(
        drawings=drawings,
        words=(f"{len(drawings)} templates on {n_sheets} sheets of {request.paper.name}.", checked),
        problems=(),
    )


def _ribs(source: RebuildSource, given: Given) -> Preview:
    from saddlebench.engine.replica.ribs import rib_replica  # noqa: PLC0415
    from saddlebench.exchange.ribs import nested, sheet_drawing  # noqa: PLC0415

    request, back = ribs_of(given), measured_source(source)
    replica = rib_replica(back.estimated, request.ribs, request.distances_mm)
    sheets = nested(replica, request.sheets)
    record = back.record
    day = reader().day(record.measured_on)
    drawings = tuple(
        sheet_drawing(sheet, len(sheets), record.label, day, request.ribs.thickness_mm) for sheet in sheets
    )
    size = f"{request.sheets.width_mm:g} × {request.sheets.height_mm:g} mm"
    words = (
        f"{len(replica.ribs)} ribs and {len(replica.lengthwise)} lengthwise parts on {len(sheets)} "
        f"sheet{'s' if len(sheets) > 1 else ''} of {size}, {request.ribs.thickness_mm:g} mm thick."
    )
    return Preview(drawings=drawings, words=(words,), problems=replica.problems)


def _solid(source: RebuildSource, given: Given) -> Preview:
    from saddlebench.engine.replica.block import back_block  # noqa: PLC0415
    from saddlebench.exchange.planar import PlanarDrawing  # noqa: PLC0415
    from saddlebench.exchange.solids import cut_planes  # noqa: PLC0415

    request, back = solid_of(given), measured_source(source)
    problems = request.solid.problems()
    if problems:
        from saddlebench.engine.errors import InputProblemsError  # noqa: PLC0415

        raise InputProblemsError(problems)
    block = back_block(back.estimated, base_below_mm=request.solid.base_below_mm)
    cuts_x, cuts_y = cut_planes(block, request.solid)
    along, across, high = (float(v) for v in np.ptp(block.mesh.vertices, axis=0))
    pieces = (len(cuts_x) - 1) * (len(cuts_y) - 1)
    cut = f"{pieces} pieces, held together by dowels." if pieces > 1 else "One piece."
    drawing = PlanarDrawing(
        name="solid",
        title="The solid, from above and from the near side",
        description=f"{along:.0f} × {across:.0f} × {high:.0f} mm; numbered pieces are cut along the red lines"
        if pieces > 1
        else f"{along:.0f} × {across:.0f} × {high:.0f} mm",
        strokes=tuple(_solid_strokes(block.skin, block.base_mm, cuts_x, cuts_y)),
        labels=tuple(_solid_labels(block.skin, block.base_mm, cuts_x, cuts_y)),
        box=_solid_box(block.skin, block.base_mm),
    )
    return Preview(
        drawings=(drawing,),
        words=(f"{along:.0f} mm long, {across:.0f} mm wide, {high:.0f} mm high. {cut}",),
        problems=(),
    )


def _solid_strokes(skin: "FloatArray", base_mm: float, cuts_x: Any, cuts_y: Any) -> list[Any]:
    """Return plan and side of a skin (n_s, n_u, 3) float, back frame [mm], as strokes, head to the left."""
    from saddlebench.exchange.planar import Layer, Stroke  # noqa: PLC0415

    def plan(points: "FloatArray") -> "FloatArray":
        """Return points (n, 3) float, back frame [mm], seen from above, (n, 2) float [mm]."""
        return np.stack([-points[:, 0], -points[:, 1]], axis=1)

    below = _side_offset(skin)
    edge = np.vstack([skin[:, 0], skin[-1], skin[::-1, -1], skin[0, ::-1]])
    strokes = [Stroke(layer=Layer.SKIN, points=plan(edge), closed=True)]
    step = max(1, len(skin) // 12)
    strokes += [Stroke(layer=Layer.ENGRAVE, points=plan(row)) for row in skin[step:-1:step]]
    top = skin[:, :, 2].max(axis=1)
    x = -skin[:, :, 0].mean(axis=1)
    outline = np.stack([x, top - base_mm + below], axis=1)
    corners = np.array([[x[-1], below], [x[0], below]])
    strokes.append(Stroke(layer=Layer.SKIN, points=np.vstack([outline, corners]), closed=True))
    low, high = -skin[..., 1].max(), -skin[..., 1].min()
    for at in cuts_x[1:-1]:
        strokes.append(Stroke(layer=Layer.CUT, points=np.array([[-at, low], [-at, high]])))
        strokes.append(
            Stroke(
                layer=Layer.CUT, points=np.array([[-at, below], [-at, float(top.max()) - base_mm + below]])
            )
        )
    strokes += [
        Stroke(layer=Layer.CUT, points=np.array([[x.min(), -at], [x.max(), -at]])) for at in cuts_y[1:-1]
    ]
    return strokes


def _side_offset(skin: "FloatArray") -> float:
    """Return how far above the plan the side view of a skin (n_s, n_u, 3) float, back frame [mm], stands."""
    return float(-skin[..., 1].min()) + 60.0


def _solid_box(skin: "FloatArray", base_mm: float) -> tuple[float, float, float, float]:
    """Return the box about both views of a skin (n_s, n_u, 3) float, back frame [mm], words included."""
    up = float(skin[..., 2].max()) - base_mm + _side_offset(skin) + 40.0
    left, right = float(-skin[..., 0].max()) - 10.0, float(-skin[..., 0].min()) + 10.0
    return left, float(-skin[..., 1].max()) - 10.0, right, up


def _solid_labels(skin: "FloatArray", base_mm: float, cuts_x: Any, cuts_y: Any) -> list[Any]:
    """Return the words of both views of a skin (n_s, n_u, 3) float, back frame [mm], and piece numbers."""
    from saddlebench.exchange.planar import Label  # noqa: PLC0415

    left, high = float(-skin[..., 0].max()), _side_offset(skin)
    up = float(skin[..., 2].max()) - base_mm + high + 10.0
    spans_x, spans_y = list(pairwise(cuts_x))[::-1], list(pairwise(cuts_y))[::-1]
    numbers = [
        Label(words=f"{i}-{j}", at=(-0.5 * sum(x), -0.5 * sum(y)), height_mm=22.0)
        for i, x in enumerate(spans_x, start=1)
        for j, y in enumerate(spans_y, start=1)
        if len(spans_x) * len(spans_y) > 1
    ]
    return [
        *numbers,
        Label(words="from the near side, the head to the left", at=(left, up), height_mm=12.0, centred=False),
        Label(
            words="from above: off side up, near side down",
            at=(left, float(-skin[..., 1].min()) + 12.0),
            height_mm=12.0,
            centred=False,
        ),
    ]


def on_screen(drawing: "PlanarDrawing") -> bytes:
    """Return a drawing as SVG for a screen: lines as thick on a phone as on a desk, on white."""
    from saddlebench.exchange.planar import planar_svg  # noqa: PLC0415

    root = ET.fromstring(planar_svg(drawing).encode())  # noqa: S314 - written a line above
    box = root.get("viewBox", "0 0 1 1").split()
    root.attrib.pop("width", None)
    root.attrib.pop("height", None)
    paper = ET.Element(f"{{{_SVG}}}rect", {"width": box[2], "height": box[3], "fill": "#ffffff"})
    at = next((i for i, one in enumerate(root) if one.tag == f"{{{_SVG}}}g"), len(root))
    root.insert(at, paper)
    for group in root.iter(f"{{{_SVG}}}g"):
        group.set("stroke-width", _WIDTHS.get(group.get("id", ""), "1"))
        for path in group.iter(f"{{{_SVG}}}path"):
            path.set("vector-effect", "non-scaling-stroke")
    ET.register_namespace("", _SVG)
    return ET.tostring(root, encoding="utf-8")
