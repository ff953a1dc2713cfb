"""Where bone, cartilage, muscle and ribs lie, and how far over the skin."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.shapes import LEFT_SHOULDER, PLAIN
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.tissue import Tissue, TissueBounds, distance_over_skin, tissue_regions

GRID = PLAIN.grid()
RADIUS = PLAIN.surface().radius_mm


def at(region: np.ndarray, s: float, phi_deg: float) -> Tissue:
    i = int(np.argmin(np.abs(GRID.s_mm - s)))
    j = int(np.argmin(np.abs(GRID.phi - np.deg2rad(phi_deg))))
    return Tissue(region[i, j])


def test_distance_over_a_cylinder_is_the_arc() -> None:
    grid = PolarGrid(s0_mm=0.0, ds_mm=10.0, n_s=4, phi0=-1.5, dphi=0.05, n_phi=61, axis_z_mm=-200.0)
    arc = distance_over_skin(grid, np.full((4, 61), 180.0))
    # Chords of 0.05 rad are short of their arc by 1/24 of its square: 1e-4.
    np.testing.assert_allclose(
        arc, np.broadcast_to(180.0 * np.abs(grid.phi), arc.shape), rtol=2e-4, atol=1e-9
    )


@pytest.mark.parametrize(
    ("s", "phi_deg", "expected"),
    [
        (-70.0, 0.0, Tissue.BONY_WITHERS),
        (300.0, 0.0, Tissue.BONY_WITHERS),
        (-100.0, 60.0, Tissue.CARTILAGE),
        (-100.0, -60.0, Tissue.CARTILAGE),
        (150.0, 20.0, Tissue.MUSCLE),
        (400.0, -30.0, Tissue.MUSCLE),
        (250.0, 75.0, Tissue.OVER_RIBS),
        (640.0, 75.0, Tissue.MUSCLE),
    ],
)
def test_regions_lie_where_practice_says(s: float, phi_deg: float, expected: Tissue) -> None:
    assert at(tissue_regions(GRID, RADIUS, PLAIN.landmarks), s, phi_deg) is expected


def test_each_shoulder_ends_at_its_own_edge() -> None:
    marks = replace(LEFT_SHOULDER.landmarks, shoulder_left=Mark(30.0, 5.0), shoulder_right=Mark(-30.0, 5.0))
    region = tissue_regions(GRID, RADIUS, marks)
    assert at(region, 30.0, 45.0) is Tissue.CARTILAGE
    assert at(region, 30.0, -45.0) is not Tissue.CARTILAGE


def test_bare_marks_leave_usual_places() -> None:
    usual = tissue_regions(GRID, RADIUS, Landmarks())
    assert at(usual, -100.0, 60.0) is Tissue.CARTILAGE
    assert at(usual, 640.0, 75.0) is Tissue.OVER_RIBS


def test_bounds_are_the_practices_own() -> None:
    wide = tissue_regions(GRID, RADIUS, PLAIN.landmarks, TissueBounds(muscle_width_mm=220.0))
    assert at(wide, 250.0, 60.0) is Tissue.MUSCLE
    assert set(np.unique(wide)) <= {int(t) for t in Tissue}
