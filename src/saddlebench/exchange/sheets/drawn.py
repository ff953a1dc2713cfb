"""What is printed on each tile of a trace sheet, in the sheet's frame."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import (
    GAP_MM,
    INSET_MM,
    MARKER_MM,
    MODULES,
    RINGS_FROM_MM,
    RULER_MM,
    SheetKind,
    SheetLayout,
)
from saddlebench.exchange.vocabulary import said

Box = tuple[float, float, float, float]
"""Left, low, right, top [mm]."""
GRID_MM = 10.0
TITLES = {
    SheetKind.SECTIONS: "Cross-sections of a back",
    SheetKind.TOPLINE: "Topline of a back",
    SheetKind.SADDLE: "Sections of a saddle's underside",
}
USES = {
    SheetKind.SECTIONS: "Seen from behind: near (left) on the left. The midline on the long line.",
    SheetKind.TOPLINE: "Head on the left. The shoulder mark on the long line. Long lines are level.",
    SheetKind.SADDLE: (
        "Seen from behind: near (left) on the left. Strokes across: middle, panels' inner edges."
    ),
}


FIELDS = (("horse", 24 * "."), ("date", 15 * "."), ("instrument", 18 * "."), ("side", 8 * "."))
SADDLE_FIELDS = (("saddle", 24 * "."), ("date", 15 * "."), ("curve", 18 * "."), ("sheet", 8 * "."))
BESIDE_FIELDS_MM = 112.0
PRINT = "Print at 100 %, without fitting to the page. A dark pen, one go for each curve."
JOIN = "Cut along the long line at the left; glue it on the last long line of the sheet before."


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight line."""

    start: tuple[float, float]
    end: tuple[float, float]
    is_faint: bool
    """Printed so lightly that it is no pen's line."""
    width_mm: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Words whose base line starts at a place."""

    words: str
    at: tuple[float, float]
    height_mm: float = 2.8
    is_faint: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TileDrawn:
    """Everything on one tile, sheet's frame [mm]."""

    tile: int
    squares: tuple[Box, ...]
    """Black: the markers."""
    whites: tuple[Box, ...]
    """White, upon them."""
    lines: tuple[Line, ...]
    rings: tuple[tuple[float, float], ...]
    words: tuple[Words, ...]


def marker_modules(number: int) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Return a marker's black modules, (8, 8) bool, upper row first."""
    import cv2  # noqa: PLC0415 - slow to load

    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    return np.asarray(cv2.aruco.generateImageMarker(family, number, MODULES)) < 128


def tiles_drawn(layout: SheetLayout) -> tuple[TileDrawn, ...]:
    """Return what is printed on every tile."""
    return tuple(_tile(layout, tile) for tile in range(layout.tiles))


def _tile(layout: SheetLayout, tile: int) -> TileDrawn:
    left = layout.tile_left_mm(tile)
    right = left + layout.shown_width_mm
    mine = [marker for marker in layout.markers if marker.tile == tile]
    has_rings = tile == layout.tiles // 2 and layout.kind is not SheetKind.TOPLINE
    return TileDrawn(
        tile=tile,
        squares=tuple(_square(marker.corners) for marker in mine),
        whites=tuple(box for marker in mine for box in _whites(marker.number, marker.corners)),
        lines=(*_grid(layout, left, right), *_rulers(layout, tile, left), *_joins(layout, tile, left)),
        rings=tuple((float(x), float(y)) for x, y in layout.rings) if has_rings else (),
        words=(*_head(layout, tile, left), *_station_words(layout, has_rings=has_rings)),
    )


def _square(corners: FloatArray) -> Box:
    (left, top), (right, low) = corners[0].tolist(), corners[2].tolist()
    return left, low, right, top


def _whites(number: int, corners: FloatArray) -> list[Box]:
    """Return a marker's white modules, those beside each other in a row as one."""
    modules = ~marker_modules(number)
    left, top = corners[0]
    size = MARKER_MM / MODULES
    found = []
    for row in range(MODULES):
        begins = np.flatnonzero(np.diff(np.concatenate([[0], modules[row].astype(int), [0]])))
        for start, end in begins.reshape(-1, 2):
            high = float(top - row * size)
            found.append((float(left + start * size), high - size, float(left + end * size), high))
    return found


def _grid(layout: SheetLayout, left: float, right: float) -> list[Line]:
    low_x, low_y, high_x, high_y = layout.area
    start, end = max(low_x, left), min(high_x, right)
    lines = []
    for k in range(int(np.ceil(start / GRID_MM)), int(np.floor(end / GRID_MM)) + 1):
        x = k * GRID_MM
        width = 0.8 if k == 0 else 0.25
        lines.append(Line(start=(x, low_y), end=(x, high_y), is_faint=True, width_mm=width))
    for k in range(int(np.ceil(low_y / GRID_MM)), int(np.floor(high_y / GRID_MM)) + 1):
        y = k * GRID_MM
        width = 0.8 if k == 0 else 0.25
        lines.append(Line(start=(start, y), end=(end, y), is_faint=True, width_mm=width))
    return lines


def _rulers(layout: SheetLayout, tile: int, left: float) -> list[Line]:
    """Return the ruler across on every tile, and the one down on the first; ticks every 10 mm."""
    y = layout.low_mm + MARKER_MM + GAP_MM + 2.0
    x = left + 24.0
    lines = [Line(start=(x, y), end=(x + RULER_MM, y), is_faint=False)]
    lines += [
        Line(start=(x + at, y), end=(x + at, y + (4.0 if at in {0.0, RULER_MM} else 2.0)), is_faint=False)
        for at in np.arange(0.0, RULER_MM + 1.0, 10.0).tolist()
    ]
    if tile == 0 and layout.area[3] - layout.area[1] >= 2 * MARKER_MM + RULER_MM:
        x, y = layout.left_mm + 17.5, layout.area[1]
        lines.append(Line(start=(x, y), end=(x, y + RULER_MM), is_faint=False))
        # Towards the grid: at its other side stands a marker.
        lines += [
            Line(start=(x, y + at), end=(x + (2.2 if at in {0.0, RULER_MM} else 1.2), y + at), is_faint=False)
            for at in np.arange(0.0, RULER_MM + 1.0, 10.0).tolist()
        ]
    return lines


def _joins(layout: SheetLayout, tile: int, left: float) -> list[Line]:
    ends = [(left, tile > 0), (left + layout.shown_width_mm, tile < layout.tiles - 1)]
    return [
        Line(start=(x, layout.low_mm), end=(x, layout.top_mm), is_faint=True, width_mm=0.25)
        for x, is_join in ends
        if is_join
    ]


def _head(layout: SheetLayout, tile: int, left: float) -> list[Words]:
    """Return what stands above the area, in three rows, and the ruler's words."""
    top = layout.top_mm - MARKER_MM - GAP_MM
    x = left + INSET_MM
    title = (
        f"{said(TITLES[layout.kind])} · {layout.paper.name} · {said(f'sheet {tile + 1} of {layout.tiles}')}"
    )
    ruler = layout.low_mm + MARKER_MM + GAP_MM
    heads = [
        Words(words=title, at=(x, top - 3.0)),
        Words(
            words=f"{said('check')}: {RULER_MM:.0f} mm",
            at=(left + 24.0 + RULER_MM + 3.0, ruler + 2.0),
            height_mm=2.4,
        ),
    ]
    if tile == layout.tiles // 2:
        named = SADDLE_FIELDS if layout.kind is SheetKind.SADDLE else FIELDS
        fields = "  ".join(f"{said(name)} {dots}" for name, dots in named)
        heads.append(Words(words=fields, at=(x, top - 8.0), height_mm=2.4))
    else:
        heads.append(Words(words=said(USES[layout.kind]), at=(x, top - 8.0), height_mm=2.4))
    if layout.tiles == 1:
        # A single paper has all in one head: how to use it beside what is filled in.
        beside = x + BESIDE_FIELDS_MM
        heads.append(Words(words=said(USES[layout.kind]), at=(beside, top - 3.0), height_mm=2.4))
        heads.append(Words(words=said(PRINT), at=(beside, top - 8.0), height_mm=2.4))
    if tile != layout.tiles // 2:
        how = PRINT if tile == 0 else JOIN
        heads.append(Words(words=said(how), at=(x, top - 12.5), height_mm=2.4))
    return heads


def _station_words(layout: SheetLayout, *, has_rings: bool) -> list[Words]:
    if not has_rings:
        return []
    x, y = layout.rings[0]
    numbers = [
        Words(words=str(i), at=(float(at[0]) - (0.8 if i < 10 else 1.5), float(at[1]) - 0.9), is_faint=True)
        for i, at in enumerate(layout.rings, start=1)
    ]
    return [
        Words(
            words=said("stations traced here, filled in:"),
            at=(float(x) - RINGS_FROM_MM + INSET_MM, float(y) - 1.0),
            height_mm=2.4,
        ),
        *numbers,
    ]
