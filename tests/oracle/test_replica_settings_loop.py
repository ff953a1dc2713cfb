"""Back → settings on another instrument → the back it then shows → settings on the first instrument again.

The outside is the first instrument's own scale: what comes back must be the readings that went in, within one
division of a pin, and the surface in between must be the surface it started from. Three instruments of three
families, none of which shares a link, pin or spacing with the first.
"""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Placing,
    Scale,
    TracedCurve,
    even_arm,
)
from saddlebench.engine.back.readings import StationReadings
from saddlebench.engine.errors import is_known
from saddlebench.engine.replica.curves import SectionCurve, section_curve
from saddlebench.engine.replica.settings import settings_for
from support.rebuilt import back_of, off_surface, rebuilt

STILL = Placing(along_mm=0.0, midline_mm=0.0, tilt_deg=0.0, lean_deg=0.0, contact_mm=0.0, height_mm=0.3)
FINE = Scale(lowest=-90.0, highest=90.0, step=0.5)
UNEVEN = ChainArm(
    link_mm=(18.0, 22.0, 26.0, 30.0, 34.0, 34.0, 34.0, 34.0),
    first_joint_out_mm=6.0,
    first_joint_up_mm=3.0,
    pad_along_mm=(12.0, 16.0, 20.0, 24.0, 28.0, 28.0, 28.0, 28.0),
    pad_below_mm=(5.0,) * 8,
    zero_deg=(4.0, 0.0, -2.0, 0.0, 0.0, 1.0, 0.0, 0.0),
    scale=Scale(per_division=1.5, lowest=-50.0, highest=50.0, step=0.25),
    joint_sd_deg=(0.0,) * 8,
    zero_sd_deg=0.0,
)
INSTRUMENTS: dict[str, Instrument] = {
    "uneven links on pads, odd divisions": JointedChain(name="a", left=UNEVEN, right=UNEVEN, placing=STILL),
    "15 links of 21 mm": JointedChain(
        name="b",
        left=even_arm(15, 21.0, FINE, joint_sd_deg=0.0, zero_sd_deg=0.0),
        right=even_arm(15, 21.0, FINE, joint_sd_deg=0.0, zero_sd_deg=0.0),
        placing=STILL,
    ),
    "37 pins of 11.5 mm on a foot": PinComb(
        name="c",
        pitch_mm=11.5,
        n_pins=37,
        midline_pin=19.0,
        scale=Scale(lowest=0.0, highest=400.0, step=0.5),
        offset_mm=40.0,
        offset_sd_mm=0.0,
        pin_sd_mm=0.0,
        zero_sd_mm=0.0,
        placing=STILL,
    ),
    "a curve in half centimetres": TracedCurve(
        name="d", mm_per_unit=5.0, step=0.1, point_sd_mm=0.2, spring_back_sd_mm=0.0, placing=STILL
    ),
}
FIRST = PinComb(
    name="first",
    pitch_mm=14.0,
    n_pins=25,
    midline_pin=13.0,
    scale=Scale(lowest=0.0, highest=300.0, step=1.0),
    offset_mm=20.0,
    placing=STILL,
)


@pytest.mark.parametrize("words", INSTRUMENTS)
def test_settings_to_surface_to_settings(words: str) -> None:
    start = back_of()
    wanted = settings_for(start.estimated, FIRST)
    there = settings_for(start.estimated, INSTRUMENTS[words])
    assert there.off_by_mm < 1.0
    shown = rebuilt(there.readings, INSTRUMENTS[words])

    for s in (one.readings.distance_mm for one in there.stations):
        curve = section_curve(shown.estimated, s)
        assert isinstance(curve, SectionCurve)
        inner = np.abs(curve.phi) < 0.9 * np.minimum(curve.phi.max(), -curve.phi.min())
        off = off_surface(start, np.full(int(inner.sum()), s), curve.points[inner])
        # Heights of the topline are set to the millimetre: half of one may shift a whole section.
        assert np.sqrt(np.mean(off**2)) < 0.5 + 0.25
        assert np.abs(off).max() < 1.5

    again = settings_for(shown.estimated, FIRST)
    differences = []
    for one, other in zip(wanted.readings.stations, again.readings.stations, strict=True):
        assert isinstance(one, StationReadings)
        assert isinstance(other, StationReadings)
        for a, b in zip((*one.left, *one.right), (*other.left, *other.right), strict=True):
            if a is not None and b is not None and is_known(a):
                differences.append(abs(a - b))
    found = np.array(differences)
    assert len(found) > 150
    assert np.mean(found <= 1.0) > 0.95
    assert found.max() <= 4.0


def test_settings_of_what_was_just_set_are_what_was_set() -> None:
    first = settings_for(back_of().estimated, FIRST)
    shown = rebuilt(first.readings, replace(FIRST, pin_sd_mm=0.0, zero_sd_mm=0.0, offset_sd_mm=0.0))
    again = settings_for(shown.estimated, FIRST)
    pairs = [
        (a, b)
        for one, other in zip(first.readings.stations, again.readings.stations, strict=True)
        if isinstance(one, StationReadings) and isinstance(other, StationReadings)
        for a, b in zip((*one.left, *one.right), (*other.left, *other.right), strict=True)
        if a is not None and b is not None
    ]
    assert np.mean([a == b for a, b in pairs]) > 0.97
    assert max(abs(a - b) for a, b in pairs) <= 1.0
