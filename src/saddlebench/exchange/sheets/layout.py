"""Where everything stands on a trace sheet, and what its markers say.

The sheet's frame: x to the right, y up, in mm as meant to be printed. Its origin is the cross: on the
midline for
sections, at the left line for the topline. A sheet larger than its paper is several tiles side by side, each
cut
along its left line and glued on its neighbour's right one.

Markers are of the open family AprilTag 36h11 (Wang & Olson 2016, doi:10.1109/IROS.2016.7759617). A marker's
number says the kind of sheet, the paper, how many tiles there are, which tile this is, and where on it it
stands.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import numpy as np

from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.templates.tiles import PAPERS, Paper

MARGIN_MM = 8.0
MARKER_MM = 16.0
MODULES = 8
"""Of a marker's side, with its black border."""
INSET_MM = 4.0
HEAD_MM = 17.0
"""Below the upper markers: what is written, and the stations' rings."""
FOOT_MM = 9.0
"""Above the lower markers: the ruler."""
GAP_MM = 2.0
SIDE_MM = MARKER_MM + 4.0
RULER_MM = 100.0
SLOTS = 10
MOST_TILES = 3
MOST_STATIONS = 12
RING_MM = 5.0
RING_STEP_MM = 7.6
RINGS_FROM_MM = 54.0


class SheetKind(StrEnum):
    """What is traced on a sheet."""

    SECTIONS = "sections"
    TOPLINE = "topline"
    SADDLE = "saddle"


KINDS = tuple(SheetKind)
PAPER_NAMES = ("a4", "a3", "letter")
USUAL_TILES = {
    SheetKind.SECTIONS: {"a4": 3, "a3": 2, "letter": 3},
    SheetKind.TOPLINE: {"a4": 3, "a3": 2, "letter": 3},
    SheetKind.SADDLE: {"a4": 2, "a3": 1, "letter": 2},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """One marker: its number, its tile, and its corners."""

    number: int
    tile: int
    """From 0, from the left."""
    corners: FloatArray
    """(4, 2) float, sheet's frame [mm]: upper left, upper right, lower right, lower left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLayout:
    """A trace sheet: its tiles, its markers, and the part that is drawn on."""

    kind: SheetKind
    paper: Paper
    tiles: int
    width_mm: float
    """Of a tile's paper, turned as it is used [mm]."""
    height_mm: float
    markers: tuple[Marker, ...]
    left_mm: float
    """The joined tiles without the paper's white margins [mm]."""
    top_mm: float
    right_mm: float
    low_mm: float
    area: tuple[float, float, float, float]
    """Where curves are drawn: left, low, right, top [mm]."""
    rings: FloatArray
    """(12, 2) float, sheet's frame [mm]: middle of the ring of each station."""

    @property
    def shown_width_mm(self) -> float:
        """How much of the sheet one tile shows [mm]."""
        return self.width_mm - 2.0 * MARGIN_MM

    def tile_left_mm(self, tile: int) -> float:
        """Return the left line of a tile, counted from 0, sheet's frame [mm]."""
        return self.left_mm + tile * self.shown_width_mm


def layout_of(kind: SheetKind, paper: str = "a4", tiles: int | None = None) -> SheetLayout:
    """Return the layout of a kind of sheet on a paper.

    Parameters
    ----------
    tiles : how many papers side by side; None: as many as such a curve usually needs

    Raises
    ------
    InputProblemsError
        If there is no such paper, or so many tiles are not made.
    """
    name = paper.lower()
    if name not in PAPER_NAMES:
        cure = f"Choose one of {', '.join(PAPER_NAMES)}."
        what = f"“{paper[:20]}” is no paper known here"
        raise input_problem(what, cure, Where(field="paper"))
    n_tiles = USUAL_TILES[kind][name] if tiles is None else tiles
    if not 1 <= n_tiles <= MOST_TILES:
        what = f"a sheet of {n_tiles} papers side by side is not made"
        raise input_problem(what, f"Choose 1 to {MOST_TILES}.", Where(field="tiles"))
    return _layout(kind, name, n_tiles)


def layout_of_marker(number: int) -> SheetLayout | None:
    """Return the layout that a marker belongs to; None if its number says nothing."""
    group = number // SLOTS
    rest, combination = divmod(group, _COMBINATIONS)
    kind, paper = divmod(rest, len(PAPER_NAMES))
    if number < 0 or kind >= len(KINDS):
        return None
    return _layout(KINDS[kind], PAPER_NAMES[paper], _TILES_OF[combination][0])


_TILES_OF = tuple((n, tile) for n in range(1, MOST_TILES + 1) for tile in range(n))
_COMBINATIONS = len(_TILES_OF)


def _number(kind: SheetKind, paper: str, n_tiles: int, tile: int, slot: int) -> int:
    group = (KINDS.index(kind) * 3 + PAPER_NAMES.index(paper)) * _COMBINATIONS
    return (group + _TILES_OF.index((n_tiles, tile))) * SLOTS + slot


@cache
def _layout(kind: SheetKind, name: str, n_tiles: int) -> SheetLayout:
    paper = PAPERS[name]
    upright = kind is not SheetKind.TOPLINE and n_tiles > 1
    sides = (paper.width_mm, paper.height_mm)
    width, height = sides if upright else sides[::-1]
    shown = width - 2.0 * MARGIN_MM
    across, down = n_tiles * shown, height - 2.0 * MARGIN_MM
    area_top, area_low = MARKER_MM + HEAD_MM + 2 * GAP_MM, down - MARKER_MM - FOOT_MM - 2 * GAP_MM
    # The origin, counted from the upper left inner corner, y down.
    origin = (
        (SIDE_MM + 20.0, 0.5 * (area_top + area_low))
        if kind is SheetKind.TOPLINE
        else (0.5 * across, area_top + 20.0)
    )

    def placed(x: float, y: float) -> tuple[float, float]:
        return x - origin[0], origin[1] - y

    def marker(tile: int, slot: int, x: float, y: float) -> Marker:
        box = [(x, y), (x + MARKER_MM, y), (x + MARKER_MM, y + MARKER_MM), (x, y + MARKER_MM)]
        return Marker(
            number=_number(kind, name, n_tiles, tile, slot),
            tile=tile,
            corners=np.array([placed(*corner) for corner in box]),
        )

    markers = []
    middle = 0.5 * (area_top + area_low) - 0.5 * MARKER_MM
    for tile in range(n_tiles):
        places = tile * shown + np.linspace(INSET_MM, shown - INSET_MM - MARKER_MM, 4)
        for k, x in enumerate(places):
            markers += [marker(tile, k, x, 0.0), marker(tile, 4 + k, x, down - MARKER_MM)]
        if tile == 0:
            markers.append(marker(tile, 8, 0.0, middle))
        if tile == n_tiles - 1:
            markers.append(marker(tile, 9, across - MARKER_MM, middle))
    ring_left = (n_tiles // 2) * shown + RINGS_FROM_MM
    rings = [
        placed(ring_left + i * RING_STEP_MM, MARKER_MM + GAP_MM + HEAD_MM - 4.0) for i in range(MOST_STATIONS)
    ]
    left, top = placed(0.0, 0.0)
    right, low = placed(across, down)
    return SheetLayout(
        kind=kind,
        paper=paper,
        tiles=n_tiles,
        width_mm=width,
        height_mm=height,
        markers=tuple(markers),
        left_mm=left,
        top_mm=top,
        right_mm=right,
        low_mm=low,
        area=(*placed(SIDE_MM, area_low), *placed(across - SIDE_MM, area_top)),
        rings=np.array(rings),
    )
