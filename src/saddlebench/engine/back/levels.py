"""Cross-sections of a back in numbers: widths and their ratio, heights, area, the withers.

References
----------
Widths 30 and 150 mm below the midline and their ratio: Greve & Dyson, Back-shape changes in sports horses,
Equine Vet J 46 suppl. (2014), doi 10.1111/evj.12267_161. Area to 150 mm depth: Tabor, Marlin & Williams, Comp
Exerc Physiol 18 (2022) 445–451, doi 10.3920/cep220016. Everything else is common practice.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from saddlebench.engine.back.estimates import Estimate, estimate_from_draws
from saddlebench.engine.back.landmarks import SHOULDER_SD_MM, Landmarks, Mark
from saddlebench.engine.back.profiles import Backs, HalfSections, half_sections
from saddlebench.engine.back.support import Support
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray

Answer = Estimate | NotMeasured


class Level(StrEnum):
    """Cross-sections at which a back is described."""

    WITHERS = "withers"
    """At the highest spine of the withers."""
    SHOULDER = "shoulder"
    """At the rear edge of the shoulder blades, near T8."""
    LOWEST = "lowest"
    """At the marked lowest point, near T13."""
    LAST_RIB = "last rib"
    """At the last-rib mark, T18."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DescriptionSettings:
    """Depths and widths at which a back is read."""

    depths_mm: tuple[float, ...] = (30.0, 150.0)
    half_widths_mm: tuple[float, ...] = (50.0, 100.0, 130.0)
    angle_depths_mm: tuple[float, float] = (40.0, 120.0)
    """The withers angle is that of the chords between these depths."""
    withers_width_depth_mm: float = 80.0
    area_depth_mm: float = 150.0
    plane_below_lowest_mm: float = 100.0
    """The volume is that above a level plane this far below the topline's deepest point."""
    gutter_mm: float = 3.0
    """Muscle higher than the spine by more than this makes a guttered section."""
    draws: int = 256
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """A quantity on the left, on the right, and in all [mm]."""

    left: Answer
    right: Answer
    total: Answer


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelDescription:
    """One cross-section."""

    level: Level
    place: Answer
    """Distance behind the shoulder mark [mm]."""
    guttered: bool | NotMeasured
    """Whether muscle stands higher than the spine; widths then give way to heights."""
    widths: Mapping[float, Sides]
    """Half-widths and width by depth below the midline [mm]."""
    width_ratio: Answer
    """Width at the first depth over that at the last [1]."""
    heights: Mapping[float, Sides]
    """Height against the midline (negative: below it) by half-width; the total is the mean of both [mm]."""
    area: Answer
    """Area above the area depth [cm²]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnBacks:
    """The mean surface and its draws, each with its own marks."""

    backs: Backs
    support: Support
    marks: Mapping[Level, FloatArray | NotMeasured]
    """By level: (1 + count,) float, distance behind the shoulder mark [mm], or why there is none."""
    settings: DescriptionSettings
    estimate: Callable[[FloatArray, str, NotMeasured], Answer] = estimate_from_draws
    """Takes a number's value on the mean surface and on each draw, (1 + count,) in the unit that follows."""

    @property
    def count(self) -> int:
        """The mean surface and its draws, counted together."""
        return len(self.backs.coefficients)


def draw_levels(landmarks: Landmarks, count: int, seed: int) -> dict[Level, FloatArray | NotMeasured]:
    """Return each level's distance behind the shoulder mark, (1 + count,) [mm]: as marked, then drawn.

    Where no shoulder edge was marked the zero itself stands for it, with the error of common practice.
    """
    edges = [m for m in (landmarks.shoulder_left, landmarks.shoulder_right) if is_known(m)]
    shoulder = Mark(0.0, SHOULDER_SD_MM)
    if edges:
        n = len(edges)
        shoulder = Mark(
            sum(m.value_mm for m in edges) / n, float(np.sqrt(sum(m.sd_mm**2 for m in edges))) / n
        )
    marks: dict[Level, Mark | NotMeasured] = {
        Level.WITHERS: landmarks.withers,
        Level.SHOULDER: shoulder,
        Level.LOWEST: landmarks.lowest,
        Level.LAST_RIB: landmarks.last_rib,
    }
    normals = np.random.default_rng([seed, 1]).standard_normal((len(marks), count))
    return {
        level: mark if isinstance(mark, NotMeasured) else _drawn_mark(mark, row)
        for (level, mark), row in zip(marks.items(), normals, strict=True)
    }


def _drawn_mark(mark: Mark, normals: FloatArray) -> FloatArray:
    return mark.value_mm + mark.sd_mm * np.concatenate([[0.0], normals])


def place_of(drawn: DrawnBacks, level: Level) -> FloatArray | NotMeasured:
    """Return the level's places, or why the section there was not measured."""
    place = drawn.marks[level]
    if isinstance(place, NotMeasured):
        return NotMeasured(f"the {level} was not marked", place.stations)
    return drawn.support.missing(float(place[0]), 0.0) or place


def sides_at(drawn: DrawnBacks, place: FloatArray) -> tuple[HalfSections, HalfSections]:
    """Return left and right halves of every back's cross-section at its own place (m,) [mm]."""
    return half_sections(drawn.backs, place, 1), half_sections(drawn.backs, place, -1)


def depth_gap(
    drawn: DrawnBacks, place: FloatArray, sides: tuple[HalfSections, HalfSections], depth_mm: float
) -> NotMeasured | None:
    """Return why a depth was not reached on either side at a place (1 + count,) float [mm], or None."""
    for side, sign in zip(sides, (1, -1), strict=True):
        gap = drawn.support.missing(float(place[0]), sign * min(side.angle_at_depth(depth_mm), np.pi))
        if gap is not None:
            return gap
    return None


def no_value(what: str) -> NotMeasured:
    """Return the answer for a quantity that the form of this back does not have."""
    return NotMeasured(f"{what} has no value on this back")


def describe_level(drawn: DrawnBacks, level: Level) -> LevelDescription:
    """Return one cross-section in numbers, or for each of them why it is not there."""
    place = place_of(drawn, level)
    if isinstance(place, NotMeasured):
        nothing = Sides(left=place, right=place, total=place)
        return LevelDescription(
            level=level,
            place=place,
            guttered=place,
            widths=dict.fromkeys(drawn.settings.depths_mm, nothing),
            width_ratio=place,
            heights=dict.fromkeys(drawn.settings.half_widths_mm, nothing),
            area=place,
        )
    sides = sides_at(drawn, place)
    near = [side.depth_mm[0][side.phi < np.deg2rad(60.0)] for side in sides]
    guttered = any(float(depth.min()) < -drawn.settings.gutter_mm for depth in near)
    depths = drawn.settings.depths_mm
    return LevelDescription(
        level=level,
        place=drawn.estimate(place, "mm", no_value("the place")),
        guttered=guttered,
        widths={depth: _width(drawn, place, sides, depth, guttered=guttered) for depth in depths},
        width_ratio=_ratio(drawn, place, sides, guttered=guttered),
        heights={y: _height(drawn, place, sides, y) for y in drawn.settings.half_widths_mm},
        area=_area(drawn, place, sides),
    )


_GUTTERED = NotMeasured("muscle stands higher than the spine here: read the heights at set half-widths")


def _width(
    drawn: DrawnBacks,
    place: FloatArray,
    sides: tuple[HalfSections, HalfSections],
    depth_mm: float,
    *,
    guttered: bool,
) -> Sides:
    gap = _GUTTERED if guttered else depth_gap(drawn, place, sides, depth_mm)
    if gap is not None:
        return Sides(left=gap, right=gap, total=gap)
    left, right = (side.lateral_at_depth(depth_mm) for side in sides)
    return _sides_of(drawn, left, right, left + right, "the width")


def _sides_of(drawn: DrawnBacks, left: FloatArray, right: FloatArray, total: FloatArray, what: str) -> Sides:
    return Sides(
        left=drawn.estimate(left, "mm", no_value(what)),
        right=drawn.estimate(right, "mm", no_value(what)),
        total=drawn.estimate(total, "mm", no_value(what)),
    )


def _ratio(
    drawn: DrawnBacks, place: FloatArray, sides: tuple[HalfSections, HalfSections], *, guttered: bool
) -> Answer:
    upper, lower = drawn.settings.depths_mm[0], drawn.settings.depths_mm[-1]
    gap = _GUTTERED if guttered else depth_gap(drawn, place, sides, lower)
    if gap is not None:
        return gap
    above = sides[0].lateral_at_depth(upper) + sides[1].lateral_at_depth(upper)
    below = sides[0].lateral_at_depth(lower) + sides[1].lateral_at_depth(lower)
    # Where neither depth is reached both are infinite: such a draw has no ratio.
    finite = np.isfinite(above) & np.isfinite(below)
    ratio = np.where(finite, above / np.where(finite, below, 1.0), np.inf)
    return drawn.estimate(ratio, "1", no_value("the ratio of widths"))


def _height(
    drawn: DrawnBacks, place: FloatArray, sides: tuple[HalfSections, HalfSections], lateral_mm: float
) -> Sides:
    left, right = (-side.depth_at_lateral(lateral_mm) for side in sides)
    for height, sign in ((left, 1), (right, -1)):
        up = drawn.backs.sections(place[:1], np.zeros(1))[0, 0] + height[0]
        angle = np.arctan2(lateral_mm, up) if np.isfinite(up) else np.pi
        gap = drawn.support.missing(float(place[0]), sign * float(angle))
        if gap is not None:
            return Sides(left=gap, right=gap, total=gap)
    return _sides_of(drawn, left, right, 0.5 * (left + right), "the height")


def _area(drawn: DrawnBacks, place: FloatArray, sides: tuple[HalfSections, HalfSections]) -> Answer:
    depth = drawn.settings.area_depth_mm
    gap = depth_gap(drawn, place, sides, depth)
    if gap is not None:
        return gap
    levels = np.full(drawn.count, depth)
    area = sides[0].area_above(levels) + sides[1].area_above(levels)
    return drawn.estimate(area / 100.0, "cm²", no_value("the area"))


def withers_angle_of(drawn: DrawnBacks) -> Answer:
    """Return the included angle behind the shoulder, of the chords between the set depths [°]."""
    place = place_of(drawn, Level.SHOULDER)
    if isinstance(place, NotMeasured):
        return place
    sides = sides_at(drawn, place)
    upper, lower = drawn.settings.angle_depths_mm
    gap = depth_gap(drawn, place, sides, lower)
    if gap is not None:
        return gap
    total = np.zeros(drawn.count)
    for side in sides:
        out, inner = side.lateral_at_depth(lower), side.lateral_at_depth(upper)
        finite = np.isfinite(out) & np.isfinite(inner)
        run = np.where(finite, out, 0.0) - np.where(finite, inner, 0.0)
        total += np.where(finite, np.rad2deg(np.arctan2(run, lower - upper)), np.inf)
    return drawn.estimate(total, "°", no_value("the withers angle"))


def withers_width_of(drawn: DrawnBacks) -> Answer:
    """Return the width behind the shoulder at the set depth [mm]."""
    place = place_of(drawn, Level.SHOULDER)
    if isinstance(place, NotMeasured):
        return place
    depth = drawn.settings.withers_width_depth_mm
    return _width(drawn, place, sides_at(drawn, place), depth, guttered=False).total
