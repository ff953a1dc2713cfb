"""An invented saddle traced across its panels: four sheets with two curves each, photographed."""

from collections.abc import Sequence

import numpy as np

from saddlebench.demo.photographed import PenLine, Picture, photographed, photographed_anyhow
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.sections import UndersideSection, sections_of
from saddlebench.engine.saddle.underside.across import rule_angle
from saddlebench.exchange.sheets.layout import SheetKind, SheetLayout, layout_of

BEHIND_MM = (18.0, 60.0, 120.0, 180.0, 240.0, 300.0, 350.0, 402.0)
A_SHEET = 2
APART_MM = 40.0
STROKE_MM = 7.0
"""Half the length of a stroke across a curve."""


def traced_saddle_photos(
    model: SaddleModel, *, behind_mm: Sequence[float] = BEHIND_MM, paper: str = "a3", seed: int = 0
) -> tuple[Picture, ...]:
    """Return a photo of each sheet, (h, w, 3) uint8."""
    layout = layout_of(SheetKind.SADDLE, paper)
    rng = np.random.default_rng(seed)
    sections = sections_of(model, behind_mm)
    photos = []
    for first in range(0, len(sections), A_SHEET):
        rings = tuple(range(first + 1, first + 1 + A_SHEET))
        lines = [
            line
            for k, one in enumerate(sections[first : first + A_SHEET])
            for line in drawn_across(one, layout, down_mm=8.0 + APART_MM * k)
        ]
        scene = photographed_anyhow(rng, rings)
        photos.append(photographed(layout, lines, scene))
    return tuple(photos)


def drawn_across(section: UndersideSection, layout: SheetLayout, *, down_mm: float) -> list[PenLine]:
    """Return a section's curve and its three strokes, its middle so far below the sheet's cross [mm]."""
    curve, strokes = curve_across(section)
    by = np.array([0.0, -down_mm])
    left, low, right, _ = layout.area
    if curve[:, 0].min() + by[0] < left or curve[:, 0].max() > right or curve[:, 1].min() + by[1] < low:
        message = "the sheet has no room for this section"
        raise ValueError(message)
    return [PenLine(points=curve + by), *(PenLine(points=one + by) for one in strokes)]


def curve_across(section: UndersideSection) -> tuple[FloatArray, tuple[FloatArray, ...]]:
    """Return a section as a curve bent over both panels and the strokes across it.

    Returns
    -------
    curve : (n, 2) float, near side on the left, from the curve's middle: right and up [mm]
    strokes : at the near inner edge, the middle and the off inner edge, (2, 2) float each
    """
    near, off = section.left, section.right * (-1.0, 1.0)
    # Over the channel the curve goes on as the faces come in: a smooth bow.
    ends = np.array([[-near[0, 0], near[0, 1]], [off[0, 0], off[0, 1]]])
    slopes = [
        (near[0, 1] - near[4, 1]) / (near[4, 0] - near[0, 0]),
        (off[4, 1] - off[0, 1]) / (off[4, 0] - off[0, 0]),
    ]
    span = float(ends[1, 0] - ends[0, 0])
    u = np.linspace(0.0, 1.0, 60)[1:-1]
    bow = (
        (1 + 2 * u) * (1 - u) ** 2 * ends[0, 1]
        + u * (1 - u) ** 2 * span * slopes[0]
        + u**2 * (3 - 2 * u) * ends[1, 1]
        - u**2 * (1 - u) * span * slopes[1]
    )
    curve = np.vstack([near[::-1] * (-1.0, 1.0), np.column_stack([ends[0, 0] + span * u, bow]), off])
    curve = curve - (0.0, float(np.interp(0.0, curve[:, 0], curve[:, 1])))
    return curve, tuple(_stroke(curve, x) for x in (-near[0, 0], 0.0, off[0, 0]))


def _stroke(curve: FloatArray, x: float) -> FloatArray:
    at = np.array([x, np.interp(x, curve[:, 0], curve[:, 1])])
    either = np.array([[one, np.interp(one, curve[:, 0], curve[:, 1])] for one in (x - 2.0, x + 2.0)])
    along = (either[1] - either[0]) / np.linalg.norm(either[1] - either[0])
    aside = np.array([-along[1], along[0]])
    return np.array([at - STROKE_MM * aside, at + STROKE_MM * aside])


def leans_deg(
    model: SaddleModel, behind_mm: Sequence[float] = BEHIND_MM, *, stand_deg: float = 0.0
) -> list[float]:
    """Return how a rule across both panels leans at each place, upside down on a leaning stand [°]."""
    return [
        stand_deg - float(np.degrees(rule_angle(one.left, one.right * (-1.0, 1.0))))
        for one in sections_of(model, behind_mm)
    ]


def gaps_mm(model: SaddleModel, behind_mm: Sequence[float] = BEHIND_MM) -> list[float]:
    """Return the gap between the near panel's inner edge and a rod laid along it at each place [mm]."""
    heights = np.array([one.left[0, 1] for one in sections_of(model, behind_mm)])
    at = np.asarray(behind_mm, float)
    # Upside down the rod lies on the edge's two highest places: below the sitting saddle's edge.
    touching = min(
        ((i, j) for i in range(len(at)) for j in range(i + 1, len(at))),
        key=lambda pair: _worst_below(heights, at, *pair),
    )
    line = np.interp(at, at[list(touching)], heights[list(touching)])
    slope = (heights[touching[1]] - heights[touching[0]]) / (at[touching[1]] - at[touching[0]])
    line = heights[touching[0]] + slope * (at - at[touching[0]])
    return [round(float(one), 1) for one in np.maximum(heights - line, 0.0)]


def _worst_below(heights: FloatArray, at: FloatArray, i: int, j: int) -> float:
    slope = (heights[j] - heights[i]) / (at[j] - at[i])
    return float(np.max(heights[i] + slope * (at - at[i]) - heights))
