"""The closest point of a back against brute force, and against bodies whose distance is known in closed form.

Curvature of a distance function: the Hessian's eigenvalues on a surface at distance d are κ/(1 + κd) for the
principal curvatures κ (D. Gilbarg & N. Trudinger, Elliptic Partial Differential Equations of Second Order,
2nd ed. (1983), lemma 14.17). A sphere and a circular cylinder give it at once.
"""

import numpy as np
import pytest

from saddlebench.demo.shapes import A_SHAPED, GUTTERED_NATIVE, SWAY, BackShape
from saddlebench.engine.back.distance import closest_points
from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.frames import FloatArray

GRID = PolarGrid(s0_mm=-120.0, ds_mm=5.0, n_s=49, phi0=-1.2, dphi=0.03, n_phi=81, axis_z_mm=-200.0)


def points_near(spline: PolarSpline, n: int, s: tuple[float, float], reach: float) -> FloatArray:
    rng = np.random.default_rng(8)
    at_s, phi = rng.uniform(*s, n), rng.uniform(-reach, reach, n)
    radius = spline.radius(at_s, phi)[:, 0] + rng.uniform(-12.0, 60.0, n)
    return spline.grid.cartesian(at_s, phi, radius)


def test_a_cylinder_has_its_own_distance_and_curvature() -> None:
    spline = PolarSpline.through(GRID, np.full((GRID.n_s, GRID.n_phi), 150.0))
    points = points_near(spline, 200, (-90.0, 90.0), 1.0)
    got = closest_points(spline, points)
    _, phi, r = GRID.polar(points)
    # A constant is reproduced exactly: only Newton's stopping rule (1e-9 of the radius) is left.
    np.testing.assert_allclose(got.distance_mm, r - 150.0, atol=1e-9)
    around = np.stack([np.zeros_like(phi), np.cos(phi), -np.sin(phi)], axis=1)
    expected = around[:, :, None] * around[:, None, :] / r[:, None, None]
    np.testing.assert_allclose(got.curvature, expected, atol=1e-11)


def test_a_sphere_has_its_own_distance_and_curvature() -> None:
    radius = np.sqrt(400.0**2 - GRID.s_mm[:, None] ** 2) + 0.0 * GRID.phi
    spline = PolarSpline.through(GRID, radius)
    points = points_near(spline, 200, (-60.0, 60.0), 0.9)
    got = closest_points(spline, points)
    out = points - np.array([0.0, 0.0, GRID.axis_z_mm])
    length = np.linalg.norm(out, axis=1)
    # The spline through the sphere errs by about h⁴/384 of a fourth derivative of 1e-7: well under 1e-6 mm.
    np.testing.assert_allclose(got.distance_mm, length - 400.0, atol=1e-5)
    normal = out / length[:, None]
    # Its slope and curvature err by one and two orders more.
    np.testing.assert_allclose(got.normal, normal, atol=1e-6)
    expected = (np.eye(3) - normal[:, :, None] * normal[:, None, :]) / length[:, None, None]
    np.testing.assert_allclose(got.curvature, expected, atol=1e-6)


@pytest.mark.parametrize("shape", [A_SHAPED, GUTTERED_NATIVE, SWAY], ids=lambda shape: shape.name)
def test_no_point_of_the_surface_is_closer(shape: BackShape) -> None:
    spline = shape.surface().spline
    points = points_near(spline, 25, (-150.0, 550.0), 1.4)
    got = closest_points(spline, points)
    s, phi = np.meshgrid(
        np.linspace(-220.0, 640.0, 216) * shape.scale, np.linspace(-1.9, 1.9, 191), indexing="ij"
    )
    surface = spline.grid.cartesian(s.ravel(), phi.ravel(), spline.radius(s.ravel(), phi.ravel())[:, 0])
    for point, distance in zip(points, got.distance_mm, strict=True):
        start = int(np.argmin(((surface - point) ** 2).sum(axis=1)))
        # Every place of ever finer grids about the closest one: slow, blind to derivatives, hard to fool.
        at, window = np.array([s.ravel()[start], phi.ravel()[start]]), np.array([8.0, 0.04])
        closest = np.inf
        while window[0] > 1e-5:
            offsets = np.stack(np.meshgrid(*[np.linspace(-1.0, 1.0, 25)] * 2), axis=-1).reshape(-1, 2)
            tried = at + window * offsets
            on = spline.grid.cartesian(*tried.T, spline.radius(*tried.T)[:, 0])
            lengths = np.linalg.norm(on - point, axis=1)
            best = int(np.argmin(lengths))
            at, closest, window = tried[best], float(lengths[best]), window * 0.4
        # Places to 1e-5/12 mm, where the distance is flat: 1e-12 mm; the surface is evaluated to 1e-12 too.
        assert abs(distance) == pytest.approx(closest, abs=1e-8)


def test_normal_and_curvature_are_the_derivatives_of_the_distance() -> None:
    spline = A_SHAPED.surface().spline
    points = points_near(spline, 40, (-150.0, 550.0), 1.3)
    got = closest_points(spline, points)
    step = 1e-3
    for axis in range(3):
        move = step * np.eye(3)[axis]
        ahead, behind = closest_points(spline, points + move), closest_points(spline, points - move)
        # Central differences over 1 µm: 1e-7 of a third derivative below 0.1, and 1e-9/1e-3 of rounding.
        slope = (ahead.distance_mm - behind.distance_mm) / (2 * step)
        np.testing.assert_allclose(got.normal[:, axis], slope, atol=1e-5)
        turn = (ahead.normal - behind.normal) / (2 * step)
        np.testing.assert_allclose(got.curvature[:, :, axis], turn, atol=3e-5)


def test_the_sign_is_positive_outside() -> None:
    spline = SWAY.surface().spline
    out, on, under = (
        closest_points(spline, np.array([[-250.0, 40.0, z]])).distance_mm[0] for z in (40.0, -130.0, -180.0)
    )
    assert out > 100.0
    assert out > on > under
    assert under < 0.0


def test_a_foot_beyond_the_grid_is_said_to_be() -> None:
    spline = SWAY.surface().spline
    got = closest_points(spline, np.array([[-250.0, 0.0, 0.0], [-900.0, 0.0, 0.0], [-250.0, 0.0, 30.0]]))
    assert got.inside_grid.tolist() == [True, False, True]
