"""Parts on sheets: split where longer than a sheet, grown by half the kerf, packed by box or outline."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Any

import numpy as np
import rectpack
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.ops import polylabel

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.ribs import Part, PartKind, RibReplica
from saddlebench.exchange.ribs.by_outline import placed_by_outline

GAP_MM = 4.0
"""Between parts, and between a part and the sheet's edge [mm]."""
TONGUE_MM = 16.0
TONGUE_PLAY_MM = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetChoices:
    """The raw sheets, and what the cutter takes away."""

    width_mm: float = 1000.0
    height_mm: float = 700.0
    kerf_mm: float = 0.0
    """Width of the cut: every edge is drawn half of it outside the part [mm]."""

    def problems(self) -> tuple[Problem, ...]:
        """Return what is wrong with the choices."""
        limits = {"width_mm": (100.0, 5000.0), "height_mm": (100.0, 5000.0), "kerf_mm": (0.0, 10.0)}
        return tuple(
            Problem(
                what=f"is {getattr(self, name):g} mm; it must lie between {low:g} and {high:g} mm",
                cure="Choose another value.",
                where=Where(field=f"sheet {name.removesuffix('_mm')}" if name != "kerf_mm" else "kerf"),
            )
            for name, (low, high) in limits.items()
            if not (np.isfinite(getattr(self, name)) and low <= getattr(self, name) <= high)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedPart:
    """One part where it lies on a sheet."""

    number: str
    title: str
    edge: FloatArray
    """(n, 2) float, sheet's plane, closed: the line that is cut, the kerf allowed for [mm]."""
    lines: tuple[FloatArray, ...]
    """(k, 2) float each, sheet's plane: lines to engrave [mm]."""
    label_at: tuple[float, float]
    quarters: int
    """How many quarter turns it lies turned by, to the left."""
    of_part: Part
    to_sheet: FloatArray
    """(2, 3) float: from the part's plane to the sheet's, [R | t] [1, mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedSheet:
    """One sheet with what lies on it."""

    number: int
    choices: SheetChoices
    parts: tuple[NestedPart, ...]

    @property
    def used_share(self) -> float:
        """Share that parts take of the sheet as far as they reach along it [1]; the rest of that is waste."""
        shapes = [Polygon(part.edge) for part in self.parts]
        reach = max(shape.bounds[2] for shape in shapes) + GAP_MM
        cut_into = min(reach, self.choices.width_mm) * self.choices.height_mm
        return float(sum(shape.area for shape in shapes) / cut_into)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    part: Part
    number: str
    title: str
    shape: Polygon
    lines: tuple[FloatArray, ...]


def nested(replica: RibReplica, choices: SheetChoices | None = None) -> tuple[NestedSheet, ...]:
    """Return a replica's parts on as few sheets as packing by boxes or by outlines finds.

    Of two ways that take as many sheets, the one whose last sheet is cut into less far.

    A lengthwise member that is longer than a sheet is parted between two ribs, with a tongue.

    Raises
    ------
    InputProblemsError
        If a choice is out of range, or a rib is larger than a sheet.
    """
    choices = choices or SheetChoices()
    problems = choices.problems()
    if problems:
        raise InputProblemsError(problems)
    pieces = [piece for part in replica.parts for piece in _pieces(part, choices)]
    _require_fit(pieces, choices)
    return min((_by_boxes(pieces, choices), _by_outlines(pieces, choices)), key=_board_taken)


def _board_taken(sheets: tuple[NestedSheet, ...]) -> tuple[int, float]:
    """Return the number of sheets, and how far into the last one parts reach [mm]."""
    return len(sheets), max(float(part.edge[:, 0].max()) for part in sheets[-1].parts)


def _by_boxes(pieces: Sequence[_Piece], choices: SheetChoices) -> tuple[NestedSheet, ...]:
    sheets: dict[int, list[NestedPart]] = {}
    for sheet, x, y, width, _, k in _packed(pieces, choices):
        quarters = int(width != int(np.ceil(_size(pieces[k])[0] * GRAIN)))
        at = (x / GRAIN + GAP_MM, y / GRAIN + GAP_MM)
        sheets.setdefault(sheet, []).append(_laid(pieces[k], at, quarters, choices.kerf_mm))
    return _numbered(sheets, choices)


def _by_outlines(pieces: Sequence[_Piece], choices: SheetChoices) -> tuple[NestedSheet, ...]:
    room = (choices.width_mm - 2 * GAP_MM, choices.height_mm - 2 * GAP_MM)
    sheets: dict[int, list[NestedPart]] = {}
    found = placed_by_outline([piece.shape for piece in pieces], *room, GAP_MM)
    for piece, one in zip(pieces, found, strict=True):
        at = (one.left_mm + GAP_MM, one.low_mm + GAP_MM)
        sheets.setdefault(one.sheet, []).append(_laid(piece, at, one.quarters, choices.kerf_mm))
    return _numbered(sheets, choices)


def _numbered(sheets: dict[int, list[NestedPart]], choices: SheetChoices) -> tuple[NestedSheet, ...]:
    return tuple(
        NestedSheet(number=n, choices=choices, parts=tuple(sorted(sheets[key], key=lambda one: one.number)))
        for n, key in enumerate(sorted(sheets), start=1)
    )


ALGORITHMS = (rectpack.MaxRectsBssf, rectpack.MaxRectsBaf, rectpack.MaxRectsBl, rectpack.GuillotineBssfSas)
ORDERS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)
GRAIN = 10
"""The packer counts in whole tenths of a millimetre."""


def _packed(pieces: Sequence[_Piece], choices: SheetChoices) -> list[tuple[int, int, int, int, int, int]]:
    """Return sheet, x, y, width, height, piece of every box, from the packing with the fewest sheets."""
    best: list[tuple[int, int, int, int, int, int]] = []
    for algorithm, order in product(ALGORITHMS, ORDERS):
        packer = rectpack.newPacker(pack_algo=algorithm, rotation=True, sort_algo=order)
        for k, piece in enumerate(pieces):
            width, height = _size(piece)
            packer.add_rect(int(np.ceil(width * GRAIN)), int(np.ceil(height * GRAIN)), rid=k)
        room = (int((side - GAP_MM) * GRAIN) for side in (choices.width_mm, choices.height_mm))
        packer.add_bin(*room, count=len(pieces))
        packer.pack()
        found = packer.rect_list()
        if len(found) == len(pieces) and (not best or _n_sheets(found) < _n_sheets(best)):
            best = found
    return best


def _n_sheets(boxes: list[tuple[int, int, int, int, int, int]]) -> int:
    return len({one[0] for one in boxes})


def _size(piece: _Piece) -> tuple[float, float]:
    """Return the room a piece takes with the gap beside it [mm]."""
    low_x, low_y, high_x, high_y = piece.shape.bounds
    return high_x - low_x + GAP_MM, high_y - low_y + GAP_MM


def _room(choices: SheetChoices) -> tuple[float, float]:
    return choices.width_mm - 2 * GAP_MM - choices.kerf_mm, choices.height_mm - 2 * GAP_MM - choices.kerf_mm


def _require_fit(pieces: Sequence[_Piece], choices: SheetChoices) -> None:
    large, small = max(_room(choices)), min(_room(choices))
    problems = []
    for piece in pieces:
        width, height = (side - GAP_MM for side in _size(piece))
        if max(width, height) > large or min(width, height) > small:
            problems.append(
                Problem(
                    what=f"{piece.title} is {width:.0f} mm × {height:.0f} mm and does not fit on the sheet",
                    cure="Choose a larger sheet, or a base nearer to the back.",
                    where=Where(field="sheet"),
                )
            )
    if problems:
        raise InputProblemsError(problems)


def _pieces(part: Part, choices: SheetChoices) -> Iterator[_Piece]:
    shape = Polygon(part.outline)
    longest = max(_room(choices))
    length = shape.bounds[2] - shape.bounds[0]
    if part.kind is PartKind.RIB or length <= longest:
        yield _Piece(part=part, number=part.number, title=part.title, shape=shape, lines=part.lines)
        return
    letters = "abcdefghijklmnopqrstuvwxyz"
    cuts = _cuts(part, longest - TONGUE_MM)
    for letter, piece in zip(letters, _parted(shape, cuts), strict=False):
        yield _Piece(
            part=part,
            number=f"{part.number}{letter}",
            title=f"{part.title}, piece {letter}",
            shape=piece,
            lines=tuple(line for line in part.lines if piece.distance(LineString(line)) < 1.0),
        )


def _cuts(part: Part, longest: float) -> list[float]:
    """Return where to part a member: half-way between two ribs, as far on as a piece may reach."""
    slots = sorted(slot.at_mm for slot in part.slots)
    between = [0.5 * (a + b) for a, b in pairwise(slots)]
    start, end = float(part.outline[:, 0].min()), float(part.outline[:, 0].max())
    cuts: list[float] = []
    while end - start > longest:
        reach = [x for x in between if start + 1.0 < x <= start + longest]
        if not reach:
            return cuts
        start = max(reach)
        cuts.append(start)
    return cuts


def _parted(shape: Polygon, cuts: Sequence[float]) -> list[Polygon]:
    low_y, high_y = shape.bounds[1] - 1.0, shape.bounds[3] + 1.0
    pieces, rest = [], shape
    for x in cuts:
        tongue = _tongue(shape, x)
        front = rest.intersection(box(rest.bounds[0] - 1.0, low_y, x, high_y).union(tongue))
        grown = tongue.buffer(TONGUE_PLAY_MM, join_style="mitre")
        rest = rest.intersection(box(x, low_y, rest.bounds[2] + 1.0, high_y)).difference(grown)
        pieces.append(_largest(front))
    return [*pieces, _largest(rest)]


def _tongue(shape: Polygon, x: float) -> Polygon:
    """Return a dovetail that holds two pieces of a member together, in the lower half of its height."""
    column = shape.intersection(LineString([(x, shape.bounds[1]), (x, shape.bounds[3])]))
    low, high = column.bounds[1], column.bounds[3]
    middle, half = low + 0.4 * (high - low), min(12.0, 0.18 * (high - low))
    return Polygon(
        [
            (x - 0.01, middle - 0.6 * half),
            (x + TONGUE_MM, middle - half),
            (x + TONGUE_MM, middle + half),
            (x - 0.01, middle + 0.6 * half),
        ]
    )


def _largest(shape: Any) -> Polygon:
    return max(getattr(shape, "geoms", [shape]), key=lambda one: one.area)


def _laid(piece: _Piece, at: tuple[float, float], quarters: int, kerf_mm: float) -> NestedPart:
    """Return a piece turned, the lower left of its box at a place of the sheet [mm]."""
    turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarters)
    turned_shape = affinity.affine_transform(piece.shape, [*turn.ravel(), 0.0, 0.0])
    shift = np.array(at) - turned_shape.bounds[:2]
    placed = affinity.translate(turned_shape, *shift)
    cut = placed.buffer(0.5 * kerf_mm, join_style="mitre") if kerf_mm else placed
    # Words go where there is most room: the middle of the largest circle that fits in.
    middle = polylabel(placed, tolerance=4.0)
    return NestedPart(
        number=piece.number,
        title=piece.title,
        edge=np.asarray(cut.exterior.coords)[:-1],
        lines=tuple(line @ turn.T + shift for line in piece.lines),
        label_at=(float(middle.x), float(middle.y)),
        quarters=quarters,
        of_part=piece.part,
        to_sheet=np.column_stack([turn, shift]),
    )
