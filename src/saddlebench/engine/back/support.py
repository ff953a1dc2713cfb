"""Where a back was measured: between its stations, and within what each of them reached."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray

EDGE_MM = 5.0
"""A place this far beyond the outermost readings still counts: a leaning section is not one distance."""
SAME_PLACE_MM = 10.0
"""Stations closer than this are one place measured twice."""
GAP_IN_LENGTHS = 1.4
"""Longest gap between stations, in correlation lengths along the back: beyond, the readings say little."""
GAP_LEAST_MM, GAP_MOST_MM = 120.0, 320.0
NEAR_STATION = 0.15
"""In too long a gap, this share of a correlation length about each station still counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """The measured part of a back."""

    s_mm: FloatArray
    """(k,) float, places of the stations, rising [mm]."""
    left: FloatArray
    """(k,) float ≥ 0, angle reached on the left [rad]."""
    right: FloatArray
    """(k,) float ≤ 0, angle reached on the right [rad]."""
    numbers: tuple[int, ...]
    """The fitter's number of each."""
    gap_mm: float
    """Longest gap that counts as measured."""
    near_mm: float
    edge_phi: float

    def __post_init__(self) -> None:
        for array in (self.s_mm, self.left, self.right):
            array.flags.writeable = False

    def contains(self, s_mm: FloatArray, phi: FloatArray) -> NDArray[np.bool_]:
        """Tell which places (broadcastable, [mm], [rad]) were measured."""
        along = self._along(np.asarray(s_mm, float))
        left, right = self.reach(s_mm)
        inside: NDArray[np.bool_] = along & (phi <= left) & (phi >= right)
        return inside

    def reach(self, s_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the angles measured up to, left ≥ 0 and right ≤ 0, (n,) [rad], at places (n,) [mm]."""
        left = np.interp(s_mm, self.s_mm, self.left) + self.edge_phi
        right = np.interp(s_mm, self.s_mm, self.right) - self.edge_phi
        # A side that was not measured at all ends at the midline.
        return np.where(left > self.edge_phi, left, 0.0), np.where(right < -self.edge_phi, right, 0.0)

    def _along(self, s: FloatArray) -> NDArray[np.bool_]:
        inside = (s >= self.s_mm[0] - EDGE_MM) & (s <= self.s_mm[-1] + EDGE_MM)
        after = np.clip(np.searchsorted(self.s_mm, s), 1, len(self.s_mm) - 1)
        before_mm, after_mm = self.s_mm[after - 1], self.s_mm[after]
        close = np.minimum(np.abs(s - before_mm), np.abs(after_mm - s)) <= self.near_mm
        covered: NDArray[np.bool_] = inside & ((after_mm - before_mm <= self.gap_mm) | close)
        return covered

    def missing(self, s_mm: float, phi: float) -> NotMeasured | None:
        """Return why a place was not measured and at which stations to measure, or None where it was."""
        if bool(self.contains(np.asarray(s_mm), np.asarray(phi))):
            return None
        after = int(np.clip(np.searchsorted(self.s_mm, s_mm), 1, len(self.s_mm) - 1))
        first, last = self.numbers[0], self.numbers[-1]
        if s_mm < self.s_mm[0] - EDGE_MM:
            reason = f"{s_mm:.0f} mm lies in front of station {first}; measure a station there"
            return NotMeasured(reason, (first,))
        if s_mm > self.s_mm[-1] + EDGE_MM:
            reason = f"{s_mm:.0f} mm lies behind station {last}; measure a station there"
            return NotMeasured(reason, (last,))
        pair = (self.numbers[after - 1], self.numbers[after])
        if not bool(self._along(np.asarray(s_mm, float))):
            gap = self.s_mm[after] - self.s_mm[after - 1]
            reason = (
                f"stations {pair[0]} and {pair[1]} lie {gap:.0f} mm apart, too far to say what is between; "
                "measure a station between them"
            )
            return NotMeasured(reason, pair)
        side = "left (near)" if phi > 0 else "right (off)"
        reason = f"stations {pair[0]} and {pair[1]} do not reach that far down on the {side} side"
        return NotMeasured(reason, pair)


def support_of(points: MeasuredPoints, grid: PolarGrid, length_s_mm: float) -> Support:
    """Return the measured part.

    Parameters
    ----------
    points : MeasuredPoints
    grid : PolarGrid
    length_s_mm : float
        Correlation length along the back [mm]; it sets how long a gap may be.
    """
    s, phi, r = grid.polar(points.points_back)
    places: list[tuple[float, float, float, int]] = []
    for index, station in enumerate(points.stations):
        on = points.station == index
        if np.any(on):
            left, right = max(float(phi[on].max()), 0.0), min(float(phi[on].min()), 0.0)
            places.append((float(s[on].mean()), left, right, station.number))
    merged: list[tuple[float, float, float, int]] = []
    for place in sorted(places):
        if merged and place[0] - merged[-1][0] < SAME_PLACE_MM:
            held = merged[-1]
            merged[-1] = (held[0], max(held[1], place[1]), min(held[2], place[2]), held[3])
        else:
            merged.append(place)
    columns = np.array([place[:3] for place in merged])
    return Support(
        s_mm=columns[:, 0],
        left=columns[:, 1],
        right=columns[:, 2],
        numbers=tuple(place[3] for place in merged),
        gap_mm=float(np.clip(GAP_IN_LENGTHS * length_s_mm, GAP_LEAST_MM, GAP_MOST_MM)),
        near_mm=NEAR_STATION * length_s_mm,
        edge_phi=EDGE_MM / float(np.median(r)),
    )
