"""Pressure, shares, contact and line load against closed forms."""

import numpy as np
import pytest
from simple_pairs import COLUMNS, LENGTH_MM, MARKS, ROWS, STEP_MM, cylinder, plain_saddle, settled

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.loads import State
from saddlebench.engine.fit.measures.batch import Pair, Solutions, pair_of
from saddlebench.engine.fit.measures.cells import row_lengths
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Part, PressureKey, PressureName
from saddlebench.engine.fit.measures.pressure import line_loads, load_columns, weighted_quantile

UP = State.RIDER_UP
PAIR: Pair = pair_of(cylinder(), MARKS, plain_saddle(), ())
X = PAIR.saddle.bearing.points_saddle[:, 0]
ROW, SIDE = PAIR.saddle.bearing.row, PAIR.saddle.bearing.side


def read(pressure, name, part=Part.WHOLE):
    columns = load_columns(PAIR, Solutions.of([settled(PAIR.saddle, pressure_kpa=pressure)]))
    key_type = PressureKey if isinstance(name, PressureName) else MeasureKey
    return float(columns[key_type(name=name, state=UP, part=part)][0])


def test_even_pressure_is_shared_by_area():
    assert read(10.0, MeasureName.LEFT_SHARE) == pytest.approx(0.5, abs=1e-14)
    for part in (Part.FRONT, Part.MIDDLE, Part.REAR):
        assert read(10.0, MeasureName.THIRD_SHARE, part) == pytest.approx(1 / 3)
    assert read(10.0, MeasureName.EDGE_SHARE) == pytest.approx(15.0 / 60.0)
    assert read(10.0, MeasureName.SURFACE_USED) == pytest.approx(1.0)
    assert read(10.0, MeasureName.CONTACT_AREA) == pytest.approx(2 * ROWS * COLUMNS * STEP_MM**2)
    assert read(10.0, MeasureName.PRESSURE_RATIO) == pytest.approx(1.0)


def test_one_side_carries_three_quarters():
    assert read(np.where(SIDE > 0, 15.0, 5.0), MeasureName.LEFT_SHARE) == pytest.approx(0.75)


def test_load_on_one_third_only():
    front = np.where(ROW < 13, 10.0, 0.0)
    assert read(front, MeasureName.THIRD_SHARE, Part.FRONT) == pytest.approx(1.0)
    assert read(front, MeasureName.THIRD_SHARE, Part.REAR) == pytest.approx(0.0)


def test_ends_are_the_points_within_fifty_millimetres():
    triangle = ROW + 1.0
    expected = (36 + 37 + 38 + 39 + 40) / np.sum(np.arange(1, ROWS + 1))
    assert read(triangle, MeasureName.END_SHARE, Part.REAR) == pytest.approx(expected)


def test_linear_pressure_has_its_centre_at_two_thirds():
    columns = load_columns(PAIR, Solutions.of([settled(PAIR.saddle, pressure_kpa=-X / 10.0)]))
    centre = columns[MeasureKey(name=MeasureName.CENTRE_OF_PRESSURE_ALONG, state=UP)][0]
    # exact for the continuum; the lattice's own value is Σx²/Σx
    assert centre == pytest.approx(np.sum(X**2) / -np.sum(X))
    assert centre == pytest.approx(2.0 / 3.0 * LENGTH_MM, rel=1e-3)


def test_contact_needs_more_than_one_kilopascal():
    assert read(np.where(ROW < 10, 0.9, 10.0), MeasureName.SURFACE_USED) == pytest.approx(0.75)
    assert read(np.where(ROW < 10, 0.9, 10.0), PressureName.MEAN) == pytest.approx(10.0)
    assert read(np.where(ROW < 10, 0.9, 10.0), PressureName.PEAK) == pytest.approx(10.0)


def test_mean_and_ratio_of_a_linear_pressure():
    pressure = 10.0 + 10.0 * np.arange(X.size) / (X.size - 1)
    assert read(pressure, PressureName.MEAN) == pytest.approx(15.0)
    # The 99 % point of a uniform distribution between 10 and 20, to one part of the 480 points.
    assert read(pressure, PressureName.P99) == pytest.approx(19.9, abs=10.0 / X.size)


def test_weighted_quantile_heeds_the_weights():
    values = np.array([[3.0, 1.0, 2.0]])
    assert weighted_quantile(values, np.array([[1.0, 98.0, 1.0]]), 0.98)[0] == 1.0
    assert weighted_quantile(values, np.array([[1.0, 98.0, 1.0]]), 0.99)[0] == 2.0
    assert weighted_quantile(values, np.array([[0.0, 0.0, 0.0]]), 0.99)[0] == 0.0


def test_no_load_is_said_not_divided():
    columns = load_columns(PAIR, Solutions.of([settled(PAIR.saddle, pressure_kpa=0.0)]))
    assert isinstance(columns[MeasureKey(name=MeasureName.LEFT_SHARE, state=UP)], Undetermined)


def test_line_load_integrates_to_each_panels_load():
    pressure = np.where(SIDE > 0, 12.0, 6.0)
    left, right = line_loads(PAIR, Solutions.of([settled(PAIR.saddle, pressure_kpa=pressure)]))
    # 12 kPa over 60 mm of width is 0.72 N for each millimetre of length
    np.testing.assert_allclose(left.newton_per_mm, 0.72)
    np.testing.assert_allclose(right.newton_per_mm, 0.36)
    np.testing.assert_allclose(left.s_mm, (np.arange(ROWS) + 0.5) * STEP_MM)


def test_rows_stand_for_the_length_between_midpoints():
    np.testing.assert_allclose(row_lengths(np.array([0.0, -10.0, -30.0])), [10.0, 15.0, 20.0])
