"""What a hand would feel, slid under each panel of the girthed saddle: even, slack or tight, and where.

A hand averages over its own breadth. Whether it calls a place slack or tight depends on how that place
compares with the rest of the panels. The two ratios below are assumptions; each practice keeps its own tally.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.measures.batch import Pair, Solutions
from saddlebench.engine.fit.measures.cells import SIDES, Rows
from saddlebench.engine.fit.measures.names import Side
from saddlebench.engine.frames import FloatArray

HAND_MM = 60.0
"""Breadth over which a flat hand averages."""
SLACK_BELOW, TIGHT_ABOVE = 0.4, 1.8
"""Of the mean pressure over both panels."""
SHORTEST_MM = 20.0
"""A stretch shorter than this is not felt apart from its neighbours."""


class Feel(StrEnum):
    """What the hand says."""

    EVEN = "even"
    SLACK = "slack"
    TIGHT = "tight"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One stretch of a panel that feels alike."""

    feel: Feel
    from_mm: float
    """Behind the end of this side's tree point (of the panel's front edge without points) [mm]."""
    to_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HandSlide:
    """What the hand feels from front to rear under one panel."""

    side: Side
    stretches: tuple[Stretch, ...]

    @property
    def is_even(self) -> bool:
        """Whether it feels even all along."""
        return all(stretch.feel is Feel.EVEN for stretch in self.stretches)


def hand_slides(pair: Pair, girthed: Solutions) -> tuple[HandSlide, HandSlide] | Undetermined:
    """Return what a hand would feel near and off, for the first solution of the girthed saddle."""
    bearing = pair.saddle.bearing
    load = girthed.pressure_kpa[0] * bearing.area_mm2
    mean = float(load.sum() / bearing.area_mm2.sum())
    if mean <= 0.0:
        return Undetermined("nothing bears: there is nothing to feel")
    found = []
    for index, (side, sign) in enumerate(SIDES):
        rows = Rows.of(bearing, sign)
        area = np.add.reduceat(bearing.area_mm2[rows.order], rows.starts)
        pressure = np.add.reduceat(load[rows.order], rows.starts) / area
        felt = _over_a_hand(pressure * area, area, rows) / mean
        start = bearing.points_saddle[:, 0].max()
        if pair.saddle.points is not None:
            start = float(pair.saddle.points[index].end_saddle[0])
        found.append(HandSlide(side=side, stretches=_stretches(felt, rows, start)))
    return found[0], found[1]


def _over_a_hand(load: FloatArray, area: FloatArray, rows: Rows) -> FloatArray:
    """Return the mean pressure (rows,) [kPa] within a hand's breadth of each row, saddle frame."""
    near = np.abs(rows.x_mm[:, None] - rows.x_mm[None, :]) <= HAND_MM / 2.0
    return (near @ load) / (near @ area)


def _stretches(felt: FloatArray, rows: Rows, start_x: float) -> tuple[Stretch, ...]:
    feels = [
        Feel.SLACK if one < SLACK_BELOW else Feel.TIGHT if one > TIGHT_ABOVE else Feel.EVEN for one in felt
    ]
    stretches: list[Stretch] = []
    for feel, x, length in zip(feels, rows.x_mm, rows.length_mm, strict=True):
        first, last = start_x - x - length / 2.0, start_x - x + length / 2.0
        if stretches and stretches[-1].feel is feel:
            first = stretches.pop().from_mm
        stretches.append(Stretch(feel=feel, from_mm=float(first), to_mm=float(last)))
    return _without_short_ones(stretches)


def _without_short_ones(stretches: list[Stretch]) -> tuple[Stretch, ...]:
    kept: list[Stretch] = []
    for stretch in stretches:
        is_short = stretch.to_mm - stretch.from_mm < SHORTEST_MM
        if kept and (is_short or kept[-1].feel is stretch.feel):
            kept[-1] = Stretch(feel=kept[-1].feel, from_mm=kept[-1].from_mm, to_mm=stretch.to_mm)
        else:
            kept.append(stretch)
    return tuple(kept)
