"""Every stated error moves the points as changing the record itself does."""

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from saddlebench.engine.back.backwards import readings_of, sections_of_radius
from saddlebench.engine.back.instruments import (
    JointedChain,
    PinComb,
    Placing,
    Scale,
    Scan,
    ToplineChain,
    TracedCurve,
    even_arm,
)
from saddlebench.engine.back.readings import (
    BackReadings,
    SectionPoints,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

DIAL = Scale(per_division=2.0, lowest=-45.0, highest=45.0, step=1e-6)
DISTANCES = (-60.0, 40.0, 160.0, 300.0, 430.0)
HEIGHTS = ToplineHeights(
    distance_mm=(-80.0, -60.0, 0.0, 40.0, 160.0, 240.0, 300.0, 430.0, 500.0),
    height_mm=(1560.0, 1564.0, 1551.0, 1540.0, 1519.0, 1512.0, 1514.0, 1521.0, 1529.0),
)
STANCE = Stance(pitch_deg=2.5, roll_deg=-1.5, sd_deg=0.4)
CHAIN = JointedChain(
    name="chain", left=even_arm(6, 30.0, DIAL), right=even_arm(5, 35.0, DIAL, first_joint_out_mm=9.0)
)
CHAIN_WITH_TOPLINE = replace(CHAIN, topline=ToplineChain(arm=even_arm(20, 35.0, DIAL)))
COMB = PinComb(
    name="comb", pitch_mm=20.0, n_pins=14, midline_pin=7.5, scale=replace(DIAL, highest=120.0, lowest=0.0)
)
CURVE = TracedCurve(name="curve", mm_per_unit=10.0, scale_sd=0.01)


def stations_of_chain() -> tuple[StationReadings, ...]:
    return tuple(
        StationReadings(
            number=i + 1,
            distance_mm=distance,
            left=tuple(4.0 + 0.7 * j - 0.2 * i for j in range(6)),
            right=tuple(5.0 - 0.4 * j + 0.3 * i for j in range(5)),
            tilt_deg=0.5 * i,
        )
        for i, distance in enumerate(DISTANCES)
    )


def stations_of_comb() -> tuple[StationReadings, ...]:
    depths = tuple(4.0 + 0.9 * j**1.7 for j in range(7))
    return tuple(
        StationReadings(number=i + 1, distance_mm=d, left=depths, right=(*depths[:-1], None), tilt_deg=-0.5)
        for i, d in enumerate(DISTANCES)
    )


def stations_of_curve() -> tuple[SectionPoints, ...]:
    points = tuple((2.0 * j, -0.09 * j * j) for j in range(1, 9))
    return tuple(
        SectionPoints(number=i + 1, distance_mm=d, left=points, right=points[:-2])
        for i, d in enumerate(DISTANCES)
    )


def record_of(
    instrument: JointedChain | PinComb | TracedCurve,
    stations: tuple[StationReadings, ...] | tuple[SectionPoints, ...],
    topline: ToplineHeights | ToplineJoints = HEIGHTS,
) -> BackRecord:
    return BackRecord(
        label="invented",
        measured_on=dt.date(2026, 5, 4),
        instrument=instrument,
        readings=BackReadings(stations=stations, topline=topline),
        stance=STANCE,
    )


CHAIN_RECORD = record_of(CHAIN, stations_of_chain())
LAID_RECORD = record_of(
    CHAIN_WITH_TOPLINE,
    stations_of_chain(),
    ToplineJoints(start_mm=-80.0, level_deg=7.0, joints=tuple(1.5 - 0.25 * j for j in range(17))),
)
COMB_RECORD = record_of(COMB, stations_of_comb())
CURVE_RECORD = record_of(CURVE, stations_of_curve())


def with_stations(record: BackRecord, change: Callable[[Any], StationReadings | SectionPoints]) -> BackRecord:
    stations = [change(station) for station in record.readings.stations]
    return replace(record, readings=replace(record.readings, stations=tuple(stations)))


def changed(record: BackRecord, source: str, amount: float) -> BackRecord | None:
    """The record with one thing off by `amount` of the error's own unit; None if a record cannot say it."""
    degrees = amount / DEGREE
    instrument = record.instrument
    if match := re.fullmatch(r"station (\d), (left|right), joint (\d+)", source):
        number, side, joint = int(match[1]), match[2], int(match[3]) - 1

        def turn(station: StationReadings) -> StationReadings:
            joints = list(getattr(station, side))
            joints[joint] += degrees / DIAL.per_division
            return replace(station, **{side: tuple(joints)}) if station.number == number else station

        return with_stations(record, turn)
    if match := re.fullmatch(r"zero of (left|right) joint (\d+)", source):
        arm = getattr(instrument, match[1])
        zero = list(arm.zero_deg)
        zero[int(match[2]) - 1] += degrees
        return replace(
            record, instrument=replace(instrument, **{match[1]: replace(arm, zero_deg=tuple(zero))})
        )
    if match := re.fullmatch(r"station (\d), leaning to one side", source):
        number = int(match[1])
        return with_stations(
            record,
            lambda s: replace(s, tilt_deg=s.tilt_deg + degrees) if s.number == number else s,
        )
    if match := re.fullmatch(r"station (\d), pin (\d+)", source):
        number, pin = int(match[1]), int(match[2])
        side, place = ("left", 7 - pin) if pin <= 7 else ("right", pin - 8)

        def push(station: StationReadings) -> StationReadings:
            depths = list(getattr(station, side))
            depths[place] += amount / DIAL.per_division
            return replace(station, **{side: tuple(depths)}) if station.number == number else station

        return with_stations(record, push)
    return changed_as_a_whole(record, source, amount)


def changed_as_a_whole(record: BackRecord, source: str, amount: float) -> BackRecord | None:
    degrees = amount / DEGREE
    topline = record.readings.topline
    if source == "scale of the sheets":
        assert isinstance(record.instrument, TracedCurve)
        scale = record.instrument.mm_per_unit * (1.0 + amount)
        return replace(record, instrument=replace(record.instrument, mm_per_unit=scale))
    if match := re.fullmatch(r"topline height at (.*) mm", source):
        assert isinstance(topline, ToplineHeights)
        heights = list(topline.height_mm)
        heights[topline.distance_mm.index(float(match[1]))] += amount
        topline = replace(topline, height_mm=tuple(heights))
        return replace(record, readings=replace(record.readings, topline=topline))
    if source == "topline, level" or source.startswith("topline, joint"):
        assert isinstance(topline, ToplineJoints)
        if source == "topline, level":
            topline = replace(topline, level_deg=topline.level_deg + degrees)
        else:
            joints = list(topline.joints)
            joints[int(source.rsplit(maxsplit=1)[-1]) - 2] += degrees / DIAL.per_division
            topline = replace(topline, joints=tuple(joints))
        return replace(record, readings=replace(record.readings, topline=topline))
    if source == "level of the ground along the horse":
        return replace(record, stance=replace(record.stance, pitch_deg=record.stance.pitch_deg + degrees))
    if source == "level of the ground across the horse":
        return replace(record, stance=replace(record.stance, roll_deg=record.stance.roll_deg + degrees))
    return None


def stated_moves(points: MeasuredPoints) -> dict[str, tuple[float, FloatArray]]:
    """By source: standard deviation and moves (n, 3), elementary errors and the frame's together."""
    stated = {
        source: (float(points.error_sd[m]), points.sensitivity[:, :, m])
        for m, source in enumerate(points.error_source)
    }
    topline = points.points_back[points.station == -1]
    midline = points.points_back.copy()
    if len(topline) == len(HEIGHTS.distance_mm):
        # Every section's midline is the topline's point at its distance.
        for k, station in enumerate(points.stations):
            midline[points.station == k] = topline[HEIGHTS.distance_mm.index(station.distance_mm)]
    for error in points.frame_errors:
        sd, moves = stated.get(error.source, (error.sd, np.zeros_like(midline)))
        assert sd == error.sd
        stated[error.source] = (sd, moves + error.moves(points.points_back, midline))
    return stated


@pytest.mark.parametrize(
    ("record", "least"),
    [(CHAIN_RECORD, 80), (LAID_RECORD, 90), (COMB_RECORD, 80), (CURVE_RECORD, 10)],
    ids=["chain", "chain with topline", "comb", "curve"],
)
def test_sensitivities_equal_central_differences_of_the_record(record: BackRecord, least: int) -> None:
    points = measure_points(record)
    checked = 0
    for source, (sd, moves) in stated_moves(points).items():
        step = 1e-4 if sd < 0.1 else 1e-2
        up, down = changed(record, source, step), changed(record, source, -step)
        if up is None or down is None:
            continue
        difference = (measure_points(up).points_back - measure_points(down).points_back) / (2 * step)
        # Central differences of 600 mm levers with a step of 1e-4 rad leave 600·1e-8/6. The curve between a
        # laid topline's joints moves a little differently than they do: (link/radius)⁴ of a lever, 600·1e-6.
        tolerance = 1e-3 if source.startswith("topline, ") else 1e-4
        np.testing.assert_allclose(moves, difference, rtol=0.0, atol=tolerance, err_msg=source)
        checked += 1
    assert checked >= least


EXACT = Placing(along_mm=3.0, midline_mm=0.0, tilt_deg=0.0, lean_deg=0.0, contact_mm=0.0, height_mm=0.0)


def slope_back(s_mm: FloatArray, phi: FloatArray) -> FloatArray:
    """An invented back whose topline falls to the rear, and that grows wider to the rear."""
    return 230.0 - 0.05 * s_mm + 0.0001 * (s_mm - 150.0) ** 2 + (12.0 + 0.02 * s_mm) * (1.0 - np.cos(phi))


BACK = sections_of_radius(slope_back, -220.0, np.deg2rad(np.linspace(-90.0, 90.0, 3601)))


def test_a_section_set_beside_its_mark_is_off_as_stated() -> None:
    """Section and height are both taken 2 mm behind their mark: that mark's error, and no other."""
    fine = Scale(lowest=-90.0, highest=90.0, step=1e-6)
    chain = JointedChain(name="c", left=even_arm(8, 25.0, fine), right=even_arm(8, 25.0, fine), placing=EXACT)
    wrong = 2.0
    written = (0.0, 100.0, 200.0, 300.0)
    truly = (0.0, 100.0, 200.0 + wrong, 300.0)
    read = readings_of(BACK, chain, truly)
    heights = tuple(float(slope_back(np.array([s]), np.zeros(1))[0]) for s in truly)
    stations = tuple(replace(s, distance_mm=w) for s, w in zip(read.stations, written, strict=True))
    record = BackRecord(
        label="invented",
        measured_on=dt.date(2026, 5, 4),
        instrument=chain,
        readings=BackReadings(
            stations=stations, topline=ToplineHeights(distance_mm=written, height_mm=heights)
        ),
        stance=Stance(sd_deg=0.0),
    )
    points = measure_points(record)
    column = points.error_source.index("place of the mark at 200 mm")
    station = points.station == 2
    true_z = points.points_back[station, 2]  # the height came from the same place as the section: it is right
    true_points = np.column_stack([np.full(len(true_z), -202.0), points.points_back[station, 1], true_z])
    stated = wrong * points.sensitivity[station, :, column]
    np.testing.assert_allclose(points.points_back[station] - true_points, stated, atol=1e-9)
    on_back = slope_back(-true_points[:, 0], np.arctan2(true_points[:, 1], true_points[:, 2] + heights[0]))
    # The chain was set on the back with a dial of 1e-6 degrees: its points lie on it to a µm.
    np.testing.assert_allclose(
        np.hypot(true_points[:, 1], true_points[:, 2] + heights[0]), on_back, atol=1e-3
    )


def test_a_section_between_heights_takes_its_place_error_with_the_slope() -> None:
    record = replace(CHAIN_RECORD, stance=Stance(sd_deg=0.0))
    stations = tuple(replace(s, distance_mm=s.distance_mm + 7.0) for s in record.readings.stations)
    record = replace(record, readings=replace(record.readings, stations=stations))
    points = measure_points(record)
    column = points.error_source.index("station 2, place along the back")
    own = points.sensitivity[points.station == 1, :, column]
    assert np.ptp(own, axis=0) == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)
    assert own[0, 0] == 1.0
    # Between 40 and 160 mm the topline falls by 21 mm, at 47 mm more steeply than on average: 0.175 to 0.27.
    assert 0.175 < own[0, 2] < 0.27
    assert not np.any(points.sensitivity[points.station != 1, :, column])


def test_the_shoulder_mark_itself_has_no_error_of_height() -> None:
    points = measure_points(replace(CHAIN_RECORD, stance=Stance(sd_deg=0.0)))
    origin = np.flatnonzero((points.station == -1) & (np.abs(points.points_back[:, 0]) < 1e-9))
    assert points.points_back[origin[0]] == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)
    heights = [m for m, source in enumerate(points.error_source) if "height" in source]
    assert np.abs(points.sensitivity[origin[0]][:, heights]).max() == pytest.approx(0.0, abs=1e-12)


def test_spring_back_moves_the_end_by_one_mm_per_mm_and_the_middle_by_a_quarter() -> None:
    """A straight curve that takes up a curvature κ deflects κ l²/2: 1 at its end, 1/4 halfway."""
    straight = tuple((10.0 * j, 0.0) for j in range(1, 11))
    stations = tuple(
        SectionPoints(number=i + 1, distance_mm=d, left=straight, right=straight)
        for i, d in enumerate((0.0, 100.0))
    )
    curve = TracedCurve(name="curve")
    record = replace(record_of(curve, stations), stance=Stance(sd_deg=0.0))
    points = measure_points(record)
    column = points.error_source.index("station 1, left, spring-back")
    first = points.sensitivity[(points.station == 0) & (points.side == 1), :, column]
    np.testing.assert_allclose(first[:, 2], -((np.arange(1, 11) / 10.0) ** 2), atol=1e-12)
    np.testing.assert_allclose(first[:, :2], 0.0, atol=1e-12)


def test_scan_registration_turns_about_the_shoulder_mark() -> None:
    first = SectionPoints(number=1, distance_mm=100.0, left=((50.0, -30.0),), right=((50.0, -40.0),))
    second = SectionPoints(number=2, distance_mm=300.0, left=((60.0, -20.0),), right=((60.0, -25.0),))
    record = BackRecord(
        label="invented",
        measured_on=dt.date(2026, 5, 4),
        instrument=Scan(name="scan"),
        readings=BackReadings(stations=(second, first)),
        stance=Stance(sd_deg=0.0),
    )
    points = measure_points(record)
    assert [station.number for station in points.stations] == [1, 2]
    first_points = points.points_back[points.station == 0]
    np.testing.assert_array_equal(first_points, [[-100.0, 50.0, -30.0], [-100.0, -50.0, -40.0]])
    assert points.error_source == ()
    own = points.points_back
    by_source = {error.source: error.moves(own, 0.0 * own) for error in points.frame_errors}
    axes = {
        "scan, leaning to one side": [1, 0, 0],
        "scan, level along the back": [0, 1, 0],
        "scan, heading": [0, 0, 1],
    }
    for source, axis in axes.items():
        np.testing.assert_allclose(by_source[source], np.cross(axis, points.points_back), atol=1e-12)


def test_a_chain_pressed_in_where_its_arms_start_raises_all_of_its_section() -> None:
    points = measure_points(replace(CHAIN_RECORD, stance=Stance(sd_deg=0.0)))
    column = points.error_source.index("station 2, contact at the midline")
    moved = points.sensitivity[:, :, column]
    own = points.station == 1
    assert points.error_sd[column] == CHAIN_RECORD.instrument.placing.contact_mm
    np.testing.assert_allclose(moved[own], np.tile([0.0, 0.0, 1.0], (int(own.sum()), 1)), atol=1e-12)
    assert not np.any(moved[~own])
    # A comb's height is a reading of its own pin, which states its own error.
    assert not any("contact at the midline" in name for name in measure_points(COMB_RECORD).error_source)
