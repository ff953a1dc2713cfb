"""The invented saddles do what their labels say when they are laid on the invented back."""

import numpy as np
import pytest

from saddlebench.demo.saddles import (
    ALL_ROUND,
    BARS,
    BRIDGING,
    FELT_UNDER_BARS,
    ROCKING,
    SADDLES,
    TOO_LONG,
    TOO_NARROW,
    TOO_WIDE,
)
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.check import check_numbers
from saddlebench.engine.saddle.grid import bearing_length
from saddlebench.engine.saddle.model import Family, Zone
from saddlebench.engine.saddle.numbers import RigidNumbers, model_from_numbers
from saddlebench.engine.saddle.pads import pad_thickness

SPLINE = PLAIN.surface().spline


def gaps_by_zone(numbers: RigidNumbers, front_edge_s_mm: float = -15.0, pads: tuple = ()) -> FloatArray:
    """Mean gap by zone, lowered without tilting until half of the area touches, pad included."""
    bearing = model_from_numbers(numbers, 1000).bearing
    best = np.full(len(bearing.row), np.inf)
    for height in np.arange(-120.0, 0.0, 0.5):
        points = bearing.points_saddle + np.array([-front_edge_s_mm, 0.0, height])
        s, phi, r = SPLINE.grid.polar(points)
        gap = (r - SPLINE.radius(s, phi)[:, 0]) * SPLINE.scale(s, phi)[:, 0]
        gap = gap - pad_thickness(pads, bearing)
        if abs(np.median(gap)) < abs(np.median(best)):
            best = gap
    return np.array([best[bearing.zone == zone].mean() for zone in Zone])


def test_they_are_said_to_be_invented_and_can_be_saddles() -> None:
    assert len({record.label for record in SADDLES}) == len(SADDLES)
    for record in SADDLES:
        assert record.label.startswith("invented")
        assert check_numbers(record.numbers) == ()
    assert {record.family for record in SADDLES} == set(Family)


def test_the_ordinary_saddle_lies_evenly_on_the_back_it_is_cut_to() -> None:
    # Panels of wool give 5 to 15 mm; an even lie within 5 mm before that is a good start.
    assert np.ptp(gaps_by_zone(ALL_ROUND)) < 5.0
    assert np.ptp(gaps_by_zone(BARS, 0.0, (FELT_UNDER_BARS,))) < 5.0


@pytest.mark.parametrize(
    ("numbers", "closer", "further"),
    [
        (TOO_NARROW, Zone.FRONT, Zone.WAIST),
        (TOO_WIDE, Zone.SEAT, Zone.FRONT),
        (BRIDGING, Zone.FRONT, Zone.WAIST),
        (BRIDGING, Zone.REAR, Zone.WAIST),
        (ROCKING, Zone.WAIST, Zone.FRONT),
        (ROCKING, Zone.WAIST, Zone.REAR),
    ],
)
def test_the_others_bear_where_their_fault_says(numbers: RigidNumbers, closer: Zone, further: Zone) -> None:
    change = gaps_by_zone(numbers) - gaps_by_zone(ALL_ROUND)
    assert change[further] - change[closer] > 3.0


def test_the_long_one_reaches_past_the_last_rib() -> None:
    model = model_from_numbers(TOO_LONG, 500)
    assert bearing_length(model.bearing) - 15.0 > PLAIN.last_rib_mm + 20.0
