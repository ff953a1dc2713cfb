"""Readings → points → outline → readings: an instrument run backwards undoes the instrument run forwards.

The outside here is the instrument's own scale: the readings that come back must be the ones that went in,
which they are when, before rounding, they lie within half a division.
The outline that the points describe is a cubic spline in the polar angle, made by scipy, not by this package.
"""

import datetime as dt

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from saddlebench.engine.back.backwards import SectionAt, readings_of, sections_of_radius, setting_residuals
from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Scale,
    TapeAndHand,
    ToplineChain,
    TracedCurve,
    even_arm,
)
from saddlebench.engine.back.readings import SectionPoints, StationReadings, ToplineJoints
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.errors import is_known
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

AXIS_Z = -220.0
PHI = np.deg2rad(np.linspace(-95.0, 95.0, 1901))
DISTANCES = (-40.0, 20.0, 110.0, 190.0, 300.0, 420.0)
FINE = Scale(lowest=-90.0, highest=90.0, step=1.0)


def radius(s_mm: FloatArray, phi: FloatArray) -> FloatArray:
    """An invented back: a higher ridge in front, a fuller left side, a gentle hollow beside the withers."""
    ridge = 35.0 * np.exp(-(((s_mm - 20.0) / 120.0) ** 2)) * np.exp(-((phi / 0.35) ** 2))
    side = 6.0 * np.sin(phi) + 14.0 * (1.0 - np.cos(phi)) - 9.0 * np.exp(-(((np.abs(phi) - 0.8) / 0.3) ** 2))
    return 220.0 - 0.00004 * (s_mm - 250.0) ** 2 + ridge + side


BACK = sections_of_radius(radius, AXIS_Z, PHI)

UNEVEN_LEFT = ChainArm(
    link_mm=(20.0, 25.0, 30.0, 35.0, 40.0, 40.0),
    first_joint_out_mm=10.0,
    first_joint_up_mm=4.0,
    pad_along_mm=(20.0, 25.0, 30.0, 35.0, 40.0, 40.0),
    pad_below_mm=(4.0,) * 6,
    zero_deg=(5.0, 0.0, -3.0, 0.0, 0.0, 2.0),
    scale=Scale(per_division=2.5, lowest=-30.0, highest=30.0, step=0.5),
    joint_sd_deg=(0.4,) * 6,
    zero_sd_deg=0.2,
)
TOPLINE = ToplineChain(arm=even_arm(14, 40.0, FINE), level_step_deg=0.5)
INSTRUMENTS: dict[str, Instrument] = {
    "twelve links of 25 mm": JointedChain(
        name="chain a", left=even_arm(12, 25.0, FINE), right=even_arm(12, 25.0, FINE), topline=TOPLINE
    ),
    "eight links of 40 mm, coarse dial": JointedChain(
        name="chain b",
        left=even_arm(8, 40.0, Scale(per_division=5.0, lowest=-12.0, highest=12.0, step=0.25)),
        right=even_arm(8, 40.0, Scale(per_division=5.0, lowest=-12.0, highest=12.0, step=0.25)),
    ),
    "uneven links on pads, sides differ": JointedChain(
        name="chain c", left=UNEVEN_LEFT, right=even_arm(10, 30.0, FINE, first_joint_out_mm=8.0)
    ),
    "41 pins of 10 mm": PinComb(
        name="comb a", pitch_mm=10.0, n_pins=41, midline_pin=21.0, scale=Scale(lowest=0, highest=260, step=1)
    ),
    "24 pins of 15 mm, midline between pins": PinComb(
        name="comb b",
        pitch_mm=15.0,
        n_pins=24,
        midline_pin=12.5,
        scale=Scale(lowest=0, highest=260, step=0.5),
    ),
    "comb on a foot, off centre, in cm": PinComb(
        name="comb c",
        pitch_mm=12.0,
        n_pins=30,
        midline_pin=13.0,
        offset_mm=60.0,
        scale=Scale(per_division=10.0, lowest=0.0, highest=26.0, step=0.1),
    ),
    "curve, 1:1": TracedCurve(name="curve a"),
    "curve, half size": TracedCurve(name="curve b", mm_per_unit=2.0, step=0.5),
    "curve, in cm": TracedCurve(name="curve c", mm_per_unit=10.0, step=0.1),
}
TAPES: dict[str, TapeAndHand] = {
    "tape, mm": TapeAndHand(name="tape a"),
    "tape, four widths in cm, short card": TapeAndHand(
        name="tape b",
        width_depths_mm=(25.0, 60.0, 110.0, 160.0),
        width=Scale(per_division=10.0, lowest=2.0, highest=90.0, step=0.5),
        card_mm=70.0,
        angle=Scale(lowest=0.0, highest=95.0, step=2.5),
    ),
}


def record_of(instrument: Instrument) -> BackRecord:
    readings = readings_of(BACK, instrument, DISTANCES)
    return BackRecord(
        label="invented", measured_on=dt.date(2026, 5, 4), instrument=instrument, readings=readings
    )


def outline_through(record: BackRecord) -> SectionAt:
    """The outline that a record's points describe: at each station a spline r(φ) through them."""
    points = measure_points(record)
    distance = np.array([station.distance_mm for station in points.stations])
    midline = points.station == -1
    s_top, z_top = -points.points_back[midline, 0], points.points_back[midline, 2]
    order = np.argsort(s_top)
    top_at = CubicSpline(s_top[order], z_top[order])

    def section(distance_mm: float) -> FloatArray:
        station = int(np.argmin(np.abs(distance - distance_mm)))
        own = points.points_back[points.station == station][:, 1:]
        own = np.vstack([own[np.abs(own[:, 0]) > 1e-9], [0.0, float(top_at(distance_mm))]])
        own -= np.array([0.0, AXIS_Z])
        phi = np.arctan2(own[:, 0], own[:, 1])
        turn = np.argsort(phi)
        spline = CubicSpline(phi[turn], np.hypot(*own[turn].T))
        fine = np.unique(np.concatenate([np.linspace(phi.min(), phi.max(), 3000), phi]))
        return np.stack([spline(fine) * np.sin(fine), spline(fine) * np.cos(fine) + AXIS_Z], axis=1)

    return section


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_readings_come_back_within_half_a_division(name: str) -> None:
    instrument = INSTRUMENTS[name]
    first = record_of(instrument)
    again = readings_of(outline_through(first), instrument, DISTANCES)
    compared = 0
    for before, after in zip(first.readings.stations, again.stations, strict=True):
        if isinstance(before, StationReadings) and isinstance(after, StationReadings):
            assert before.middle == after.middle
            for side in ("left", "right"):
                pairs = list(zip(getattr(before, side), getattr(after, side), strict=True))
                # The last point is the end of the outline: whether a link or pin reaches it is a tie.
                inner = [(b, a) for b, a in pairs[:-1] if a is not None]
                assert all(b == a for b, a in inner), (name, before.number, side, pairs)
                assert len(inner) >= sum(b is not None for b, _ in pairs) - 1
                compared += len(inner)
    if not isinstance(instrument, TracedCurve):
        assert compared > 50


@pytest.mark.parametrize("name", TAPES)
def test_a_tapes_widths_and_angles_come_back(name: str) -> None:
    tape = TAPES[name]
    first = record_of(tape)
    again = readings_of(outline_through(first), tape, DISTANCES)
    for before, after in zip(first.readings.stations, again.stations, strict=True):
        assert isinstance(before, StationReadings)
        assert isinstance(after, StationReadings)
        # The last width is the outline's end: whether a hand still finds the back there is a tie.
        assert before.widths[:-1] == after.widths[:-1]
        assert None not in before.widths
        assert before.left == after.left
        assert before.right == after.right
        assert len(before.left) == len(before.right) == 1


@pytest.mark.parametrize("name", [name for name in INSTRUMENTS if "curve" in name])
def test_traced_points_lie_within_half_a_division_of_the_outline(name: str) -> None:
    instrument = INSTRUMENTS[name]
    assert isinstance(instrument, TracedCurve)
    record = record_of(instrument)
    half = 0.5 * instrument.step * instrument.mm_per_unit
    for residual in setting_residuals(BACK, instrument, record.readings):
        assert is_known(residual)
        # Each coordinate is rounded on its own: a point lies at most half a division's diagonal away.
        assert 0.0 < residual <= half * np.sqrt(2.0) + 1e-9


@pytest.mark.parametrize("name", [name for name in INSTRUMENTS if "curve" not in name])
def test_set_points_lie_on_the_back_within_what_the_scale_allows(name: str) -> None:
    instrument = INSTRUMENTS[name]
    record = record_of(instrument)
    for station, residual in zip(
        record.readings.stations, setting_residuals(BACK, instrument, record.readings), strict=True
    ):
        assert isinstance(station, StationReadings)
        assert is_known(residual)
        if isinstance(instrument, JointedChain):
            # A pad is at most half a step of its joint away along its own circle; rounding does not add up.
            half_step = max(
                0.5 * arm.scale.step * arm.scale.per_division * DEGREE * np.hypot(max(arm.link_mm), 4.0)
                for arm in (instrument.left, instrument.right)
            )
        elif isinstance(instrument, PinComb):
            half_step = 0.5 * instrument.scale.step * instrument.scale.per_division
            if instrument.midline_pin % 1.0:
                # The four pins that give the height add their roundings, 1 + Σ|w| = 2.25 half steps; a cubic
                # through them leaves 3/128·h⁴·z⁗ of this crown, z⁗ ≈ 12·35/77⁴ mm⁻³, h = 15: 0.014 mm.
                half_step = 2.25 * half_step + 0.02
        assert 0.0 < residual <= half_step + 1e-9


def test_topline_chain_comes_back() -> None:
    record = record_of(INSTRUMENTS["twelve links of 25 mm"])
    topline = record.readings.topline
    assert isinstance(topline, ToplineJoints)
    points = measure_points(record)
    midline = points.points_back[points.station == -1]
    exact = radius(-midline[:, 0], np.zeros(len(midline))) + AXIS_Z
    exact -= float(radius(np.zeros(1), np.zeros(1))[0]) + AXIS_Z
    # Half a degree over a 40 mm link is 0.35 mm; the height at the mark itself may be off by as much again.
    np.testing.assert_allclose(midline[:, 2], exact, rtol=0.0, atol=2 * 0.35)


def test_a_back_that_ends_leaves_the_outer_joints_blank() -> None:
    short = sections_of_radius(radius, AXIS_Z, np.deg2rad(np.linspace(-95.0, 40.0, 1351)))
    chain = INSTRUMENTS["twelve links of 25 mm"]
    readings = readings_of(short, chain, DISTANCES)
    for station in readings.stations:
        assert not isinstance(station, SectionPoints)
        reached = [reading is not None for reading in station.left]
        assert reached == sorted(reached, reverse=True)
        assert 3 <= sum(reached) < 12
        assert None not in station.right
