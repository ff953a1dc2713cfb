"""Templates as PDF: every template over as many sheets as it takes, at true size."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.templates import Template
from saddlebench.exchange.planar import PlanarDrawing, Stroke
from saddlebench.exchange.readers import reader
from saddlebench.exchange.templates import (
    Paper,
    PrintScale,
    TemplateNames,
    Tile,
    Tiling,
    template_drawing,
    tiling_of,
)
from saddlebench.exchange.templates.tiles import HEAD_MM, MARGIN_MM, OVERLAP_MM
from saddlebench.exchange.vocabulary import said
from saddlebench.report.replica.check_bars import check_bars
from saddlebench.report.setting import region_of
from saddlebench.report.typeset import typeset_for_all

UNCHECKED = (
    "Scale not checked. Print at 100 %, not fitted to the page. Measure both check bars: each "
    "is as long as is written on it. If not, give both lengths where these sheets were made: they are made "
    "again to suit your printer."
)
FOOT = (
    "Join sheets so that marks of the same number meet; cut one of the two along the dotted line. "
    "Shows the record only: no diagnosis; pain or lameness first to the vet."
)


def template_pdf(
    templates: Sequence[Template],
    names: TemplateNames,
    paper: Paper,
    scale: PrintScale | None = None,
    *,
    told: Callable[[int, int], None] = lambda _done, _of: None,
) -> bytes:
    """Return templates as a PDF at true size, tiled over sheets of a paper, in the language that is spoken.

    Parameters
    ----------
    templates : of one back
    names : what is written on each
    paper : the printer's
    scale : what the printer's own error is, from its check bars; by default taken as none, and said so
    told : told how many templates are laid out, of how many
    """
    scale = scale or PrintScale()
    sheets: list[dict[str, Any]] = []
    for done, template in enumerate(templates):
        drawing = template_drawing(template, names)
        tiling = tiling_of(drawing, paper, scale)
        head = f"{names.label}: {said(f'{template.title}, {template.form} template')}"
        sheets += [
            _sheet(drawing, tiling, tile, scale, head, count)
            for count, tile in enumerate(tiling.tiles, start=1)
        ]
        told(done + 1, len(templates))
    contents = {
        "title": f"{said('Templates of')} {names.label}, {reader().day(names.measured_on)}",
        "language": reader().language,
        "region": region_of(reader()),
        "sheets": sheets,
    }
    return typeset_for_all("replica/templates.typ", [contents], shared=False)


def _sheet(
    drawing: PlanarDrawing, tiling: Tiling, tile: Tile, scale: PrintScale, head: str, count: int
) -> dict[str, Any]:
    factor = np.array([scale.across, scale.down])
    frame = (
        MARGIN_MM,
        MARGIN_MM + HEAD_MM,
        tiling.shown_width_mm * scale.across,
        tiling.shown_height_mm * scale.down,
    )

    def placed(points: FloatArray) -> list[list[float]]:
        """Return points (n, 2) float, drawing's plane, as the sheet's frame counts them [mm]."""
        own = np.stack([points[:, 0] - tile.left_mm, tile.top_mm - points[:, 1]], axis=1) * factor
        return [[float(x), float(y)] for x, y in np.round(own, 4)]

    code = drawing.name.upper().partition("-")[0]
    strokes = [
        (stroke.layer, placed(part)) for stroke in drawing.strokes for part in _near(stroke, tiling, tile)
    ]
    words = [
        {
            "words": label.words,
            "at": placed(np.array([label.at]))[0],
            "height": label.height_mm,
            "turned": label.turned_deg,
            "centred": label.centred,
            "layer": label.layer,
        }
        for label in drawing.labels
    ]
    bars = check_bars((frame[2], frame[3]), scale, words, [points for _, points in strokes])
    return {
        "width": tiling.width_mm,
        "height": tiling.height_mm,
        "frame": list(frame),
        "head": head,
        "which": _which(code, tiling, tile, count),
        "scale": _scale_words(scale),
        "foot": said(FOOT),
        "strokes": [{"layer": layer, "points": points} for layer, points in strokes] + bars.strokes,
        "words": words + bars.words,
        "marks": [
            {"name": f"{code}·{name}", "at": placed(np.array([[x, y]]))[0]} for name, x, y in tile.marks
        ],
        "joins": _joins(tiling, tile, frame, scale),
    }


def _which(code: str, tiling: Tiling, tile: Tile, count: int) -> str:
    if len(tiling.tiles) == 1:
        return f"{code}, {said('one sheet')}"
    place = said(f"row {tile.row} of {tiling.rows}, column {tile.column} of {tiling.columns}")
    return f"{code}, {said(f'sheet {count} of {len(tiling.tiles)}')}: {place}"


def _scale_words(scale: PrintScale) -> str:
    if not scale.checked:
        return said(UNCHECKED)
    return said(
        f"Made for a printer that draws {100 / scale.across:.1f} % of a length across and "
        f"{100 / scale.down:.1f} % down: on that printer both bars are as long as is written on them. "
        "Measure them once more before cutting."
    )


def _near(stroke: Stroke, tiling: Tiling, tile: Tile) -> list[FloatArray]:
    """Return the runs of a stroke, (n, 2) float, drawing's plane [mm], that come near a tile."""
    points = np.vstack([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points
    low = np.minimum(points[:-1], points[1:])
    high = np.maximum(points[:-1], points[1:])
    near = (
        (low[:, 0] <= tile.left_mm + tiling.shown_width_mm + 1.0)
        & (high[:, 0] >= tile.left_mm - 1.0)
        & (low[:, 1] <= tile.top_mm + 1.0)
        & (high[:, 1] >= tile.top_mm - tiling.shown_height_mm - 1.0)
    )
    edges = np.flatnonzero(np.diff(np.concatenate([[0], near.astype(int), [0]])))
    return [points[a : b + 1] for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _joins(
    tiling: Tiling, tile: Tile, frame: tuple[float, float, float, float], scale: PrintScale
) -> list[list[list[float]]]:
    """Return the lines along which neighbouring sheets meet, in the sheet's frame [mm]."""
    half_x, half_y = 0.5 * OVERLAP_MM * scale.across, 0.5 * OVERLAP_MM * scale.down
    _, _, width, height = frame
    lines = []
    if tile.column > 1:
        lines.append([[half_x, 0.0], [half_x, height]])
    if tile.column < tiling.columns:
        lines.append([[width - half_x, 0.0], [width - half_x, height]])
    if tile.row > 1:
        lines.append([[0.0, half_y], [width, half_y]])
    if tile.row < tiling.rows:
        lines.append([[0.0, height - half_y], [width, height - half_y]])
    return lines
