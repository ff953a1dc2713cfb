"""Edges by the walls beside them, on a level panel whose outline is known in closed form."""

import numpy as np
import pytest

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT
from saddlebench.engine.saddle.underside.corners import corner_edges
from saddlebench.engine.saddle.underside.edges import across
from saddlebench.engine.saddle.underside.face_fit import FaceFit
from saddlebench.engine.saddle.underside.walls import wall_at

LENGTH_MM, INNER_MM, OUTER_MM = 430.0, 36.0, 136.0
NOISE_MM = 1.0
A_MM2 = 0.25
"""Points a square millimetre: one every 2 mm."""
WALL_MM = 26.0
ROWS = np.linspace(1.5, LENGTH_MM - 1.5, 37)


def outline(radius_mm: float) -> FloatArray:
    """Return a panel's outline with round corners every half millimetre: behind, outwards (n, 2)."""
    middles = [
        (LENGTH_MM - radius_mm, OUTER_MM - radius_mm),
        (radius_mm, OUTER_MM - radius_mm),
        (radius_mm, INNER_MM + radius_mm),
        (LENGTH_MM - radius_mm, INNER_MM + radius_mm),
    ]
    corners = []
    for k, middle in enumerate(middles):
        turn = 0.5 * np.pi * (k + np.linspace(0.0, 1.0, 60))
        corners.append(np.array(middle) + radius_mm * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    line = np.concatenate([*corners, corners[0][:1]])
    gone = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.arange(0.0, gone[-1], 0.5)
    return np.stack([np.interp(at, gone, line[:, k]) for k in range(2)], axis=1)


def panel(radius_mm: float = 22.0, *, hole: tuple[float, float] | None = None, thins: float = 0.0) -> FaceFit:
    """Return a level panel with upright walls; towards its inner edge points lie more densely by `thins`."""
    random = np.random.default_rng(3)
    inside = random.uniform((0.0, INNER_MM), (LENGTH_MM, OUTER_MM), (int(A_MM2 * LENGTH_MM * 100.0), 2))
    share = (inside[:, 1] - INNER_MM) / (OUTER_MM - INNER_MM)
    inside = inside[random.random(len(inside)) < 1.0 - thins * share]
    nearest = np.clip(
        inside,
        (radius_mm, INNER_MM + radius_mm),
        (LENGTH_MM - radius_mm, OUTER_MM - radius_mm),
    )
    inside = inside[np.linalg.norm(inside - nearest, axis=1) <= radius_mm]
    line = outline(radius_mm)
    walls = line[random.integers(0, len(line), int(A_MM2 * 0.5 * len(line) * WALL_MM))]
    places = np.concatenate([inside, walls])
    out = np.concatenate([np.zeros(len(inside)), -random.uniform(0.0, WALL_MM, len(walls))])
    if hole is not None:
        kept = np.linalg.norm(places - hole, axis=1) > 18.0
        places, out = places[kept], out[kept]
    places = places + random.normal(0.0, NOISE_MM, places.shape)
    order = np.argsort(places[:, 0])
    return FaceFit(
        side=LEFT,
        span=(0.0, LENGTH_MM, INNER_MM, OUTER_MM),
        coefficients=np.zeros((7, 3)),
        s=places[order, 0],
        y=places[order, 1],
        out=(out + random.normal(0.0, NOISE_MM, len(out)))[order],
        noise_mm=NOISE_MM,
    )


def true_edges(rows: FloatArray, radius_mm: float) -> tuple[FloatArray, FloatArray]:
    into = np.clip(radius_mm - np.minimum(rows, LENGTH_MM - rows), 0.0, radius_mm)
    by = radius_mm - np.sqrt(radius_mm**2 - into**2)
    return INNER_MM + by, OUTER_MM - by


def test_points_that_lie_more_densely_at_an_edge_do_not_move_it() -> None:
    places = np.arange(60.0, 370.0, 6.0)
    inner, outer = across(panel(thins=0.4), places, np.full(len(places), 86.0))
    assert np.mean(inner.at_mm) == pytest.approx(INNER_MM, abs=0.25)
    assert np.mean(outer.at_mm) == pytest.approx(OUTER_MM, abs=0.25)
    # Each stands on some thirty points of the wall.
    assert np.std(inner.at_mm) < 0.8
    assert np.std(outer.at_mm) < 0.8


@pytest.mark.parametrize(
    ("radius_mm", "hole", "within"),
    [(22.0, None, 1.2), (40.0, None, 1.2), (22.0, (4.0, 44.0), 2.5), (4.0, None, 3.0)],
    ids=["round", "rounder", "a hole in the corner", "almost square"],
)
def test_rows_near_rounded_ends(radius_mm: float, hole: tuple[float, float] | None, within: float) -> None:
    flat = np.full(len(ROWS), INNER_MM), np.full(len(ROWS), OUTER_MM)
    inner, outer = corner_edges(panel(radius_mm, hole=hole), ROWS, *flat, (0.0, LENGTH_MM))
    true_inner, true_outer = true_edges(ROWS, radius_mm)
    # The first and last rows lie where the outline runs along them.
    for found, true in ((inner, true_inner), (outer, true_outer)):
        assert np.abs(found - true)[1:-1].max() < within


def test_an_end_whose_wall_was_not_scanned_stays_as_it_was() -> None:
    fit = panel()
    bare = FaceFit(
        side=fit.side,
        span=fit.span,
        coefficients=fit.coefficients,
        s=fit.s[fit.out > -3.0],
        y=fit.y[fit.out > -3.0],
        out=fit.out[fit.out > -3.0],
        noise_mm=fit.noise_mm,
    )
    flat = np.full(len(ROWS), INNER_MM), np.full(len(ROWS), OUTER_MM)
    inner, outer = corner_edges(bare, ROWS, *flat, (0.0, LENGTH_MM))
    assert (inner == INNER_MM).all()
    assert (outer == OUTER_MM).all()


def wall(lean_deg: float, count: int = 120) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return a wall at 0 that leans outwards: place, along, out."""
    random = np.random.default_rng(8)
    out = -random.uniform(0.0, WALL_MM, count)
    place = -np.tan(np.radians(lean_deg)) * out
    place, out = (one + random.normal(0.0, NOISE_MM, count) for one in (place, out))
    return place, random.uniform(-9.0, 9.0, count), out


@pytest.mark.parametrize("lean_deg", [-25.0, 0.0, 25.0])
def test_a_wall_that_leans_is_followed_to_its_foot(lean_deg: float) -> None:
    assert wall_at(*wall(lean_deg), NOISE_MM, 2.0) == pytest.approx(0.0, abs=1.2)


def test_a_face_that_bends_away_is_no_wall() -> None:
    assert isinstance(wall_at(*wall(65.0), NOISE_MM, 0.0), NotMeasured)


def test_a_few_points_are_no_wall() -> None:
    assert isinstance(wall_at(*wall(0.0, count=12), NOISE_MM, 0.0), NotMeasured)
