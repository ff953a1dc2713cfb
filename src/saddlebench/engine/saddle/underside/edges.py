"""Where a panel ends: the place at which its face turns into a wall, without noise moving it.

At the edge the face's points end and the wall's begin. Where the wall was scanned, it says where it stands.
Elsewhere points are counted: noise throws points of both over the edge, and the face's up to a line beyond,
less those that the wall throws among them, say how far it reaches, if they lie as densely there as inside.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.underside.face_fit import FaceFit
from saddlebench.engine.saddle.underside.walls import wall_at

WINDOW_MM = 9.0
EVERY_MM = 6.0
_BIN_MM = 2.5
_GOOD_MM = 10.0
_HOLE_MM = 45.0
_FURTHEST_MM = 170.0
_COUNT_BACK_MM, _DENSITY_FROM_MM = 10.0, 34.0
_ABOVE = 1.5
# Of a standard normal law n: E[max(0, n + 3/2)].
_OVERSHOOT = 1.5293
# E[n | n > −3/2].
_MEAN_ABOVE = 0.1388
_TREND_FROM_MM, _TREND_TO_MM = 44.0, 5.0
_STEEPEST = 0.05
_DEEP_MM = 10.0
_FEWEST = 12
_DEEP_COUNTS = 2.5
_BEGINNINGS = 11
_AGREED_MM = 5.0
_STRIP_MM = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One edge along the panel, or across it."""

    at_mm: FloatArray
    """(k,) float, saddle frame [mm]: where the edge is, NaN where it cannot be told."""
    is_seen: NDArray[np.bool_]
    """(k,): whether what lies beyond was scanned as well, so that it is an edge and no hole."""


def edge_from(
    place: FloatArray, out: FloatArray, noise_mm: float, furthest_mm: float = _FURTHEST_MM
) -> tuple[float, bool]:
    """Return how far the face reaches in one direction [mm], and whether its end was seen.

    Parameters
    ----------
    place : (n,) float, saddle frame [mm]: how far out points lie; 0 is well inside the face
    out : (n,) float, saddle frame [mm]: distance from the smooth face, towards the horse
    noise_mm : standard deviation of points on the face
    """
    inside = (place >= -_DENSITY_FROM_MM) & (place < furthest_mm)
    place, out = place[inside], out[inside]
    good = np.abs(out) < _GOOD_MM
    if good.sum() < _FEWEST:
        return np.nan, False
    bins = np.arange(0.0, furthest_mm + _BIN_MM, _BIN_MM)
    n_good, _ = np.histogram(place[good], bins)
    n_deep, _ = np.histogram(place[out < -_GOOD_MM], bins)
    typical = float(np.median(n_good[n_good > 0])) if (n_good > 0).any() else 0.0
    is_face = n_good >= max(1.0, 0.35 * typical)
    last, gap = -1, 0.0
    for k in range(len(is_face)):
        if is_face[k]:
            last, gap = k, 0.0
        else:
            # Nothing there at all may be a hole in the face; something deeper is its end.
            gap += _BIN_MM * (_DEEP_COUNTS if n_deep[k] > 1 else 1.0)
            if gap > _HOLE_MM:
                break
    if last < 0:
        return np.nan, False
    rough = float(bins[last + 1])
    beyond = (place > rough - 4.0) & (place < rough + 6.0)
    seen = int((out[beyond] < -_GOOD_MM).sum()) >= 3
    return _counted(place, out, noise_mm, rough), seen


def _counted(place: FloatArray, out: FloatArray, noise: float, rough: float) -> float:
    start = rough - _COUNT_BACK_MM
    before = (place > start - (_DENSITY_FROM_MM - _COUNT_BACK_MM)) & (place <= start)
    level = out - _trend(place - rough, out, noise)
    counts = (level < 3.0 * noise + 3.0) & (level > -_ABOVE * noise)
    density = float((before & counts).sum()) / (_DENSITY_FROM_MM - _COUNT_BACK_MM)
    if density <= 0.0:
        return rough
    here = (place > start) & (place < rough + _COUNT_BACK_MM)
    from_deep = 3.0 * noise + 1.0
    wall = float((here & (level < -from_deep) & (level > -from_deep - _DEEP_MM)).sum()) / _DEEP_MM
    counted = (float((here & counts).sum()) - _OVERSHOOT * noise * wall) / density
    return start + float(np.clip(counted, 0.0, 2.0 * _COUNT_BACK_MM))


def _trend(from_edge: FloatArray, out: FloatArray, noise: float) -> FloatArray:
    """Return how far the true face runs beside the smooth one, (n,) float, saddle frame [mm].

    Towards an end the smooth face swings away by some tenths of a millimetre, and the more of the face's
    points would not be counted: a line through what lies just inside says by how much.
    """
    inside = (from_edge > -_TREND_FROM_MM) & (from_edge < -_TREND_TO_MM)
    x, y = from_edge[inside], out[inside]
    close = np.abs(y) < 3.0 * noise + 2.5
    if close.sum() < _FEWEST:
        return np.zeros(len(out))
    weight = close.astype(float)
    slope, level = 0.0, 0.0
    for _ in range(3):
        total = weight.sum()
        mean_x, mean_y = float(weight @ x) / total, float(weight @ y) / total
        # Held towards level, as by readings of the slope that are this steep at random.
        hold = (noise / _STEEPEST) ** 2
        slope = float(weight @ ((x - mean_x) * (y - mean_y)) / (weight @ (x - mean_x) ** 2 + hold))
        level = mean_y - slope * mean_x
        left = (y - level - slope * x) / (3.0 * noise + 0.5)
        weight = np.maximum(1e-9, np.maximum(0.0, 1.0 - left**2) ** 2)
    return level + slope * np.clip(from_edge, -_TREND_FROM_MM, _COUNT_BACK_MM)


def across(fit: FaceFit, places: FloatArray, middle: FloatArray) -> tuple[Edge, Edge]:
    """Return inner and outer edge at places (k,) behind the front edge, from the middle (k,) of the face.

    Parameters
    ----------
    fit : one panel
    places : (k,) float, saddle frame, behind the front edge [mm]
    middle : (k,) float, saddle frame, outwards [mm]: somewhere well inside the face
    """
    found = np.full((2, len(places)), np.nan)
    seen = np.zeros((2, len(places)), bool)
    # The points that count are those thrown towards the horse; on a slope they are thrown inwards too.
    within = np.clip(places, *fit.span[:2])
    aside = _MEAN_ABOVE * fit.noise_mm * np.sqrt(1.0 - fit.lean(within, middle) ** 2)
    for k, (place, start) in enumerate(zip(places, middle, strict=True)):
        first, last = np.searchsorted(fit.s, [place - WINDOW_MM, place + WINDOW_MM])
        along, y, out = fit.s[first:last] - place, fit.y[first:last], fit.out[first:last]
        for row, sign in enumerate((-1.0, 1.0)):
            reach, seen[row, k] = edge_from(sign * (y - start), out, fit.noise_mm)
            wall = wall_at(sign * (y - start), along, out, fit.noise_mm, reach)
            found[row, k] = start + (
                sign * reach + aside[k] if isinstance(wall, NotMeasured) else sign * wall
            )
    return Edge(at_mm=found[0], is_seen=seen[0]), Edge(at_mm=found[1], is_seen=seen[1])


def ends(fit: FaceFit, middle_s: float, middle_y: FloatArray, places: FloatArray) -> tuple[float, float]:
    """Return where the face begins and ends behind the front edge [mm], along the middle of its width.

    Parameters
    ----------
    fit : one panel
    middle_s : half its length, about [mm]
    middle_y : (k,) float, saddle frame [mm]: middle of its width at places (k,) float [mm]
    """
    beside = fit.y - np.interp(fit.s, places, middle_y)
    strip = np.abs(beside) < _STRIP_MM
    s, out, along = fit.s[strip], fit.out[strip], beside[strip]
    found = []
    for sign in (-1.0, 1.0):
        # From many beginnings: one may lie in a hole, or before one through which something deeper is seen.
        begins = middle_s * np.linspace(0.3, 1.7, _BEGINNINGS)
        reaches = [edge_from(sign * (s - at), out, fit.noise_mm, furthest_mm=450.0)[0] for at in begins]
        known = np.isfinite(reaches)
        told = np.sort(sign * begins[known] + np.array(reaches)[known])[::-1]
        # A hole stops short: the end is the furthest place on which two agree.
        agreed = [far for far in told if (np.abs(told - far) < _AGREED_MM).sum() > 1]
        if not known.any():
            found.append(np.nan)
            continue
        rough = float(agreed[0] if agreed else told[0])
        wall = wall_at(sign * s, along, out, fit.noise_mm, rough)
        found.append(sign * (rough if isinstance(wall, NotMeasured) else wall))
    return found[0], found[1]


def smoothed(
    places: FloatArray,
    edge: Edge,
    width_mm: float,
    *,
    at: FloatArray | None = None,
    ends_mm: tuple[float, float] = (-np.inf, np.inf),
) -> tuple[FloatArray, float]:
    """Return a smooth edge (k,) float, saddle frame [mm], and the standard deviation of one reading of it.

    Local lines with tricube and biweight weights (Cleveland 1979). Where too few places were seen to end,
    all count.

    Parameters
    ----------
    places : (k,) float, saddle frame, behind the front edge [mm]
    edge : as found at these places
    width_mm : half width of the local lines
    at : places at which it is wanted; None: the same ones
    ends_mm : where the panel begins and ends: towards its rounded corners the lines get shorter
    """
    known = np.isfinite(edge.at_mm)
    use = known & edge.is_seen if (known & edge.is_seen).sum() >= 0.5 * known.sum() else known
    wanted = places if at is None else at
    if use.sum() < 4:
        return np.full(len(wanted), np.nan), np.nan
    x, y = places[use], edge.at_mm[use]
    robust = np.ones(len(x))
    spread = 1.0
    for _ in range(4):
        line = _local(x, y, robust, x, width_mm, ends_mm)
        left = y - line
        spread = max(0.2, 1.4826 * float(np.median(np.abs(left))))
        robust = np.maximum(0.0, 1.0 - (left / (4.0 * spread)) ** 2) ** 2
    return _local(x, y, robust, wanted, width_mm, ends_mm), spread


def _local(
    x: FloatArray,
    y: FloatArray,
    robust: FloatArray,
    at: FloatArray,
    width_mm: float,
    ends_mm: tuple[float, float],
) -> FloatArray:
    width = np.clip(0.5 * np.minimum(at - ends_mm[0], ends_mm[1] - at), 10.0, width_mm)
    apart = x[None, :] - at[:, None]
    # At least the five nearest count: an edge may be unseen for a while.
    reach = np.maximum(width, np.sort(np.abs(apart), axis=1)[:, min(5, len(x) - 1)] * 1.05)
    weight = np.maximum(0.0, 1.0 - (np.abs(apart) / reach[:, None]) ** 3) ** 3 * robust + 1e-12
    total = weight.sum(axis=1)
    mean_x, mean_y = (weight * apart).sum(axis=1) / total, (weight * y).sum(axis=1) / total
    dx = apart - mean_x[:, None]
    # Held towards level, so that a line does not run away from where edges are known; less at the corners.
    hold = np.where(width < width_mm, 0.002, 0.02) * total * reach**2
    slope = (weight * dx * y).sum(axis=1) / ((weight * dx**2).sum(axis=1) + hold)
    return np.clip(mean_y - slope * mean_x, y.min(), y.max())
