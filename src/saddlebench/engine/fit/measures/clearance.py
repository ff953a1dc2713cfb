"""Clearances: over and beside the withers, over the spine along the channel, and beside the spine strip."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.fit.measures.batch import Pair, Solutions
from saddlebench.engine.fit.measures.feet import Feet, feet_of, unmeasured
from saddlebench.engine.fit.measures.names import MeasureKey, MeasureName, Side
from saddlebench.engine.fit.measures.table import Absent, Columns
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import Zone

TOP_HALF_WIDTH_MM, UPPER_MM = 15.0, 60.0
FLAT_TOP_MM = 0.5
"""Heights within this of the highest belong to the crown."""
TOP_PROBES, SIDE_PROBES, CHANNEL_PROBES = 5, 8, 12
SPINE_STRIP_MM = 50.0
"""Width over which the spine's height is looked at when no strip was felt (assumption)."""


@dataclass(frozen=True, slots=True)
class Probes:
    """Points of the saddle whose distance to the back is wanted, and which of them belong to what."""

    points_saddle: FloatArray
    """(d or 1, m, 3) float, saddle frame [mm]."""
    top: slice
    near: slice
    off: slice
    channel: slice
    """(3·k) points: left edge, middle and right edge of the strip at each of k places."""


def probes_of(pair: Pair, *, every_station: bool = False) -> Probes:
    """Choose probes on the front arch and under the channel's roof."""
    arch = pair.saddle.arch_saddle
    crown_z = float(arch[:, 2].max())
    crown_y = float(arch[arch[:, 2] >= crown_z - FLAT_TOP_MM, 1].mean())
    is_top = (np.abs(arch[:, 1] - crown_y) <= TOP_HALF_WIDTH_MM) & (arch[:, 2] >= crown_z - UPPER_MM)
    is_upper = ~is_top & (arch[:, 2] >= crown_z - UPPER_MM)
    top = _spread(np.flatnonzero(is_top), TOP_PROBES)
    near = _spread(np.flatnonzero(is_upper & (arch[:, 1] > crown_y)), SIDE_PROBES)
    off = _spread(np.flatnonzero(is_upper & (arch[:, 1] < crown_y)), SIDE_PROBES)
    roofed = _roofed_places(pair)
    places = _spread(roofed, roofed.size if every_station else CHANNEL_PROBES)
    roof = _roof_points(pair, places)
    chosen = np.concatenate([top, near, off])
    d = max(pair.shape.arch.shape[0], roof.shape[0])
    points = np.concatenate([_stretch(pair.shape.arch[:, chosen], d), _stretch(roof, d)], axis=1)
    ends = np.cumsum([0, top.size, near.size, off.size, roof.shape[1]])
    return Probes(points, *(slice(int(a), int(b)) for a, b in pairwise(ends)))


def _stretch(points: FloatArray, d: int) -> FloatArray:
    return np.broadcast_to(points, (d, *points.shape[1:]))


def _spread(indices: NDArray[np.intp], at_most: int) -> NDArray[np.intp]:
    if indices.size <= at_most:
        return indices
    return indices[np.rint(np.linspace(0, indices.size - 1, at_most)).astype(int)]


def _roofed_places(pair: Pair) -> NDArray[np.intp]:
    """Return the places of the channel from the front arch back: before it nothing is above the spine."""
    x = pair.saddle.channel.x_mm
    return np.flatnonzero(x <= float(pair.saddle.arch_saddle[:, 0].max()) + 1e-9)


def _roof_points(pair: Pair, places: NDArray[np.intp]) -> FloatArray:
    mark = pair.marks["spine_strip_width"]
    strip = SPINE_STRIP_MM if isinstance(mark, NotMeasured) else float(np.mean(mark))
    roof = pair.shape.roof_z[:, places]
    x = np.broadcast_to(pair.saddle.channel.x_mm[places], roof.shape)
    across = np.array([strip / 2.0, 0.0, -strip / 2.0])
    points = np.zeros((*roof.shape, 3, 3))
    points[..., 0], points[..., 1], points[..., 2] = x[..., None], across, roof[..., None]
    return points.reshape(roof.shape[0], -1, 3)


def clearance_columns(pair: Pair, solutions: Solutions) -> Columns:
    """Return the clearances of one state, to the unpressed back or to a pad that is pulled down on it."""
    probes, state = probes_of(pair), solutions.state
    feet = feet_of(pair, solutions.to_back(probes.points_saddle))
    arch_pad = pair.pad_over_spine_mm[:, Zone.FRONT]
    columns: Columns = {}
    for name, side, which in (
        (MeasureName.WITHERS_TOP, Side.BOTH, probes.top),
        (MeasureName.WITHERS_SIDE, Side.NEAR, probes.near),
        (MeasureName.WITHERS_SIDE, Side.OFF, probes.off),
    ):
        columns[MeasureKey(name=name, state=state, side=side)] = _least(pair, feet, which, arch_pad)
    channel_pad = pair.pad_over_spine_mm.max(axis=1)
    columns[MeasureKey(name=MeasureName.SPINE_HEIGHT, state=state)] = _least(
        pair, feet, probes.channel, channel_pad
    )
    columns.update(_margins(pair, solutions))
    return columns


def _least(pair: Pair, feet: Feet, which: slice, pad_mm: FloatArray) -> FloatArray | Absent:
    if which.stop <= which.start:
        return NotMeasured("this part of the saddle was not recorded")
    missing = unmeasured(pair, feet, which)
    return missing or feet.distance_mm[:, which].min(axis=1) - pad_mm


def _margins(pair: Pair, solutions: Solutions) -> Columns:
    """Return how far each edge of the channel stays outside the spine strip, at its closest place."""
    strip = pair.marks["spine_strip_width"]
    half = pair.shape.half_width
    columns: Columns = {}
    for side, sign, index in ((Side.NEAR, 1.0, 0), (Side.OFF, -1.0, 1)):
        key = MeasureKey(name=MeasureName.SPINE_MARGIN, state=solutions.state, side=side)
        if isinstance(strip, NotMeasured):
            columns[key] = strip
            continue
        edge = np.zeros((*half[:, index].shape, 3))
        edge[..., 0], edge[..., 1] = pair.saddle.channel.x_mm, sign * half[:, index]
        edge[..., 2] = pair.shape.roof_z
        outwards = sign * solutions.to_back(edge)[:, :, 1]
        columns[key] = outwards.min(axis=1) - strip / 2.0
    return columns


def drop_column(columns: Columns, girthed_key: MeasureKey, up_key: MeasureKey) -> Columns:
    """Return how far the front comes down between two states."""
    before, after = columns[girthed_key], columns[up_key]
    key = MeasureKey(name=MeasureName.WITHERS_DROP, state=up_key.state)
    for value in (before, after):
        if not isinstance(value, np.ndarray):
            return {key: value}
    return {key: np.asarray(before) - np.asarray(after)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpineClearance:
    """Clearance above the spine strip along the channel, place by place."""

    s_mm: FloatArray
    """(k,) float, distance behind the shoulder mark [mm]."""
    clearance_mm: tuple[float | NotMeasured, ...]
    """k of them [mm]."""


def spine_clearance(pair: Pair, solutions: Solutions) -> SpineClearance:
    """Return the clearance at every place of the channel, for the first solution."""
    probes = probes_of(pair, every_station=True)
    points = solutions.to_back(probes.points_saddle)
    feet = feet_of(pair, points)
    pad = float(pair.pad_over_spine_mm.max())
    found: list[float | NotMeasured] = []
    for first in range(probes.channel.start, probes.channel.stop, 3):
        which = slice(first, first + 3)
        missing = unmeasured(pair, feet, which)
        found.append(missing or float(feet.distance_mm[0, which].min()) - pad)
    return SpineClearance(
        s_mm=-points[0, probes.channel.start + 1 : probes.channel.stop : 3, 0], clearance_mm=tuple(found)
    )
