"""Sampling a surface of two parameters: against flat plates, a cylinder and a sphere in closed form."""

import numpy as np
import pytest

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.bearing import Support, bearing_surface
from saddlebench.engine.saddle.patch import distance_to_line, raised, rows_and_columns, sample

RADIUS, LENGTH, SWEEP = 180.0, 400.0, 0.6


def plate(t: FloatArray, v: FloatArray) -> FloatArray:
    return np.stack([-400.0 * t, 40.0 + 100.0 * v * np.cos(0.5), -100.0 * v * np.sin(0.5)], axis=1)


def cylinder(t: FloatArray, v: FloatArray) -> FloatArray:
    angle = 0.2 + SWEEP * v
    return np.stack([-LENGTH * t, RADIUS * np.sin(angle), RADIUS * np.cos(angle)], axis=1)


def barrel(t: FloatArray, v: FloatArray) -> FloatArray:
    """A zone of a sphere: curved both ways."""
    polar, turn = 0.9 + 1.2 * t, 0.2 + 0.7 * v
    return RADIUS * np.stack(
        [np.cos(polar), np.sin(polar) * np.sin(turn), np.sin(polar) * np.cos(turn)], axis=1
    )


def test_a_flat_plate_has_its_area_normal_and_edges() -> None:
    got = sample(plate, 40, 10)
    assert got.area_mm2.sum() == pytest.approx(400.0 * 100.0, rel=1e-10)
    # Differences over 1e-5 of 400 mm keep some ten digits.
    np.testing.assert_allclose(
        got.normals_saddle, np.tile([0.0, -np.sin(0.5), -np.cos(0.5)], (400, 1)), atol=1e-9
    )
    along, across = 400.0 * (got.row + 0.5) / 40, 100.0 * got.across
    np.testing.assert_allclose(got.outer_edge_mm, 100.0 - across, atol=1e-9)
    np.testing.assert_allclose(
        got.edge_mm, np.minimum.reduce([along, 400.0 - along, across, 100.0 - across]), atol=1e-9
    )


@pytest.mark.parametrize(("rows", "columns"), [(5, 3), (25, 6), (60, 16)])
def test_a_cylinder_has_its_area_and_normals_on_any_grid(rows: int, columns: int) -> None:
    got = sample(cylinder, rows, columns)
    assert got.area_mm2.sum() == pytest.approx(LENGTH * RADIUS * SWEEP, rel=1e-9)
    inward = -got.points_saddle * np.array([0.0, 1.0, 1.0]) / RADIUS
    np.testing.assert_allclose(got.normals_saddle, inward, atol=1e-8)
    # The straight way to the outer edge is shorter than the arc by d³/24R²: 0.8 mm at 85 mm.
    arc = RADIUS * SWEEP * (1.0 - got.across)
    np.testing.assert_allclose(got.outer_edge_mm, 2 * RADIUS * np.sin(arc / (2 * RADIUS)), atol=1e-3)


def test_area_of_a_sphere_converges_with_the_fourth_order() -> None:
    exact = RADIUS**2 * 0.7 * (np.cos(0.9) - np.cos(2.1))
    errors = [abs(sample(barrel, n, n).area_mm2.sum() - exact) for n in (2, 4, 8)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    # 2 × 2 Gauss points integrate cubics exactly: order 4, up to what differences over 1e-5 leave.
    assert np.all(np.abs(orders - 4.0) < 0.2), orders


def test_a_raised_cylinder_is_the_cylinder_of_the_smaller_radius() -> None:
    got = sample(raised(cylinder, lambda behind, _: np.full_like(behind, 7.0)), 20, 8)
    # Outward is towards the horse, here towards the axis.
    np.testing.assert_allclose(np.hypot(*got.points_saddle.T[1:]), RADIUS - 7.0, atol=1e-8)
    assert got.area_mm2.sum() == pytest.approx(LENGTH * (RADIUS - 7.0) * SWEEP, rel=1e-6)


def test_cells_are_nearly_square_and_about_as_many_as_asked() -> None:
    for wanted in (250, 500, 1000, 2000, 4000):
        rows, columns = rows_and_columns(plate, wanted)
        assert abs(2 * rows * columns - wanted) <= columns
        assert 0.6 < (400.0 / rows) / (100.0 / columns) < 1.6


def test_one_patch_for_both_sides_gives_exact_mirror_images() -> None:
    held = Support(length_mm=400.0)
    got = bearing_surface(cylinder, cylinder, 500, (held, held))
    left, right = got.side == 1, got.side == -1
    mirror = np.array([1.0, -1.0, 1.0])
    for field in ("points_saddle", "normals_saddle"):
        values = getattr(got, field)
        np.testing.assert_array_equal(values[left], values[right] * mirror)
    for field in ("area_mm2", "row", "column", "zone", "edge_mm", "outer_edge_mm", "firmness"):
        values = getattr(got, field)
        np.testing.assert_array_equal(values[left], values[right])


def test_distance_to_a_line_is_to_its_segments_not_to_its_corners() -> None:
    line = np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [20.0, 0.0, 0.0]])
    points = np.array([[4.0, 3.0, 0.0], [25.0, 0.0, 12.0], [-3.0, 4.0, 0.0]])
    np.testing.assert_allclose(distance_to_line(points, line), [3.0, 13.0, 5.0])
