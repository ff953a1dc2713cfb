"""Slotted ribs put together as solids, from the DXF that goes to the cutter: do they fit, are they the back?

Read by ezdxf, extruded and intersected by manifold3d, laid out by shapely. The reference is the surface's own
spline over the whole thickness of every sheet.
"""

import io
from functools import lru_cache

import manifold3d
import numpy as np
import pytest
from ezdxf import recover
from shapely.affinity import translate
from shapely.geometry import Point, Polygon, box

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.ribs import PartKind, RibChoices, RibReplica, rib_replica
from saddlebench.exchange.planar import as_dxf
from saddlebench.exchange.ribs import NestedPart, NestedSheet, SheetChoices, nested, sheet_drawing
from support.rebuilt import back_of, off_surface

BOARDS = {
    "card": (RibChoices(thickness_mm=1.5, play_mm=0.1), SheetChoices(width_mm=1000.0, height_mm=700.0)),
    "plywood": (RibChoices(thickness_mm=4.0), SheetChoices(width_mm=600.0, height_mm=600.0)),
    "foam board": (
        RibChoices(thickness_mm=10.0, play_mm=0.4, inset_mm=25.0),
        SheetChoices(width_mm=1400.0, height_mm=1000.0),
    ),
}


@lru_cache(maxsize=4)
def made(board: str) -> tuple[RibReplica, tuple[NestedSheet, ...]]:
    choices, sheets = BOARDS[board]
    replica = rib_replica(back_of().estimated, choices)
    return replica, nested(replica, sheets)


def cut_edges(sheet: NestedSheet, of: int) -> list[FloatArray]:
    """Return the cut lines of a sheet as another library reads them from the DXF, (n, 2) float [mm]."""
    content = as_dxf(sheet_drawing(sheet, of, "Bramble (invented)", "2026-05-14", 3.0))
    document, auditor = recover.read(io.BytesIO(content))
    assert not auditor.has_errors
    return [
        np.array([point[:2] for point in line.get_points()])
        for line in document.modelspace().query("LWPOLYLINE")
        if line.dxf.layer == "CUT" and line.closed
    ]


def back_in_its_plane(part: NestedPart, edge: FloatArray) -> FloatArray:
    """Return a part's edge (n, 2) float as it stands in its own plane [mm]."""
    turn, shift = part.to_sheet[:, :2], part.to_sheet[:, 2]
    return (edge - shift) @ turn


def parts_cut(board: str) -> list[tuple[NestedPart, FloatArray]]:
    _, sheets = made(board)
    found = []
    for sheet in sheets:
        edges = cut_edges(sheet, len(sheets))
        assert len(edges) == len(sheet.parts)
        for part in sheet.parts:
            middle = np.asarray(part.label_at)
            (edge,) = [one for one in edges if Polygon(one).contains(Point(middle))]
            found.append((part, back_in_its_plane(part, edge)))
    return found


def standing(part: NestedPart, edge: FloatArray) -> manifold3d.Manifold:
    """Return a part as a plate of its thickness where it stands in the back frame [mm]."""
    thickness = part.of_part.thickness_mm
    flat = manifold3d.CrossSection([edge.tolist()], manifold3d.FillRule.EvenOdd)
    plate = manifold3d.Manifold.extrude(flat, thickness)
    at = part.of_part.at_mm
    if part.of_part.kind is PartKind.RIB:
        # Plane (x, y) = (−y, z); thickness along −x of the back frame.
        matrix = [[0.0, 0.0, -1.0, -at + 0.5 * thickness], [-1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]
    else:
        # Plane (x, y) = (s, z), s = −x; thickness along y.
        matrix = [[-1.0, 0.0, 0.0, 0.0], [0.0, 0.0, 1.0, at - 0.5 * thickness], [0.0, 1.0, 0.0, 0.0]]
    return plate.transform(np.array(matrix))


@pytest.mark.parametrize("board", BOARDS)
def test_assembled_parts_do_not_collide_and_stand_on_one_base(board: str) -> None:
    replica, _ = made(board)
    parts = parts_cut(board)
    plates = [(part, standing(part, edge)) for part, edge in parts]
    ribs = [one for one in plates if one[0].of_part.kind is PartKind.RIB]
    members = [one for one in plates if one[0].of_part.kind is PartKind.LENGTHWISE]
    assert len(ribs) == len(replica.ribs)
    for _, plate in plates:
        assert plate.volume() > 0.0
        assert plate.bounding_box()[2] == pytest.approx(replica.base_mm, abs=0.01)
    for rib, one in ribs:
        for member, other in members:
            assert (one ^ other).volume() < 0.05, (rib.number, member.number)


@pytest.mark.parametrize("board", BOARDS)
def test_every_rib_is_held_in_every_member_by_its_slot(board: str) -> None:
    """Pushed along the back by more than the play, or lifted off, a rib meets the member it stands in."""
    replica, _ = made(board)
    choices = replica.choices
    parts = {part.number: standing(part, edge) for part, edge in parts_cut(board)}
    spine = next(part for part in replica.lengthwise if part.at_mm == 0.0)
    spines = [plate for number, plate in parts.items() if number.startswith(spine.number)]
    push = choices.play_mm + 0.5
    for rib in replica.ribs[1:-1]:
        moved = parts[rib.number].translate([push, 0.0, 0.0])
        assert sum((moved ^ one).volume() for one in spines) > 10.0
        lowered = parts[rib.number].translate([0.0, 0.0, -(choices.play_mm + 0.5)])
        assert sum((lowered ^ one).volume() for one in spines) > 0.2 * choices.thickness_mm**2


@pytest.mark.parametrize("board", BOARDS)
def test_the_assembled_ribs_are_the_back_within_a_millimetre(board: str) -> None:
    """All along a rib's edge, the face that stands higher lies on the back, and neither overtops it."""
    for part, edge in parts_cut(board):
        if part.of_part.kind is not PartKind.RIB:
            continue
        skin = skin_of(part, edge)
        at, thickness = part.of_part.at_mm, part.of_part.thickness_mm
        points = np.stack([-skin[:, 0], skin[:, 1]], axis=1)
        across = np.stack(
            [
                off_surface(back_of(), np.full(len(points), at + share * thickness), points)
                for share in np.linspace(-0.5, 0.5, 15)
            ]
        )
        assert len(skin) > 150
        assert across.max() < 0.05
        assert across.max(axis=0).min() > -0.2


def skin_of(part: NestedPart, edge: FloatArray) -> FloatArray:
    """Return the part of an edge that is the back: between its two upper corners, slots and base left out."""
    low = float(edge[:, 1].min())
    slot_tops = max((slot.depth_to_mm for slot in part.of_part.slots), default=low)
    left, right = edge[:, 0].min(), edge[:, 0].max()
    near_slot = np.any(
        [np.abs(edge[:, 0] - slot.at_mm) < slot.width_mm for slot in part.of_part.slots]
        & (edge[:, 1] <= slot_tops + 1.0),
        axis=0,
    )
    assert right - left > 300.0
    return edge[(edge[:, 1] > low + 1.0) & ~near_slot]


@pytest.mark.parametrize("board", BOARDS)
def test_members_never_overtop_the_back(board: str) -> None:
    for part, edge in parts_cut(board):
        if part.of_part.kind is PartKind.RIB:
            continue
        top = edge[edge[:, 1] > edge[:, 1].min() + 60.0]
        half = 0.5 * part.of_part.thickness_mm
        for y in (part.of_part.at_mm - half, part.of_part.at_mm, part.of_part.at_mm + half):
            points = np.stack([np.full(len(top), y), top[:, 1]], axis=1)
            assert off_surface(back_of(), top[:, 0], points).max() < 0.06


@pytest.mark.parametrize("board", BOARDS)
def test_parts_lie_apart_and_within_their_sheets(board: str) -> None:
    _, sheets = made(board)
    assert sum(len(sheet.parts) for sheet in sheets) >= len(made(board)[0].parts)
    for sheet in sheets:
        raw = box(0.0, 0.0, sheet.choices.width_mm, sheet.choices.height_mm)
        shapes = [Polygon(part.edge) for part in sheet.parts]
        for k, shape in enumerate(shapes):
            assert shape.is_valid
            assert raw.contains(shape)
            assert all(shape.distance(other) > 2.0 for other in shapes[:k])


def test_the_kerf_lies_outside_every_part() -> None:
    """What is left after a cutter of 0.4 mm has followed the line is the part as meant."""
    replica, _ = made("card")
    plain = nested(replica, SheetChoices())
    kerfed = nested(replica, SheetChoices(kerf_mm=0.4))
    by_number = {part.number: part for sheet in plain for part in sheet.parts}
    for sheet in kerfed:
        for part in sheet.parts:
            left = Polygon(back_in_its_plane(part, part.edge)).buffer(-0.2, join_style="mitre")
            meant = Polygon(back_in_its_plane(by_number[part.number], by_number[part.number].edge))
            assert left.symmetric_difference(meant).area < 1e-3 * meant.area


def test_a_long_member_is_parted_and_its_tongue_fits() -> None:
    _, sheets = made("plywood")
    spine = [part for sheet in sheets for part in sheet.parts if part.number.startswith("L2")]
    assert [part.number for part in sorted(spine, key=lambda one: one.number)] == ["L2a", "L2b"]
    first, second = (
        Polygon(back_in_its_plane(part, part.edge)) for part in sorted(spine, key=lambda one: one.number)
    )
    assert first.intersection(second).area < 1e-6
    assert first.distance(second) < 0.2
    whole = Polygon(spine[0].of_part.outline)
    assert abs(first.area + second.area - whole.area) < 0.001 * whole.area
    # The dovetail holds: drawn apart by half a millimetre, the pieces collide.
    moved = translate(second, 0.5)
    assert first.intersection(moved).area > 0.5
