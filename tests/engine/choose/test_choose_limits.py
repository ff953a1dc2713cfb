"""Hard limits against arithmetic worked by hand, as a fitter does it with a tape (common practice)."""

from dataclasses import replace
from math import cos, radians

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, BARS, SADDLES, SIDE_SADDLE
from saddlebench.demo.shapes import BACK_SHAPES, PLAIN, BackShape
from saddlebench.engine.back.landmarks import NOT_MARKED, Mark
from saddlebench.engine.choose import Candidate, HardLimit, HardLimits, RiderSize, usual_seat_in
from saddlebench.engine.choose.limits import (
    FrontSection,
    broken_limit,
    rear_edge_s_mm,
    section_at,
    width_off_mm,
)
from saddlebench.engine.choose.rider_size import DEFAULT_SIZES, Sizes, size_fit
from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.saddle.alterable import ARCHES, NotAlterable
from support.choosing import wanted_for

ROOF = FrontSection(
    out_mm=(np.array([0.0, 300.0]), np.array([0.0, 300.0])),
    above_midline_mm=(np.array([0.0, -300.0]), np.array([0.0, -300.0])),
)
"""A back like a roof of 45°: at a depth D it is 2 D wide."""


def candidate(**changes: float) -> Candidate:
    record = SADDLES[0]
    tree = replace(ALL_ROUND.tree, **changes)
    record = replace(record, numbers=replace(ALL_ROUND, tree=tree))
    fixed = replace(record.alterable, arch=NotAlterable(reason="moulded"))
    return Candidate(key="A", record=replace(record, alterable=fixed))


def test_width_on_a_roof_by_hand() -> None:
    numbers = replace(ALL_ROUND, tree=replace(ALL_ROUND.tree, width_mm=240.0, depth_mm=160.0, angle_deg=90.0))
    # ends 55 − 160 = −105 mm below the ridge: the roof is 210 mm wide there; both faces 18 mm off along the
    # normal take 2 · 18/cos 45° = 50.91 mm
    off = width_off_mm(numbers, ROOF, pad_mm=6.0)
    assert off == pytest.approx(240.0 - 2.0 * 18.0 / cos(radians(45.0)) - 210.0, abs=1e-9)
    assert off == pytest.approx(-20.91, abs=0.005)


def test_a_pad_narrows_and_a_deeper_point_meets_a_wider_back() -> None:
    base = width_off_mm(ALL_ROUND, ROOF, pad_mm=0.0)
    padded = width_off_mm(ALL_ROUND, ROOF, pad_mm=10.0)
    deeper = replace(ALL_ROUND, tree=replace(ALL_ROUND.tree, depth_mm=ALL_ROUND.tree.depth_mm + 10.0))
    assert isinstance(base, float)
    assert isinstance(padded, float)
    assert base - padded == pytest.approx(20.0 / cos(radians(0.5 * ALL_ROUND.tree.angle_deg)))
    assert width_off_mm(deeper, ROOF, pad_mm=0.0) == pytest.approx(base - 20.0)


@pytest.mark.parametrize("shape", BACK_SHAPES.values(), ids=lambda one: one.name)
def test_the_back_is_as_wide_as_its_section(shape: BackShape) -> None:
    points = shape.section(30.0, 4001)
    y, z = points[:, 1], points[:, 2]
    top = float(np.interp(0.0, y, z))
    wanted_height = -100.0
    left, right = y > 0.0, y < 0.0
    exact = np.interp(top + wanted_height, z[left][::-1], y[left][::-1]) - np.interp(
        top + wanted_height, z[right], y[right]
    )
    assert section_at(shape.surface(), 30.0).width_mm(wanted_height) == pytest.approx(float(exact), abs=1.0)


def test_further_down_than_measured_there_is_no_width() -> None:
    assert isinstance(ROOF.width_mm(-301.0), NotMeasured)
    assert isinstance(width_off_mm(BARS, ROOF, pad_mm=0.0), Undetermined)


def test_length_by_hand() -> None:
    wanted = wanted_for(PLAIN)
    edges = Mark(4.0, 10.0)
    marks = replace(wanted.landmarks, shoulder_left=edges, shoulder_right=Mark(-8.0, 10.0))
    wanted = replace(wanted, landmarks=replace(marks, last_rib=Mark(380.0, 20.0)))
    # points 30 mm behind the further shoulder edge, 45 mm behind the panels' front: 4 + 30 − 45 + 430 = 419
    assert rear_edge_s_mm(ALL_ROUND, wanted) == pytest.approx(419.0)
    assert rear_edge_s_mm(SIDE_SADDLE, wanted) == pytest.approx(4.0 + 30.0 - 45.0 + 470.0)
    assert rear_edge_s_mm(BARS, wanted) == pytest.approx(4.0 + BARS.bar.length_mm)
    section = FrontSection.of(wanted)
    assert broken_limit(candidate(), ALL_ROUND, wanted, section) is None
    nearer = replace(wanted, landmarks=replace(wanted.landmarks, last_rib=Mark(378.0, 20.0)))
    broken = broken_limit(candidate(), ALL_ROUND, nearer, section)
    assert broken is not None
    assert (broken.limit, broken.measured, broken.allowed) == (HardLimit.LENGTH, pytest.approx(41.0), 40.0)
    unmarked = replace(wanted, landmarks=replace(wanted.landmarks, last_rib=NOT_MARKED))
    assert broken_limit(candidate(), ALL_ROUND, unmarked, section) is None


def test_an_arch_that_may_be_set_widens_the_limit() -> None:
    wanted, section = wanted_for(PLAIN), FrontSection.of(wanted_for(PLAIN))
    narrow = candidate(width_mm=ALL_ROUND.tree.width_mm - 45.0)
    numbers = narrow.record.numbers
    assert isinstance(numbers, type(ALL_ROUND))
    broken = broken_limit(narrow, numbers, wanted, section)
    assert broken is not None
    assert broken.limit is HardLimit.TOO_NARROW
    alterable = replace(narrow.record.alterable, arch=ARCHES["exchangeable"])
    settable = replace(narrow, record=replace(narrow.record, alterable=alterable))
    assert broken_limit(settable, numbers, wanted, section) is None
    own = HardLimits(width_mm=broken.measured)
    assert broken_limit(narrow, numbers, wanted, section, limits=own) is None


@pytest.mark.parametrize(
    ("thigh_in", "seat_in"),
    [(16.5, 15.0), (16.6, 16.0), (20.0, 16.5), (21.5, 17.0), (22.05, 17.5), (30.0, 18.5)],
)
def test_seats_by_thigh_as_usually_handed_round(thigh_in: float, seat_in: float) -> None:
    # common practice, from memory: no published table was found
    assert usual_seat_in(25.4 * thigh_in) == seat_in


def test_the_riders_size() -> None:
    rider = RiderSize(thigh_mm=560.0, leg_mm=900.0)
    fit = size_fit(Sizes(seat_in=18.0, flap_mm=340.0), rider)
    assert (fit.seat_off_in, fit.flap_off_mm) == (0.5, pytest.approx(-20.0))
    assert size_fit(Sizes(seat_in=17.5, flap_mm=400.0), rider).flap_off_mm == 0.0
    assert isinstance(size_fit(Sizes(seat_in=17.5, flap_mm=400.0), RiderSize()).seat_off_in, NotMeasured)
    wanted = replace(wanted_for(PLAIN), rider_size=rider)
    section = FrontSection.of(wanted)
    small = replace(candidate(), seat_in=16.0)
    broken = broken_limit(small, ALL_ROUND, wanted, section)
    assert broken is not None
    assert (broken.limit, broken.measured) == (HardLimit.SEAT, 1.5)
    own = HardLimits(sizes=replace(DEFAULT_SIZES, seat_most_in=2.0))
    assert broken_limit(small, ALL_ROUND, wanted, section, limits=own) is None
    short = replace(candidate(), flap_mm=300.0)
    broken = broken_limit(short, ALL_ROUND, wanted, section)
    assert broken is not None
    assert (broken.limit, broken.measured) == (HardLimit.FLAP, pytest.approx(60.0))
    assert broken.words == "flap not the rider's length: 60 mm off, at most 30 mm off"
