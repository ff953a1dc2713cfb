"""Edges of panels on faces whose extent is known in closed form."""

import numpy as np
import pytest

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT
from saddlebench.engine.saddle.underside.bulges import without_bulges
from saddlebench.engine.saddle.underside.edges import Edge, edge_from, ends
from saddlebench.engine.saddle.underside.face_fit import FaceFit

LENGTH_MM, NOISE_MM = 430.0, 1.0
END_MM = 2.0
"""Half of the ± 4 mm that are told of the length, for either end."""
PLACES = np.arange(-42.0, 473.0, 6.0)


def level_face(swing_mm: float = 0.0, hole: tuple[float, float] | None = None) -> FaceFit:
    """Return a strip from 0 to 430 mm with walls at its ends: 0.4 points a square millimetre, 1 mm of noise.

    Its last 30 mm fall away from the smooth face by `swing_mm`; through a hole a face 28 mm deeper is seen.
    """
    random = np.random.default_rng(5)
    count = int(0.4 * 24.0 * LENGTH_MM)
    s = random.uniform(0.0, LENGTH_MM, count)
    out = -swing_mm * np.clip((s - LENGTH_MM + 30.0) / 30.0, 0.0, None)
    if hole is not None:
        out[(s > hole[0]) & (s < hole[1])] = -28.0
    deep = random.uniform(0.0, 26.0, (2, int(0.4 * 24.0 * 26.0)))
    s = np.concatenate([s, np.zeros(deep.shape[1]), np.full(deep.shape[1], LENGTH_MM)])
    out = np.concatenate([out, -deep[0], -deep[1]])
    s, out = s + random.normal(0.0, NOISE_MM, len(s)), out + random.normal(0.0, NOISE_MM, len(s))
    order = np.argsort(s)
    return FaceFit(
        side=LEFT,
        span=(0.0, LENGTH_MM, 50.0, 150.0),
        coefficients=np.zeros((7, 3)),
        s=s[order],
        y=np.full(len(s), 100.0),
        out=out[order],
        noise_mm=NOISE_MM,
    )


def found_ends(fit: FaceFit) -> tuple[float, float]:
    return ends(fit, 0.5 * LENGTH_MM, np.full(len(PLACES), 100.0), PLACES)


def test_ends_of_a_level_face() -> None:
    assert found_ends(level_face()) == pytest.approx((0.0, LENGTH_MM), abs=END_MM)


@pytest.mark.parametrize("swing_mm", [-1.0, 1.0])
def test_a_face_that_swings_away_from_the_smooth_one_is_not_told_shorter(swing_mm: float) -> None:
    assert found_ends(level_face(swing_mm)) == pytest.approx((0.0, LENGTH_MM), abs=END_MM)


def test_a_hole_through_which_something_deeper_is_seen_is_no_end() -> None:
    assert found_ends(level_face(hole=(130.0, 170.0))) == pytest.approx((0.0, LENGTH_MM), abs=END_MM)


def test_an_edge_without_points_is_not_told() -> None:
    reach, is_seen = edge_from(np.zeros(0), np.zeros(0), NOISE_MM)
    assert np.isnan(reach)
    assert not is_seen


def outline() -> FloatArray:
    """Return an outer edge like a panel's, with rounded ends and a millimetre of noise."""
    t = PLACES / LENGTH_MM
    waist = 120.0 + 80.0 * (t - 0.5) ** 2
    corner = 0.02 * np.maximum(0.0, 30.0 - np.minimum(PLACES, LENGTH_MM - PLACES)) ** 2
    edge = waist - corner + np.random.default_rng(1).normal(0.0, 1.0, len(PLACES))
    return np.where((PLACES >= 0.0) & (PLACES <= LENGTH_MM), edge, np.nan)


def looked_at(at_mm: FloatArray, *, is_outer: bool = True) -> tuple[Edge, list[tuple[float, float, float]]]:
    edge = Edge(at_mm=at_mm, is_seen=np.isfinite(at_mm))
    left, found = without_bulges(PLACES, edge, (0.0, LENGTH_MM), LEFT, is_outer=is_outer)
    return left, [(one.begin_mm, one.end_mm, one.out_mm) for one in found]


def test_a_hand_at_an_edge_is_left_out_and_told() -> None:
    at = outline()
    hand = (PLACES > 260.0) & (PLACES < 314.0)
    left, found = looked_at(at + np.where(hand, 33.0, 0.0))
    assert np.isnan(left.at_mm[hand]).all()
    ((begin, end, out),) = found
    assert (begin, end) == (PLACES[hand][0], PLACES[hand][-1])
    assert out == pytest.approx(33.0, abs=4.0)
    beside = ~hand & (np.abs(PLACES - 287.0) > 40.0)
    assert left.at_mm[beside] == pytest.approx(at[beside], nan_ok=True)


@pytest.mark.parametrize(
    ("first", "last", "by"),
    [(0.0, 0.0, 0.0), (200.0, 240.0, -30.0), (100.0, 330.0, 12.0)],
    ids=["as it is", "a hole", "half the panel wider"],
)
def test_what_is_no_hand_stays(first: float, last: float, by: float) -> None:
    at = outline() + np.where(np.abs(PLACES - 0.5 * (first + last)) < 0.5 * (last - first), by, 0.0)
    left, found = looked_at(at)
    assert found == []
    assert left.at_mm == pytest.approx(at, nan_ok=True)


def test_an_inner_edge_is_looked_at_towards_the_channel() -> None:
    strap = np.where((PLACES > 200.0) & (PLACES < 250.0), -20.0, 0.0)
    _, found = looked_at(np.where(np.isfinite(outline()), 36.0, np.nan) + strap, is_outer=False)
    assert [round(out) for _, _, out in found] == [20]
