"""The printing's scale: from the paper's own edges in the photo, or from the ruler as measured."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import MARGIN_MM, RULER_MM, SheetLayout
from saddlebench.exchange.tracings.flatten import FlatSheet

UNCHECKED_SD = 0.03
"""Relative. Printers lie within 1 %, but a page fitted to what they can print is 3 to 6 % smaller (memory):
twice this holds it."""
PAPER_SD_MM = 0.5
"""ISO 216 lets a side above 150 mm be 2 mm off and 3 above 600; office paper is cut closer (memory)."""
RULER_SD_MM = 0.3
"""Of a ruler held to the printed one."""
MOST_OFF = 0.08
"""Further from what was meant nothing is taken for a printing's scale."""
_INSIDE_MM, _SPARE_MM = 10.0, 6.0
"""How far within its place an edge is looked for, and beyond where the smallest print would put it."""
_MOST_SCATTER_MM = 0.5
_FEWEST_SEEN = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedScale:
    """True length over meant length, and how that is known."""

    across: float
    down: float
    sd: float
    """Relative standard deviation, of both."""
    source: str
    """Words: the paper's edges, the ruler, or nothing."""


def scale_by_ruler(across_mm: float, down_mm: float | None) -> PrintedScale:
    """Return the scale that a person's measure of the printed rulers says.

    Raises
    ------
    InputProblemsError
        If a length is not near the ruler's.
    """
    for field, length in (("ruler across", across_mm), ("ruler down", down_mm)):
        if length is not None and not abs(length / RULER_MM - 1.0) <= MOST_OFF:
            what = f"is {length:g} mm; the ruler is {RULER_MM:.0f} mm long as meant"
            raise input_problem(
                what,
                "Measure again, in mm; print at 100 %, without fitting to the page.",
                Where(field=field),
            )
    down = across_mm if down_mm is None else down_mm
    return PrintedScale(
        across=across_mm / RULER_MM,
        down=down / RULER_MM,
        sd=RULER_SD_MM / RULER_MM,
        source="the ruler as measured",
    )


def beyond_mm(layout: SheetLayout) -> float:
    """Return how far beyond its place an edge is looked for [mm]: a smaller print leaves more paper."""
    return 0.5 * MOST_OFF * max(layout.width_mm, layout.height_mm) + _SPARE_MM


def scale_by_edges(flat: FlatSheet, layout: SheetLayout) -> PrintedScale | None:
    """Return the scale by the paper's edges; None if two that face each other are not seen sharply."""
    top_edge, low_edge = layout.top_mm + MARGIN_MM, layout.low_mm - MARGIN_MM
    left_edge, right_edge = layout.left_mm - MARGIN_MM, layout.right_mm + MARGIN_MM
    xs = np.arange(layout.left_mm, layout.right_mm, 4.0)
    ys = np.arange(layout.low_mm, layout.top_mm, 4.0)
    reach = beyond_mm(layout)
    tops = _edge(flat, np.column_stack([xs, np.full(len(xs), top_edge)]), (0.0, 1.0), reach)
    lows = _edge(flat, np.column_stack([xs, np.full(len(xs), low_edge)]), (0.0, -1.0), reach)
    down = _ratio(tops, lows, layout.height_mm)
    across = None
    if layout.tiles == 1:
        lefts = _edge(flat, np.column_stack([np.full(len(ys), left_edge), ys]), (-1.0, 0.0), reach)
        rights = _edge(flat, np.column_stack([np.full(len(ys), right_edge), ys]), (1.0, 0.0), reach)
        across = _ratio(lefts, rights, layout.width_mm)
    if down is None and across is None:
        return None
    known = [one for one in (down, across) if one is not None]
    ratio_down = down if down is not None else known[0]
    ratio_across = across if across is not None else known[0]
    # A printer's two directions differ; one alone says less of the other.
    guessed = 0.0 if len(known) == 2 else 0.003
    if not all(abs(one - 1.0) <= MOST_OFF for one in known):
        return None
    paper = PAPER_SD_MM / min(layout.width_mm, layout.height_mm)
    return PrintedScale(
        across=ratio_across, down=ratio_down, sd=float(np.hypot(paper, guessed)), source="the paper’s edges"
    )


def unchecked_scale() -> PrintedScale:
    """Return what is known of the scale when nothing says it."""
    return PrintedScale(across=1.0, down=1.0, sd=UNCHECKED_SD, source="")


def _ratio(one: FloatArray, other: FloatArray, true_mm: float) -> float | None:
    """Return true over measured distance of two edges, given how far out each lies, (n,) float [mm]."""
    sides = [_middle(one), _middle(other)]
    if sides[0] is None or sides[1] is None:
        return None
    return true_mm / (true_mm + sides[0] + sides[1])


def _middle(found: FloatArray) -> float | None:
    seen = found[np.isfinite(found)]
    if len(seen) < _FEWEST_SEEN or len(seen) < 0.4 * len(found):
        return None
    # A print may lie askew on its paper: the edge is a line, not a number.
    at = np.flatnonzero(np.isfinite(found)).astype(float)
    keep = np.ones(len(seen), dtype=bool)
    line = np.zeros(2)
    for _ in range(3):
        line = np.polyfit(at[keep], seen[keep], 1)
        off = np.abs(seen - np.polyval(line, at))
        keep = off <= max(3.0 * float(np.median(off)), 0.2)
    if float(np.median(off)) > _MOST_SCATTER_MM or keep.mean() < 0.6:
        return None
    return float(np.polyval(line, 0.5 * (len(found) - 1)))


def _edge(flat: FlatSheet, places: FloatArray, outward: tuple[float, float], reach_mm: float) -> FloatArray:
    """Return how far out of each place (n, 2) float [mm] the paper ends, (n,) float [mm]; NaN: not seen."""
    import cv2  # noqa: PLC0415 - slow to load

    grey = flat.colours.mean(axis=2).astype(np.float32)
    offsets = np.arange(-_INSIDE_MM, reach_mm + 0.01, 0.2)
    at = places[:, None, :] + offsets[None, :, None] * np.array(outward)
    dots = flat.dots(at.reshape(-1, 2)).astype(np.float32)
    shape = (len(places), len(offsets))
    values = cv2.remap(
        grey,
        dots[:, 0].reshape(shape),
        dots[:, 1].reshape(shape),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    smooth = cv2.GaussianBlur(values, (9, 1), 2.0)
    slope = np.abs(np.gradient(smooth, axis=1))
    best = slope.argmax(axis=1)
    rows = np.arange(len(places))
    inner = np.clip(best, 1, len(offsets) - 2)
    before, here, after = slope[rows, inner - 1], slope[rows, inner], slope[rows, inner + 1]
    bow = before - 2 * here + after
    fine = np.where(np.abs(bow) > 1e-6, 0.5 * (before - after) / np.where(np.abs(bow) > 1e-6, bow, 1.0), 0.0)
    found = offsets[inner] + 0.2 * np.clip(fine, -1.0, 1.0)
    drop = np.abs(smooth[:, :10].mean(axis=1) - smooth[:, -10:].mean(axis=1))
    clear = (slope[rows, inner] > 2.0) & (drop > 15.0) & (best > 3) & (best < len(offsets) - 4)
    return np.where(clear, found, np.nan)
