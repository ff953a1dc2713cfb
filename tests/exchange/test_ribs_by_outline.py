"""Ribs packed by outlines: nothing overlaps, nothing leaves the sheet, and no more board is cut into."""

from itertools import combinations

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon, box

from saddlebench.engine.replica.ribs import RibChoices, rib_replica
from saddlebench.exchange.planar import Layer
from saddlebench.exchange.ribs import SheetChoices, nested, sheet_drawing
from saddlebench.exchange.ribs.by_outline import placed_by_outline
from saddlebench.exchange.ribs.engraved import engraved
from saddlebench.exchange.ribs.nest import GAP_MM
from support.rebuilt import back_of

SHEET = SheetChoices(width_mm=600.0, height_mm=600.0)


def test_parts_keep_their_gap_and_stay_on_their_sheets() -> None:
    replica = rib_replica(back_of().estimated, RibChoices(thickness_mm=4.0))
    sheets = nested(replica, SHEET)
    # Packed by boxes alone these parts take eight sheets.
    assert len(sheets) <= 6
    room = box(0, 0, SHEET.width_mm, SHEET.height_mm).buffer(-0.99 * GAP_MM)
    for sheet in sheets:
        shapes = [Polygon(part.edge) for part in sheet.parts]
        assert all(room.contains(shape) for shape in shapes)
        assert all(a.distance(b) >= 0.99 * GAP_MM for a, b in combinations(shapes, 2))
        assert 0.4 < sheet.used_share < 1.0
    numbers = [part.number for sheet in sheets for part in sheet.parts]
    assert len(set(numbers)) == len(numbers) >= len(replica.parts)


def test_humps_lie_turned_over_where_boxes_would_keep_apart() -> None:
    """Two right triangles of 100 by 100 mm fill one square, beside a gap; as boxes they need two."""
    triangle = Polygon([(0, 0), (100, 0), (0, 100)])
    placed = placed_by_outline([triangle, triangle], 112.0, 112.0, 2.0)
    assert {one.sheet for one in placed} == {0}
    assert placed[0].quarters % 4 != placed[1].quarters % 4


@pytest.mark.parametrize("quarters", range(4))
def test_a_number_is_lines_about_its_place(quarters: int) -> None:
    lines = engraved("R10", (50.0, 20.0), 8.0, quarters)
    points = np.vstack(lines)
    assert len(lines) == 4
    assert points.mean(axis=0) == pytest.approx([50.0, 20.0], abs=3.0)
    span = np.ptp(points, axis=0)
    assert span[0 if quarters % 2 else 1] == pytest.approx(8.0)
    assert engraved("ü", (0.0, 0.0), 8.0, 0) == ()


def test_numbers_are_engraved_inside_their_parts_and_the_waste_is_stated() -> None:
    replica = rib_replica(back_of().estimated, RibChoices(thickness_mm=4.0))
    (sheet, *_), day = nested(replica, SHEET), "2026-05-14"
    drawing = sheet_drawing(sheet, 1, "Bramble (invented)", day, 4.0)
    lines = [LineString(one.points) for one in drawing.strokes if one.layer is Layer.ENGRAVE]
    for part in sheet.parts:
        inside = [line for line in lines if Polygon(part.edge).contains(line)]
        own = [line for line in inside if line.distance(LineString([part.label_at, part.label_at])) < 12.0]
        assert len(own) >= 2, part.number
    assert f"{100 * sheet.used_share:.0f} % of the board" in drawing.labels[0].words
