"""What is said of a back in numbers: cross-sections, withers, topline, length, volume, left against right.

Every quantity is read on the mean surface and on draws of it, each with its own drawn marks; the spread of
the draws is its uncertainty (JCGM 101:2008). Left-against-right is linear and carries its exact variance.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.draws import draw_radii
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.levels import (
    Answer,
    DescriptionSettings,
    DrawnBacks,
    Level,
    LevelDescription,
    depth_gap,
    describe_level,
    draw_levels,
    no_value,
    place_of,
    sides_at,
    withers_angle_of,
    withers_width_of,
)
from saddlebench.engine.back.profiles import Backs
from saddlebench.engine.back.regions import RegionDifference, side_differences
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ToplineDescription:
    """The dorsal midline from the withers to the last rib."""

    deepest_place: Answer
    """Distance of the deepest point behind the shoulder mark [mm]."""
    deepest_height: Answer
    """Its height against the midline at the shoulder mark [mm]."""
    rise_to_withers: Answer
    """From the deepest point up to the withers mark; unmarked, to the summit in front of it [mm]."""
    rise_to_loin: Answer
    """From the deepest point up to the last-rib mark [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BackDescription:
    """A back in numbers, each with its uncertainty or why it is not there."""

    levels: tuple[LevelDescription, ...]
    withers_angle: Answer
    """Included angle behind the shoulder [°]."""
    withers_width: Answer
    """Width behind the shoulder at the set depth [mm]."""
    topline: ToplineDescription
    length: Answer
    """Shoulder mark to last-rib mark, level [mm]."""
    volume: Answer
    """Above the plane, between shoulder edge and last rib as marked; their errors do not enter [cm³]."""
    differences: tuple[RegionDifference, ...]


def describe(
    estimated: EstimatedBack, landmarks: Landmarks, settings: DescriptionSettings | None = None
) -> BackDescription:
    """Describe a back in numbers.

    Parameters
    ----------
    estimated : EstimatedBack
    landmarks : Landmarks
        With their own errors, which are drawn along.
    settings : DescriptionSettings, optional

    Returns
    -------
    BackDescription
    """
    settings = settings or DescriptionSettings()
    grid = estimated.surface.grid
    radii = np.concatenate(
        [estimated.surface.radius_mm[None], draw_radii(estimated, settings.draws, settings.seed)]
    )
    drawn = DrawnBacks(
        backs=Backs.through(grid, radii),
        support=estimated.support,
        marks=draw_levels(landmarks, settings.draws, settings.seed),
        settings=settings,
    )
    return description_of(drawn, side_differences(estimated, landmarks))


def description_of(drawn: DrawnBacks, differences: tuple[RegionDifference, ...]) -> BackDescription:
    """Return the numbers of a back whose spread is that of the given draws, whatever they were drawn from."""
    return BackDescription(
        levels=tuple(describe_level(drawn, level) for level in Level),
        withers_angle=withers_angle_of(drawn),
        withers_width=withers_width_of(drawn),
        topline=_topline(drawn),
        length=_length(drawn),
        volume=_volume(drawn),
        differences=differences,
    )


def _topline(drawn: DrawnBacks) -> ToplineDescription:
    first, last = drawn.support.s_mm[0], drawn.support.s_mm[-1]
    rib = drawn.marks[Level.LAST_RIB]
    end = min(last, float(rib[0])) if is_known(rib) else last
    s = np.arange(first, end, 1.0)
    gap = next((g for g in (drawn.support.missing(float(v), 0.0) for v in s) if g is not None), None)
    if gap is not None or len(s) < 3:
        nothing = gap or NotMeasured("the topline was not measured", drawn.support.numbers)
        return ToplineDescription(
            deepest_place=nothing, deepest_height=nothing, rise_to_withers=nothing, rise_to_loin=nothing
        )
    heights = drawn.backs.toplines(s)
    row = np.arange(drawn.count)
    deepest = heights.argmin(axis=1)
    low = heights[row, deepest]
    inside = 0 < deepest[0] < len(s) - 1
    at_edge = NotMeasured(
        "the topline still falls at the edge of what was measured", drawn.support.numbers[-1:]
    )
    zero = drawn.backs.toplines(np.zeros(1))[:, 0]
    from_zero = drawn.support.missing(0.0, 0.0)

    def when_inside(values: FloatArray, what: str) -> Answer:
        return drawn.estimate(values, "mm", no_value(what)) if inside else at_edge

    return ToplineDescription(
        deepest_place=when_inside(s[deepest], "the deepest place"),
        deepest_height=from_zero or when_inside(low - zero, "the deepest height"),
        rise_to_withers=_rise_to_withers(drawn, heights, deepest) if inside else at_edge,
        rise_to_loin=_rise_to_loin(drawn, low) if inside else at_edge,
    )


def _rise_to_withers(drawn: DrawnBacks, heights: FloatArray, deepest: FloatArray) -> Answer:
    row = np.arange(drawn.count)
    low = heights[row, deepest]
    place = place_of(drawn, Level.WITHERS)
    if not isinstance(place, NotMeasured):
        return drawn.estimate(_midline_at(drawn, place) - low, "mm", no_value("the rise to the withers"))
    if not isinstance(drawn.marks[Level.WITHERS], NotMeasured):
        return place
    # A neck carried high rises in front of the withers: unmarked, only a summit inside counts.
    in_front = np.where(np.arange(heights.shape[1])[None, :] <= deepest[:, None], heights, -np.inf)
    highest = in_front.argmax(axis=1)
    if highest[0] == 0:
        return NotMeasured(
            "the withers were not marked and the topline still rises where measuring began",
            drawn.support.numbers[:1],
        )
    rise = heights[row, highest] - low
    return drawn.estimate(rise, "mm", no_value("the rise to the withers"))


def _midline_at(drawn: DrawnBacks, place: FloatArray) -> FloatArray:
    return drawn.backs.sections(place, np.zeros(1))[:, 0] + drawn.backs.grid.axis_z_mm


def _rise_to_loin(drawn: DrawnBacks, low: FloatArray) -> Answer:
    place = place_of(drawn, Level.LAST_RIB)
    if isinstance(place, NotMeasured):
        return place
    return drawn.estimate(_midline_at(drawn, place) - low, "mm", no_value("the rise to the loin"))


def _length(drawn: DrawnBacks) -> Answer:
    shoulder, rib = drawn.marks[Level.SHOULDER], drawn.marks[Level.LAST_RIB]
    if isinstance(rib, NotMeasured):
        return NotMeasured("the last rib was not marked")
    if isinstance(shoulder, NotMeasured):
        return shoulder
    return drawn.estimate(rib - shoulder, "mm", no_value("the length"))


def _volume(drawn: DrawnBacks) -> Answer:
    ends = place_of(drawn, Level.SHOULDER), place_of(drawn, Level.LAST_RIB)
    for end in ends:
        if isinstance(end, NotMeasured):
            return end
    first, last = (float(end[0]) for end in ends if not isinstance(end, NotMeasured))
    if last - first < 50.0:
        return NotMeasured("the last-rib mark does not lie behind the shoulder mark")
    s = np.linspace(first, last, int(np.ceil((last - first) / 20.0)) + 1)
    toplines = drawn.backs.toplines(s)
    plane = float(toplines[0].min()) - drawn.settings.plane_below_lowest_mm
    areas = np.zeros((drawn.count, len(s)))
    for k, at in enumerate(s):
        place = np.full(drawn.count, at)
        sides = sides_at(drawn, place)
        gap = depth_gap(drawn, place, sides, float(toplines[0, k]) - plane)
        if gap is not None:
            return gap
        areas[:, k] = sum(side.area_above(toplines[:, k] - plane) for side in sides)
    volume = np.asarray(np.trapezoid(areas, s, axis=1)) / 1000.0
    return drawn.estimate(volume, "cm³", no_value("the volume"))
