"""Angles and proportions in pictures made by OpenCV's own pinhole projection, not by ours.

The reference is `cv2.projectPoints` (OpenCV 4, calib3d: the pinhole model without distortion). Places are
then moved as a hand moves them. The stated errors are held against what truly came out: at one standard
deviation by their spread, and no try beyond four.
"""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from saddlebench.exchange.tracings.angles import Known, PhotoAngle, angle_on_photo
from saddlebench.exchange.tracings.by_hand import proportion_of

SIZE = (1632, 1224)
LONG = 1632
TRIES = 40


def seen(
    places: list[tuple[float, float]], turns_deg: tuple[float, float, float], focal: float, away_mm: float
) -> NDArray[np.float64]:
    """Return places of a plane [mm; right, up] in a picture [px], the camera rolled, pitched, yawed."""
    solid = np.array([(x, -y, 0.0) for x, y in places])
    roll, pitch, yaw = (
        cv2.Rodrigues(np.radians(axis))[0]
        for axis in ([0.0, 0.0, turns_deg[0]], [turns_deg[1], 0.0, 0.0], [0.0, turns_deg[2], 0.0])
    )
    inner = np.array([[focal, 0.0, 0.5 * SIZE[0]], [0.0, focal, 0.5 * SIZE[1]], [0.0, 0.0, 1.0]])
    at, _ = cv2.projectPoints(
        solid, cv2.Rodrigues(roll @ pitch @ yaw)[0], np.array([0.0, 0.0, away_mm]), inner, None
    )
    return np.asarray(at[:, 0], dtype=float)


def measured(how: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far angles came out wrong, and what was stated, (tries,) float each [°]."""
    rng = np.random.default_rng(7)
    off, stated = [], []
    for _ in range(TRIES):
        turns = (float(rng.normal(0, 1)), *(rng.normal(0, 8, 2).tolist()))
        focal = 0.8 * LONG * float(np.exp(rng.normal(0, 0.2)))
        away = 4000.0 * focal / (0.8 * LONG)
        true, half = float(rng.uniform(-80, 80)), float(rng.uniform(100, 350))
        middle = rng.uniform(-400, 400, 2)
        way = half * np.array([np.cos(np.radians(true)), np.sin(np.radians(true))])

        def clicked(
            *places: tuple[float, float],
            turns: tuple[float, float, float] = turns,
            focal: float = focal,
            away: float = away,
        ) -> NDArray[np.float64]:
            at = seen(list(places), turns, focal, away)
            return at + rng.normal(0, 3, at.shape)

        line = clicked(tuple(middle - way), tuple(middle + way))
        level, upright = clicked((-900, -800), (900, -800)), clicked((1000, -750), (1000, 500))
        known = {
            "held": Known(),
            "level": Known(level=level),
            "calibrated": Known(level=level, level_mm=1800, upright=upright, upright_mm=1250),
        }[how]
        found: PhotoAngle = angle_on_photo(line, known, size_px=SIZE)
        off.append((found.deg - true + 90) % 180 - 90)
        stated.append(found.sd_deg)
    return np.array(off), np.array(stated)


@pytest.mark.parametrize("how", ["held", "level", "calibrated"])
def test_stated_errors_of_angles_are_those_that_come_out(how: str) -> None:
    off, stated = measured(how)
    assert 0.7 <= float(np.std(off / stated)) <= 1.3
    assert float(np.abs(off / stated).max()) < 4.0


def test_a_calibrated_photo_tells_more_than_a_level_line() -> None:
    _, by_level = measured("level")
    _, calibrated = measured("calibrated")
    assert np.median(calibrated) < 0.85 * np.median(by_level)


def test_a_rectangles_proportion_comes_from_its_corners_as_surely_as_stated() -> None:
    rng = np.random.default_rng(3)
    off = []
    for k in range(TRIES):
        width, height = ((420.0, 297.0), (279.4, 215.9), (297.0, 420.0), (500.0, 300.0))[k % 4]
        half = 0.5 * np.array([width, height])
        corners = [tuple(half * one) for one in ((-1, 1), (1, 1), (1, -1), (-1, -1))]
        turns = (float(rng.uniform(-25, 25)), *(rng.uniform(-25, 25, 2).tolist()))
        focal = 0.8 * LONG * float(np.exp(rng.normal(0, 0.15)))
        at = seen(corners, turns, focal, 1.25 * focal * max(width, height * 4 / 3) / LONG)
        proportion, sd = proportion_of(at + rng.normal(0, 2, (4, 2)), 2.0, SIZE)
        assert sd < 0.06
        off.append(np.log(proportion * height / width) / sd)
    assert 0.7 <= float(np.std(off)) <= 1.3
    assert float(np.abs(off).max()) < 4.0
