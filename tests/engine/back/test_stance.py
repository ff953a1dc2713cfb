"""Stance: a rigid move that undoes the ground's tilt and nothing of the horse."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.engine.back.instruments import JointedChain, Scale, even_arm
from saddlebench.engine.back.readings import BackReadings, StationReadings, ToplineHeights
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.stance import Stance, instrument_to_back
from saddlebench.engine.frames import FloatArray, Frame

ARM = even_arm(5, 32.0, Scale(lowest=-60.0, highest=60.0, step=1.0))
CHAIN = JointedChain(name="chain", left=ARM, right=ARM)
# Croup-high: the topline rises 80 mm to the rear.
HEIGHTS = ToplineHeights(
    distance_mm=(-50.0, 0.0, 150.0, 300.0, 450.0), height_mm=(1500, 1495, 1490, 1520, 1575)
)
RECORD = BackRecord(
    label="invented",
    measured_on=dt.date(2026, 5, 4),
    instrument=CHAIN,
    readings=BackReadings(
        stations=tuple(
            StationReadings(number=i + 1, distance_mm=d, left=(8.0, 7, 6, 5, 4), right=(9.0, 7, 6, 5, 3))
            for i, d in enumerate((0.0, 150.0, 300.0, 450.0))
        ),
        topline=HEIGHTS,
    ),
)
tilts = st.floats(-20.0, 20.0)


def distances_between(points: FloatArray) -> FloatArray:
    return np.linalg.norm(points[:, None] - points[None], axis=2)


@settings(max_examples=15, deadline=None)
@given(pitch=tilts, roll=tilts)
def test_levelling_keeps_every_distance(pitch: float, roll: float) -> None:
    level = measure_points(RECORD).points_back
    tilted = measure_points(replace(RECORD, stance=Stance(pitch_deg=pitch, roll_deg=roll))).points_back
    # Sums and products of lengths below 600 mm in double precision.
    np.testing.assert_allclose(distances_between(tilted), distances_between(level), atol=1e-10)


def test_pitch_and_roll_have_the_signs_they_say() -> None:
    """Ground that falls to the head lowers what lies in front; a higher left side raises the left."""
    falls_to_the_head = instrument_to_back(Stance(pitch_deg=30.0))
    np.testing.assert_allclose(
        falls_to_the_head.points(np.array([[100.0, 0.0, 0.0]])),
        [[100.0 * np.sqrt(0.75), 0.0, -50.0]],
        atol=1e-12,
    )
    left_higher = instrument_to_back(Stance(roll_deg=30.0))
    np.testing.assert_allclose(
        left_higher.points(np.array([[0.0, 100.0, 0.0]])), [[0.0, 100.0 * np.sqrt(0.75), 50.0]], atol=1e-12
    )
    assert (left_higher.source, left_higher.target) == (Frame.INSTRUMENT, Frame.BACK)


def test_the_same_horse_on_sloping_ground_gives_the_same_back() -> None:
    """Heights read over ground that falls 2 cm in a metre to the head, that fall stated: the same topline."""
    level = measure_points(RECORD)
    slope = np.deg2rad(1.15)
    midline = level.points_back[level.station == -1]
    # What a fitter reads on the slope: distances along it and heights square to it.
    s = -(midline[:, 0] * np.cos(slope) - midline[:, 2] * np.sin(slope))
    z = midline[:, 0] * np.sin(slope) + midline[:, 2] * np.cos(slope)
    heights = ToplineHeights(distance_mm=tuple(s.tolist()), height_mm=tuple(z.tolist()))
    stations = tuple(
        replace(st_, distance_mm=float(s[i + 1])) for i, st_ in enumerate(RECORD.readings.stations)
    )
    on_slope = replace(
        RECORD,
        readings=BackReadings(stations=stations, topline=heights),
        stance=Stance(pitch_deg=float(np.rad2deg(slope))),
    )
    again = measure_points(on_slope)
    np.testing.assert_allclose(again.points_back[again.station == -1], midline, atol=1e-9)


def test_conformation_is_not_levelled_away() -> None:
    points = measure_points(RECORD)
    midline = points.points_back[points.station == -1]
    assert midline[-1, 2] - midline[1, 2] == 80.0


@settings(max_examples=15, deadline=None)
@given(
    links=st.lists(st.tuples(st.floats(5.0, 80.0), st.floats(5.0, 80.0)), min_size=1, max_size=9),
    shorter=st.integers(0, 5),
    data=st.data(),
)
def test_any_number_of_links_and_any_two_sides(
    links: list[tuple[float, float]], shorter: int, data: st.DataObject
) -> None:
    """Trading arms and readings mirrors the back exactly, whatever the counts and lengths."""
    scale = Scale(lowest=-90.0, highest=90.0, step=0.5)
    n_right = max(1, len(links) - shorter)
    left = replace(even_arm(len(links), 30.0, scale), link_mm=tuple(one for one, _ in links))
    right = replace(even_arm(n_right, 30.0, scale), link_mm=tuple(other for _, other in links[:n_right]))
    angles = st.integers(-25, 40).map(float)
    stations = [
        StationReadings(
            number=i + 1,
            distance_mm=90.0 * i,
            left=tuple(data.draw(st.lists(angles, min_size=len(links), max_size=len(links)))),
            right=tuple(data.draw(st.lists(angles, min_size=n_right, max_size=n_right))),
        )
        for i in range(3)
    ]
    mirrored = [replace(s, left=s.right, right=s.left) for s in stations]
    one, other = (
        measure_points(
            replace(
                RECORD,
                instrument=JointedChain(name="c", left=arms[0], right=arms[1]),
                readings=BackReadings(stations=tuple(row), topline=HEIGHTS),
            )
        )
        for arms, row in (((left, right), stations), ((right, left), mirrored))
    )
    for station in range(3):
        for side in (1, -1):
            mine = one.points_back[(one.station == station) & (one.side == side)]
            theirs = other.points_back[(other.station == station) & (other.side == -side)]
            np.testing.assert_array_equal(mine, theirs * np.array([1.0, -1.0, 1.0]))
            assert len(mine) == (len(links) if side == 1 else n_right)


def test_the_tilt_of_one_section_turns_that_section_only() -> None:
    tilted = replace(
        RECORD.readings,
        stations=(replace(RECORD.readings.stations[0], tilt_deg=5.0), *RECORD.readings.stations[1:]),
    )
    level, other = measure_points(RECORD), measure_points(replace(RECORD, readings=tilted))
    first = level.station == 0
    np.testing.assert_array_equal(level.points_back[~first], other.points_back[~first])
    cos, sin = np.cos(np.deg2rad(5.0)), np.sin(np.deg2rad(5.0))
    y, z = level.points_back[first, 1:].T
    expected = np.column_stack([y * cos - z * sin, y * sin + z * cos])
    np.testing.assert_allclose(other.points_back[first, 1:], expected, atol=1e-12)
    assert pytest.approx(0.0) == float(other.points_back[first, 0].max())
