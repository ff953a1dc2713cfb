"""Pen lines on a flat sheet: found as the darkest way across, then set to the middle of the stroke."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter
from scipy.spatial import cKDTree

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.tracings.flatten import Box, Darkness, FlatSheet
from saddlebench.exchange.tracings.traced import DARK, STEP_MM, TracedCurveOnSheet, sampled

CENTRE_BELOW_MM = 200.0
"""Sections are star-shaped about a line some 200 mm below the topline, as the surface takes them."""
LONGEST_GAP_MM = 20.0
"""A line broken for longer ends there."""
SMALL_GAP_MM = 1.5
SHORTEST_MM = 60.0
STROKE_MM = 1.6
"""Half the width over which the middle of a stroke, or of a doubled one, is sought."""
MOST_CURVES = 12
_RAYS_FROM_DEG = 105.0
COLUMN_MM = 2.0
ROW_MM = 0.25
_STEEPEST = 12
"""Of a way, rows for one column: 56°."""
_MOST_TURN = 2
"""Of a way, by how many rows for one column its slope changes at once."""
_TURN_TOLL = 0.5
_BLIND_TOLL = 3.0
"""Over white paper a line goes on as it came: turning there costs so many times more."""
MEETS_MM = 1.2
MEETS_FOR_MM = 15.0
TURN_MM = 8.0
WITHERS_MM = 25.0
"""Beside the midline a back may be as sharp as it likes."""
_GAIN = (-0.7, 0.0, 0.2)
"""Of a way in one column: where nothing is written, where something may be, on a stroke."""
_NEAR_ROWS = 6
_NEVER = np.float32(-1e6)
_BEGINS = 100
_SMOOTH_MM = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Unrolled:
    """The sheet in columns along a line's likely course."""

    dark: Darkness
    """(rows, columns) float32."""
    places: FloatArray
    """(rows, columns, 2) float, sheet's frame [mm]."""


def find_sections(flat: FlatSheet, dark: Darkness, area: Box) -> tuple[TracedCurveOnSheet, ...]:
    """Find curves that cross the midline, from the upper one down.

    Where curves meet, each might go on as the other. The one that turns least is settled first and taken off
    the
    sheet; those that shared its line are followed again on what is left.

    Parameters
    ----------
    dark : (h, w) float32, of every dot of the flat sheet
    area : where curves are drawn: left, low, right, top [mm]
    """
    left = dark.copy()
    heights = _crossings(flat, dark, area)[:MOST_CURVES]
    pending = {height: _from_midline(flat, left, area, height) for height in heights}
    found: dict[float, TracedCurveOnSheet] = {}
    while any(pending.values()):
        height, smoothest = min(
            ((h, one) for h, one in pending.items() if one is not None),
            key=lambda pair: _sharpest_turn(pair[1].points),
        )
        found[height] = smoothest
        del pending[height]
        _rub_out(flat, left, smoothest)
        for other, curve in pending.items():
            if curve is not None and _shares(curve, smoothest):
                pending[other] = _from_midline(flat, left, area, other)
    return tuple(found[height] for height in sorted(found, reverse=True))


def _from_midline(flat: FlatSheet, dark: Darkness, area: Box, height: float) -> TracedCurveOnSheet | None:
    unrolled = _rays(flat, dark, area, height)
    return _traced(flat, dark, unrolled, _row_near(unrolled, np.array([0.0, height])))


def _shares(one: TracedCurveOnSheet, other: TracedCurveOnSheet) -> bool:
    """Tell whether two curves lie on each other for longer than a crossing takes."""
    off, _ = cKDTree(other.points).query(one.points)
    return bool((off < MEETS_MM).sum() * STEP_MM > MEETS_FOR_MM)


def _sharpest_turn(points: FloatArray) -> float:
    """Return the sharpest turn between the chords on either side of a place beside the midline [rad]."""
    reach = round(TURN_MM / STEP_MM)
    if len(points) <= 2 * reach:
        return 0.0
    chord = points[reach:] - points[:-reach]
    heading = np.unwrap(np.arctan2(chord[:, 1], chord[:, 0]))
    turn = np.abs(heading[reach:] - heading[:-reach])
    beside = np.abs(points[reach:-reach, 0]) > WITHERS_MM
    return float(turn[beside].max(initial=0.0))


def find_line(flat: FlatSheet, dark: Darkness, area: Box) -> tuple[TracedCurveOnSheet, ...]:
    """Find the line that runs from left to right; the darkest, and no other."""
    low_x, low_y, high_x, high_y = area
    xs = np.arange(low_x, high_x, COLUMN_MM)
    ys = np.arange(high_y, low_y, -ROW_MM)
    places = np.stack(np.meshgrid(xs, ys), axis=2)
    unrolled = _Unrolled(dark=sampled(flat, dark, places), places=places)
    curve = _traced(flat, dark, unrolled, None)
    return () if curve is None else (curve,)


def _crossings(flat: FlatSheet, dark: Darkness, area: Box) -> list[float]:
    """Return the heights at which something dark crosses the midline, from the top [mm]."""
    ys = np.arange(area[3], area[1], -0.25)
    xs = np.arange(-14.0, 14.1, 1.0)
    places = np.stack(np.meshgrid(xs, ys), axis=2)
    strips = sampled(flat, dark, places)
    # A line near the midline is nearly level: each column may be a little higher or lower.
    reach = 9
    padded = np.pad(strips, ((reach, reach), (0, 0)))
    near = np.max([padded[k : k + len(ys)] for k in range(2 * reach + 1)], axis=0)
    share = (near > DARK).mean(axis=1)
    middle = np.abs(xs) <= 6.0
    weight = np.where(share > 0.6, strips[:, middle].mean(axis=1), 0.0)
    heights: list[float] = []
    for k in np.argsort(-weight):
        if weight[k] < 0.03:
            break
        if all(abs(ys[k] - other) > 5.0 for other in heights):
            heights.append(float(ys[k]))
    return sorted(heights, reverse=True)


def _rays(flat: FlatSheet, dark: Darkness, area: Box, height: float) -> _Unrolled:
    n_rays = round(np.radians(_RAYS_FROM_DEG) * CENTRE_BELOW_MM / COLUMN_MM)
    angles = np.radians(_RAYS_FROM_DEG) * np.linspace(-1.0, 1.0, 2 * n_rays + 1)
    reach = max(area[2], -area[0]) + 60.0
    radii = np.arange(reach, 50.0, -ROW_MM)
    centre = np.array([0.0, height - CENTRE_BELOW_MM])
    places = np.stack(
        [centre[0] + radii[:, None] * np.sin(angles), centre[1] + radii[:, None] * np.cos(angles)], axis=2
    )
    seen = sampled(flat, dark, places)
    inside = (
        (places[..., 0] > area[0])
        & (places[..., 0] < area[2])
        & (places[..., 1] > area[1])
        & (places[..., 1] < area[3])
    )
    return _Unrolled(dark=np.where(inside, seen, 0.0).astype(np.float32), places=places)


def _row_near(unrolled: _Unrolled, place: FloatArray) -> tuple[int, int]:
    """Return the row and column nearest to a place (2,) float, sheet's frame [mm]."""
    column = unrolled.dark.shape[1] // 2
    off = np.linalg.norm(unrolled.places[:, column] - place, axis=1)
    return int(off.argmin()), column


def _traced(
    flat: FlatSheet, dark: Darkness, unrolled: _Unrolled, anchor: tuple[int, int] | None
) -> TracedCurveOnSheet | None:
    import cv2  # noqa: PLC0415 - slow to load

    evidence = cv2.GaussianBlur(unrolled.dark, (0, 0), sigmaX=0.3, sigmaY=0.4 / ROW_MM)
    gain = np.interp(evidence, (0.5 * DARK, DARK, 2.0 * DARK), _GAIN).astype(np.float32)
    rows, first = _darkest_way(gain, anchor)
    if len(rows) < 4:
        return None
    way = unrolled.places[rows, first + np.arange(len(rows))]
    start = None if anchor is None else way[anchor[1] - first]
    points = _evenly(way)
    kept = _kept_run(points, _is_written(flat, dark, points), start)
    if kept is None:
        return None
    points, seen = kept
    return _refined(flat, dark, points, seen)


def _is_written(flat: FlatSheet, dark: Darkness, points: FloatArray) -> NDArray[np.bool_]:
    offsets = np.arange(-1.0, 1.01, 0.25)
    profile = sampled(flat, dark, points[:, None, :] + offsets[None, :, None] * _aside(points)[:, None, :])
    return np.asarray(profile.max(axis=1) > 0.7 * DARK)


def _darkest_way(gain: Darkness, anchor: tuple[int, int] | None) -> tuple[NDArray[np.int64], int]:
    """Return the row in each column of the way with the greatest gain, (k,) int, and its first column.

    Dynamic programming (Bellman) over rows and slopes; with an anchor, both ways from there. A way ends where
    going on gains nothing.
    """
    if anchor is None:
        return _way_from(gain, None)
    row, column = anchor
    right, _ = _way_from(gain[:, column:], row)
    left, _ = _way_from(gain[:, column::-1], row)
    return np.concatenate([left[:0:-1], right]), column - len(left) + 1


def _way_from(gain: Darkness, start: int | None) -> tuple[NDArray[np.int64], int]:
    n_rows, n_columns = gain.shape
    slopes = np.arange(-_STEEPEST, _STEEPEST + 1)
    n_slopes = len(slopes)
    turns = [k for k in range(-_MOST_TURN, _MOST_TURN + 1) if k]
    best = np.tile(gain[:, 0].astype(np.float32), (n_slopes, 1))
    if start is not None:
        best[:, np.abs(np.arange(n_rows) - start) > _NEAR_ROWS] = _NEVER
    source = np.arange(n_rows)[None, :] - slopes[:, None]
    outside = (source < 0) | (source >= n_rows)
    flat_source = np.arange(n_slopes)[:, None] * n_rows + np.clip(source, 0, n_rows - 1)
    # Nothing written costs by length, not by column: no steep way across white paper is cheap.
    stretch = np.hypot(1.0, slopes[:, None] * ROW_MM / COLUMN_MM).astype(np.float32)
    came = np.zeros((n_columns, n_slopes, n_rows), dtype=np.int8)
    tops = np.zeros(n_columns, dtype=np.float32)
    tops[0], end, at_end = best.max(), 0, int(best.argmax())
    for column in range(1, n_columns):
        toll = np.where(gain[:, column - 1] < 0.0, _BLIND_TOLL * _TURN_TOLL, _TURN_TOLL).astype(np.float32)
        padded = np.pad(best, ((_MOST_TURN, _MOST_TURN), (0, 0)), constant_values=_NEVER)
        turned = best.copy()
        turn = np.zeros((n_slopes, n_rows), dtype=np.int8)
        for k in turns:
            other = padded[_MOST_TURN + k : _MOST_TURN + k + n_slopes] - toll * np.float32(k * k)
            better = other > turned
            np.copyto(turned, other, where=better)
            turn[better] = k
        best = turned.ravel()[flat_source]
        came[column] = turn.ravel()[flat_source]
        best[outside] = _NEVER
        if start is None:
            came[column][best < 0.0] = _BEGINS
            best = np.maximum(best, 0.0)
        here = gain[:, column]
        best += np.where(here < 0.0, here * stretch, here)
        tops[column] = best.max()
        if tops[column] > tops[end]:
            end, at_end = column, int(best.argmax())
    slope, row = np.unravel_index(at_end, best.shape)
    rows = [int(row)]
    first = end
    for column in range(end, 0, -1):
        turn_here = int(came[column, slope, row])
        if turn_here == _BEGINS:
            break
        row = row - slopes[slope]
        slope = slope + turn_here
        rows.append(int(row))
        first = column - 1
    return np.array(rows[::-1], dtype=np.int64), first


def _kept_run(
    points: FloatArray, seen: NDArray[np.bool_], start: FloatArray | None
) -> tuple[FloatArray, NDArray[np.bool_]] | None:
    """Return the part of a way between its line's ends, and where it is written; None if too short."""
    written = np.flatnonzero(seen)
    if len(written) < 3:
        return None
    runs = np.split(written, np.flatnonzero(np.diff(written) * STEP_MM > SMALL_GAP_MM) + 1)
    if start is None:
        home = max(range(len(runs)), key=lambda k: len(runs[k]))
    else:
        at = int(np.linalg.norm(points - start, axis=1).argmin())
        home = min(range(len(runs)), key=lambda k: max(int(runs[k][0]) - at, at - int(runs[k][-1]), 0))
    lowest, highest = _bridged(runs, home, -1), _bridged(runs, home, 1)
    run = np.concatenate(runs[lowest : highest + 1])
    # A round pen writes half its width beyond its end.
    first, last = int(run[0]) + 2, int(run[-1]) - 1
    if (last - first) * STEP_MM < SHORTEST_MM or seen[first:last].mean() < 0.5:
        return None
    return points[first:last], seen[first:last]


def _bridged(runs: list[NDArray[np.int64]], home: int, step: int) -> int:
    """Return the last run that a line goes on to; a gap is bridged by one that goes on for longer."""
    last = home
    while 0 <= last + step < len(runs):
        following, here = runs[last + step], runs[last]
        gap = (following[0] - here[-1] if step > 0 else here[0] - following[-1]) * STEP_MM
        if gap > LONGEST_GAP_MM or len(following) * STEP_MM < max(10.0, 2.0 * gap):
            break
        last += step
    return last


def _refined(
    flat: FlatSheet, dark: Darkness, points: FloatArray, written: NDArray[np.bool_]
) -> TracedCurveOnSheet:
    offsets = np.arange(-STROKE_MM, STROKE_MM + 0.01, 0.1)
    spread = np.zeros(len(points))
    raw = np.zeros(len(points))
    for _ in range(3):
        aside = _aside(points)
        profile = sampled(flat, dark, points[:, None, :] + offsets[None, :, None] * aside[:, None, :])
        weight = np.maximum(profile - 0.4 * DARK, 0.0).astype(float)
        total = weight.sum(axis=1)
        written = written & (total > 1e-6)
        safe = np.maximum(total, 1e-9)
        raw = np.where(total > 1e-6, (weight * offsets).sum(axis=1) / safe, 0.0)
        spread = np.sqrt(np.maximum((weight * (offsets - raw[:, None]) ** 2).sum(axis=1) / safe, 0.0))
        points = points + _smoothed(raw, written)[:, None] * aside
    rest = raw - _smoothed(raw, written)
    noise = float(1.4826 * np.median(np.abs(rest[written]))) if written.any() else 0.0
    return TracedCurveOnSheet(
        points=points,
        seen=written,
        noise_mm=noise,
        crosswise_mm=float(np.median(spread[written])) if written.any() else 0.0,
        ticks=_ticks(flat, dark, points, written),
    )


def _evenly(way: FloatArray) -> FloatArray:
    """Return a way (n, 2) float at even steps and without its stairs, (m, 2) float, sheet's frame [mm]."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(way, axis=0), axis=1))])
    along = np.arange(0.0, length[-1], STEP_MM)
    even = np.column_stack([np.interp(along, length, way[:, k]) for k in (0, 1)])
    kernel = np.ones(7) / 7.0
    padded = np.pad(even, ((3, 3), (0, 0)), mode="reflect", reflect_type="odd")
    return np.column_stack([np.convolve(padded[:, k], kernel, mode="valid") for k in (0, 1)])


def _aside(points: FloatArray) -> FloatArray:
    tangent = np.gradient(points, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    return np.column_stack([-tangent[:, 1], tangent[:, 0]])


def _smoothed(raw: FloatArray, written: NDArray[np.bool_]) -> FloatArray:
    """Return values (n,) float [mm] smoothed along the line, single jumps (a crossing, a tick) left out."""
    at = np.arange(len(raw))
    if written.sum() < 3:
        return np.zeros(len(raw))
    whole = np.interp(at, at[written], raw[written])
    calm = median_filter(whole, size=round(2 * _SMOOTH_MM / STEP_MM) + 1, mode="nearest")
    return np.asarray(gaussian_filter1d(calm, 0.5 * _SMOOTH_MM / STEP_MM, mode="nearest"), dtype=float)


def _ticks(flat: FlatSheet, dark: Darkness, points: FloatArray, written: NDArray[np.bool_]) -> FloatArray:
    """Return where a short stroke stands across the line, (k, 2) float, sheet's frame [mm]."""
    aside = _aside(points)
    offsets = np.concatenate([np.arange(-5.0, -2.4, 0.25), np.arange(2.5, 5.1, 0.25)])
    far = np.array([-14.0, -12.0, 12.0, 14.0])
    near_dark = sampled(flat, dark, points[:, None, :] + offsets[None, :, None] * aside[:, None, :])
    far_dark = sampled(flat, dark, points[:, None, :] + far[None, :, None] * aside[:, None, :])
    half = len(offsets) // 2
    both = np.minimum(near_dark[:, :half].min(axis=1), near_dark[:, half:].min(axis=1)) > DARK
    both &= written & (far_dark.max(axis=1) < DARK)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], both.astype(int), [0]]))).reshape(-1, 2)
    return np.array([points[(a + b - 1) // 2] for a, b in edges if (b - a) * STEP_MM <= 4.0]).reshape(-1, 2)


def _rub_out(flat: FlatSheet, dark: Darkness, curve: TracedCurveOnSheet) -> None:
    """Make a found line white, and a little beyond its ends, so that the next is found."""
    import cv2  # noqa: PLC0415 - slow to load

    points = curve.points
    before = points[0] + 0.6 * (points[0] - points[10])
    after = points[-1] + 0.6 * (points[-1] - points[-11])
    dots = np.round(flat.dots(np.vstack([before, points, after])) * 16.0).astype(np.int32)
    width_mm = max(2.6, 5.0 * curve.crosswise_mm)
    cv2.polylines(
        dark, [dots], isClosed=False, color=0.0, thickness=round(width_mm * flat.dots_per_mm), shift=4
    )
