"""Where a pen line forks: it is kept only as far as the way it took is clearly the straighter one."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.tracings.flatten import Darkness, FlatSheet
from saddlebench.exchange.tracings.traced import DARK, STEP_MM, TracedCurveOnSheet, sampled

FAN = np.radians(np.arange(-40.0, 40.1, 2.0))
"""Headings that are looked along, against the one in which the line goes on."""
NEAR_MM, FAR_MM = 3.0, 16.0
"""From a place on the line, where two strokes are one no more, as far as a line is straight enough."""
INK, WHITE = 0.9, 0.75
"""Share of a look that is ink where a line goes on there; less than that lies between two lines."""
CLEAR_TURN = np.radians(8.0)
"""By so much straighter the way that was taken has to be."""
CHORD_MM = 15.0
MERGED_MM = 8.0
"""Before a fork, where two strokes pull at each other's middle."""
SKIPPED_MM = 3.0
LOOKED_EVERY_MM = 1.0
BESIDE_MM = 25.0
"""About the midline nothing is cut: a back may be sharp there, and a mark stand across it."""


def cut_at_forks(
    flat: FlatSheet, dark: Darkness, curve: TracedCurveOnSheet
) -> tuple[TracedCurveOnSheet, bool]:
    """Return a line up to its forks on either side of the midline, and whether it has any.

    Parameters
    ----------
    dark : (h, w) float32, of every dot of the flat sheet, with every line on it
    """
    middle = int(np.abs(curve.points[:, 0]).argmin())
    left = _kept(flat, dark, curve.points[middle::-1])
    right = _kept(flat, dark, curve.points[middle:])
    first, last = middle - left + 1, middle + right
    if first == 0 and last == len(curve.points):
        return curve, False
    return replace(curve, points=curve.points[first:last], seen=curve.seen[first:last]), True


def _kept(flat: FlatSheet, dark: Darkness, arm: FloatArray) -> int:
    """Return how many points of an arm (n, 2) float, sheet's frame [mm], from the midline on, are sure."""
    chord, merged = round(CHORD_MM / STEP_MM), round(MERGED_MM / STEP_MM)
    skip = round(SKIPPED_MM / STEP_MM)
    at = np.arange(2 * chord + merged, len(arm) - skip - 1, round(LOOKED_EVERY_MM / STEP_MM))
    at = at[np.abs(arm[at, 0]) > BESIDE_MM] if len(at) else at
    if len(at) == 0:
        return len(arm)
    ahead = np.minimum(at + round(FAR_MM / STEP_MM), len(arm) - 1)
    came = _heading(arm[at - merged] - arm[at - merged - chord])
    before = _heading(arm[at - merged - chord] - arm[at - merged - 2 * chord])
    goes = _heading(arm[ahead] - arm[at])
    # A line that bends is expected to go on bending.
    expected = came + np.clip(_turned(came - before), -CLEAR_TURN, CLEAR_TURN)
    ink = _looked(flat, dark, arm[at], goes)
    for k in range(len(at)):
        own = abs(float(_turned(goes[k] - expected[k])))
        others = [abs(float(_turned(goes[k] + turn - expected[k]))) for turn in _others(ink[k])]
        if any(own + CLEAR_TURN > other for other in others):
            return int(at[k]) - skip
    return len(arm)


def _looked(flat: FlatSheet, dark: Darkness, places: FloatArray, heading: FloatArray) -> FloatArray:
    """Return the share of ink along every look from places (n, 2) float [mm], (n, looks) float."""
    far = np.arange(NEAR_MM, FAR_MM + 0.01, STEP_MM)
    angle = heading[:, None] + FAN
    along = np.stack([np.cos(angle), np.sin(angle)], axis=2)
    at = places[:, None, None, :] + far[:, None] * along[:, :, None, :]
    return np.asarray(
        (sampled(flat, dark, at.reshape(len(places), -1, 2)) > DARK)
        .reshape(len(places), len(FAN), len(far))
        .mean(axis=2),
        dtype=float,
    )


def _others(ink: FloatArray) -> list[float]:
    """Return the headings of lines besides the one looked along, against it [rad]."""
    own = int(np.abs(FAN).argmin())
    is_line: NDArray[np.bool_] = ink >= INK
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_line.astype(int), [0]]))).reshape(-1, 2)
    found = []
    for first, last in edges.tolist():
        best = first + int(ink[first:last].argmax())
        between = ink[min(best, own) : max(best, own) + 1]
        if between.min(initial=1.0) < WHITE:
            found.append(float(FAN[best]))
    return found


def _heading(ways: FloatArray) -> FloatArray:
    return np.asarray(np.arctan2(ways[:, 1], ways[:, 0]), dtype=float)


def _turned(angle: FloatArray) -> FloatArray:
    return np.asarray((angle + np.pi) % (2.0 * np.pi) - np.pi, dtype=float)
