"""Where things stand on trace sheets, what curves become, angles on photos, and plain data there and back."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.sheets.drawn import tiles_drawn
from saddlebench.exchange.sheets.layout import (
    KINDS,
    PAPER_NAMES,
    SheetKind,
    layout_of,
    layout_of_marker,
)
from saddlebench.exchange.tracings.angles import Known, angle_on_photo
from saddlebench.exchange.tracings.as_readings import instrument_of, section_of, topline_of
from saddlebench.exchange.tracings.camera import PaperCamera, bend
from saddlebench.exchange.tracings.gathering import NamedSheet, gather, stations_of
from saddlebench.exchange.tracings.paper_edge import PrintedScale, scale_by_ruler
from saddlebench.exchange.tracings.plain import plain_of_sheet, sheet_of_plain
from saddlebench.exchange.tracings.sheet_read import ReadCurve, ReadSheet


def curve_of(points: np.ndarray) -> ReadCurve:  # type: ignore[type-arg]
    return ReadCurve(
        points=points,
        seen=np.ones(len(points), dtype=bool),
        photo=points * 3.0 + 900.0,
        point_sd_mm=0.3,
        ticks=np.zeros((0, 2)),
    )


def arch() -> ReadCurve:
    x = np.linspace(-200.0, 200.0, 401)
    return curve_of(np.column_stack([x, -0.003 * x**2]))


def sheet_of(
    *curves: ReadCurve, kind: SheetKind = SheetKind.SECTIONS, stations: tuple[int, ...] = ()
) -> ReadSheet:
    return ReadSheet(
        kind=SheetKind.SECTIONS,
        size_px=(1632, 1224),
        curves=curves,
        stations=stations,
        scale=PrintedScale(across=0.99, down=1.0, sd=0.003, source="the paper’s edges"),
        tilt_deg=12.0,
        curl=0.1,
        n_markers=18,
        inside_mm=0.3,
        to_mm=np.eye(3),
    )


def test_every_markers_number_says_its_whole_sheet_and_none_is_there_twice() -> None:
    seen: set[int] = set()
    for kind in KINDS:
        for paper in PAPER_NAMES:
            for tiles in (1, 2, 3):
                layout = layout_of(kind, paper, tiles)
                numbers = {one.number for one in layout.markers}
                assert len(numbers) == len(layout.markers)
                assert not numbers & seen
                assert all(layout_of_marker(number) is layout for number in numbers)
                seen |= numbers
    assert max(seen) < 587
    assert layout_of_marker(586) is None


def test_nothing_printed_black_stands_where_curves_are_drawn() -> None:
    for kind in KINDS:
        layout = layout_of(kind, "a4")
        left, low, right, top = layout.area
        for tile in tiles_drawn(layout):
            for x0, y0, x1, y1 in tile.squares:
                assert x1 <= left or x0 >= right or y1 <= low or y0 >= top
            dark = [line for line in tile.lines if not line.is_faint]
            for line in dark:
                assert line.start[0] <= left or line.start[1] <= low


def test_what_is_no_sheet_is_refused() -> None:
    with pytest.raises(InputProblemsError, match="no paper known"):
        layout_of(SheetKind.SECTIONS, "a5")
    with pytest.raises(InputProblemsError, match="is not made"):
        layout_of(SheetKind.SECTIONS, "a4", 4)
    with pytest.raises(InputProblemsError, match="ruler is 100 mm"):
        scale_by_ruler(80.0, None)


@given(
    curl=st.floats(-1.5, 1.5),
    change=st.floats(-2.0, 2.0),
    deg=st.floats(0.0, 180.0),
    at=st.floats(-250.0, 250.0),
)
@settings(max_examples=30, derandomize=True, deadline=None)
def test_bent_paper_keeps_its_lengths(curl: float, change: float, deg: float, at: float) -> None:
    """Paper does not stretch: the length of a bent line, summed up, is its flat length (to second order)."""
    along = np.linspace(0.0, at, 400)
    direction = np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])
    bent = bend(along[:, None] * direction, curl, change, deg)
    length = np.linalg.norm(np.diff(bent, axis=0), axis=1).sum()
    slope = abs(curl) * 1e-3 * abs(at) + abs(change) * 0.5e-6 * at**2
    assert length == pytest.approx(abs(at), abs=0.02 + abs(at) * slope**4)


def test_the_camera_is_a_pinhole_seen_squarely() -> None:
    """By similar triangles: 100 mm at 1000 mm with a focal length of 800 dots are 80 dots."""
    camera = PaperCamera(
        size_px=(1000, 800),
        middle_mm=(0.0, 0.0),
        focal=0.8,
        radial=0.0,
        turn=(0.0, 0.0, 0.0),
        shift=(0.0, 0.0, 1000.0),
    )
    at = camera.to_photo(np.array([[0.0, 0.0], [100.0, 50.0]]))
    assert at[1] - at[0] == pytest.approx([80.0, -40.0])
    assert camera.tilt_deg == pytest.approx(0.0)


def test_a_curve_becomes_a_section_outward_on_both_sides() -> None:
    section = section_of(arch(), 3, 120.0)
    for side in (section.left, section.right):
        out = [point[0] for point in side]
        assert out == sorted(out)
        assert 3.0 <= out[0] < 12.0
        assert len(side) <= 56
        assert all(up == pytest.approx(-0.003 * x**2, abs=0.15) for x, up in side)


def test_a_topline_is_turned_level_and_placed() -> None:
    x = np.linspace(0.0, 600.0, 601)
    turned = topline_of(curve_of(np.column_stack([x, 0.0 * x])), starts_at_mm=-100.0, level_deg=2.0)
    fall = turned.height_mm[0] - turned.height_mm[-1]
    run = turned.distance_mm[-1] - turned.distance_mm[0]
    assert fall / run == pytest.approx(np.tan(np.radians(2.0)), rel=0.01)
    assert turned.distance_mm[0] == -100.0


def test_rings_say_the_stations_and_order_only_where_they_do_not() -> None:
    sheets = [sheet_of(arch(), arch()), sheet_of(arch(), stations=(2,))]
    found = stations_of(sheets)
    assert [(one.station, one.is_guessed) for one in found] == [(1, True), (3, True), (2, False)]
    named = [NamedSheet(name=str(k), sheet=one) for k, one in enumerate(sheets)]
    gathered = gather(named, [-80.0, 0.0, 80.0])
    assert [one.distance_mm for one in gathered.readings.stations] == [-80.0, 0.0, 80.0]
    assert sum("by its order" in one.what for one in gathered.remarks) == 2
    with pytest.raises(InputProblemsError, match="station 3 has no distance"):
        gather(named, [-80.0, 0.0])


def test_the_photos_error_goes_into_the_instrument_and_the_curves_own_stays() -> None:
    curve = example_instrument("curve-mm")
    assert isinstance(curve, TracedCurve)
    used = instrument_of(curve, [sheet_of(arch())])
    assert used.point_sd_mm == pytest.approx(np.hypot(0.5, 0.3), abs=1e-3)
    assert used.scale_sd == pytest.approx(0.003)
    assert used.spring_back_sd_mm == curve.spring_back_sd_mm


def test_what_was_read_survives_as_plain_data() -> None:
    sheet = sheet_of(arch(), stations=(4,))
    back = sheet_of_plain(json.loads(json.dumps(plain_of_sheet(sheet))))
    assert back.stations == (4,)
    assert back.scale == sheet.scale
    assert len(back.curves[0].points) <= 182
    assert len(json.dumps(plain_of_sheet(sheet)["curves"][0])) < 10_000


def test_an_angles_stated_error_is_that_of_its_own_draws() -> None:
    """Two places 1000 dots apart, each wrong by 3 dots: √2·3/1000 rad; the rest switched off."""
    line = np.array([[0.0, 0.0], [1000.0, 0.0]])
    level = Known(level=line + np.array([0.0, 400.0]))
    found = angle_on_photo(line, level, click_sd_px=3.0, aside_sd_deg=0.0)
    assert found.deg == pytest.approx(0.0, abs=0.02)
    assert found.sd_deg == pytest.approx(np.degrees(np.sqrt(2.0) * np.sqrt(2.0) * 3.0 / 1000.0), rel=0.05)
    with pytest.raises(InputProblemsError, match="nearer to each other"):
        angle_on_photo(np.zeros((2, 2)))


def test_a_level_and_a_plumb_line_that_cannot_both_be_true_are_refused() -> None:
    line = np.array([[200.0, 300.0], [900.0, 260.0]])
    level = np.array([[100.0, 1000.0], [1500.0, 1000.0]])
    leaning = np.array([[1400.0, 1000.0], [900.0, 300.0]])
    with pytest.raises(InputProblemsError, match="cannot all be true"):
        angle_on_photo(line, Known(level=level, upright=leaning), size_px=(1632, 1224))
