"""A back in numbers: the numbers of the shape that was measured, or why they are not there."""

from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.shapes import GUTTERED_NATIVE, HIGH_WITHERS, LEFT_SHOULDER, PLAIN, SWAY, BackShape
from saddlebench.engine.back.descriptors import BackDescription, describe
from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.levels import Answer, DescriptionSettings, Level, LevelDescription
from saddlebench.engine.back.regions import Across, Along, side_differences
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.errors import NotMeasured, is_known
from support.measured import points_of

FIFTEEN = tuple(np.linspace(-190.0, 640.0, 15))
FEW = DescriptionSettings(draws=60)


def described(shape: BackShape, marks: Landmarks | None = None, **how: float) -> BackDescription:
    points = points_of(shape, FIFTEEN, n_side=18, reach_deg=97.0, noise_mm=0.5, **how)
    back = estimate_back(points, marks or shape.landmarks)
    return describe(back, marks or shape.landmarks, FEW)


@pytest.fixture(scope="module")
def plain() -> BackDescription:
    return described(PLAIN)


def known(answer: Answer) -> Estimate:
    assert is_known(answer), answer
    return answer


def level_of(description: BackDescription, level: Level) -> LevelDescription:
    return next(one for one in description.levels if one.level is level)


def true_width(shape: BackShape, s: float, depth: float) -> float:
    points = shape.section(s, n=8001)
    top = float(shape.radius(s, 0.0)) + shape.axis_z_mm
    return float(np.ptp(points[points[:, 2] > top - depth][:, 1]))


@pytest.mark.parametrize("level", list(Level))
@pytest.mark.parametrize("depth", [30.0, 150.0])
def test_widths_are_those_of_the_shape(plain: BackDescription, level: Level, depth: float) -> None:
    section = level_of(plain, level)
    width = known(section.widths[depth].total)
    true = true_width(PLAIN, known(section.place).value, depth)
    # Exact points with 0.5 mm stated: between stations 59 mm apart half a millimetre is lost each side, and
    # near the top a millimetre of height is worth 1.5–2 mm of width.
    assert width.value == pytest.approx(true, abs=2.5)
    assert width.low < width.value < width.high
    assert known(section.widths[depth].left).value == pytest.approx(width.value / 2, abs=0.01)


def test_ratio_is_of_the_widths_and_its_units_are_stated(plain: BackDescription) -> None:
    section = level_of(plain, Level.LOWEST)
    upper, lower = (known(section.widths[d].total) for d in (30.0, 150.0))
    ratio = known(section.width_ratio)
    assert ratio.value == pytest.approx(upper.value / lower.value, rel=1e-12)
    assert (ratio.unit, upper.unit, known(section.area).unit) == ("1", "mm", "cm²")
    assert (known(plain.withers_angle).unit, known(plain.volume).unit) == ("°", "cm³")


def test_area_and_volume_are_integrals_of_the_shape(plain: BackDescription) -> None:
    s = known(level_of(plain, Level.LOWEST).place).value
    outline = PLAIN.section(s, n=8001)
    height = np.maximum(outline[:, 2] - (outline[4000, 2] - 150.0), 0.0)
    # outline runs right to left: y rises.
    true = float(np.trapezoid(height, outline[:, 1])) / 100.0
    assert known(level_of(plain, Level.LOWEST).area).value == pytest.approx(true, rel=0.01)
    stations = np.linspace(0.0, 540.0, 109)
    heights = PLAIN.radius(np.arange(100.0, 500.0, 1.0), 0.0) + PLAIN.axis_z_mm
    plane = float(heights.min()) - 100.0
    areas = []
    for station in stations:
        outline = PLAIN.section(station, n=2001)
        areas.append(float(np.trapezoid(np.maximum(outline[:, 2] - plane, 0.0), outline[:, 1])))
    # Half a millimetre of height over some 20 cm of width and the plane's own height: under one per cent.
    assert known(plain.volume).value == pytest.approx(np.trapezoid(areas, stations) / 1000.0, rel=0.01)


def test_topline_of_a_sway_back() -> None:
    topline = described(SWAY).topline
    s = np.arange(-150.0, 560.0, 1.0)
    z = SWAY.radius(s, 0.0) + SWAY.axis_z_mm
    low = int(np.argmin(z[200:])) + 200
    # The bottom is flat: a millimetre of height is worth twenty of place.
    assert known(topline.deepest_place).value == pytest.approx(s[low], abs=10.0)
    assert known(topline.deepest_height).value == pytest.approx(z[low], abs=1.0)
    assert known(topline.rise_to_withers).value == pytest.approx(z.max() - z[low], abs=1.5)
    assert known(topline.rise_to_loin).value == pytest.approx(
        float(SWAY.radius(560.0, 0.0)) + SWAY.axis_z_mm - z[low], abs=1.5
    )


def test_withers_angle_is_that_of_the_chords(plain: BackDescription) -> None:
    run = (true_width(PLAIN, 0.0, 120.0) - true_width(PLAIN, 0.0, 40.0)) / 2
    # 1 mm on a chord of 80 mm is 0.5° a side.
    assert known(plain.withers_angle).value == pytest.approx(2 * np.rad2deg(np.arctan2(run, 80.0)), abs=1.5)
    narrow = known(described(HIGH_WITHERS).withers_angle)
    assert narrow.value < known(plain.withers_angle).value


def test_guttered_backs_are_read_in_heights() -> None:
    description = described(GUTTERED_NATIVE)
    lowest = level_of(description, Level.LOWEST)
    assert lowest.guttered is True
    width = lowest.widths[30.0].total
    assert isinstance(width, NotMeasured)
    assert "heights at set half-widths" in width.reason
    assert isinstance(lowest.width_ratio, NotMeasured)
    height = known(lowest.heights[50.0].left)
    s = known(lowest.place).value
    outline = GUTTERED_NATIVE.section(s, n=8001)[4000:]
    true = float(np.interp(50.0, outline[:, 1], outline[:, 2])) - outline[0, 2]
    assert height.value == pytest.approx(true, abs=1.0)
    assert level_of(description, Level.SHOULDER).guttered is False


def test_marks_that_are_missing_say_so() -> None:
    marks = replace(PLAIN.landmarks, last_rib=NotMeasured("not marked"), lowest=NotMeasured("not marked"))
    description = described(PLAIN, marks)
    for level in (Level.LAST_RIB, Level.LOWEST):
        width = level_of(description, level).widths[30.0].total
        assert isinstance(width, NotMeasured)
        assert f"the {level} was not marked" in width.reason
    assert isinstance(description.length, NotMeasured)
    assert isinstance(description.volume, NotMeasured)
    assert isinstance(description.topline.rise_to_loin, NotMeasured)
    assert is_known(description.topline.deepest_place)
    assert is_known(description.withers_angle)


def test_a_level_outside_what_was_measured_names_the_station() -> None:
    points = points_of(PLAIN, (20.0, 150.0, 280.0, 410.0), reach_deg=70.0)
    marks = PLAIN.landmarks
    description = describe(estimate_back(points, marks), marks, FEW)
    withers = level_of(description, Level.WITHERS).area
    assert isinstance(withers, NotMeasured)
    assert withers.stations == (1,)
    deep = level_of(description, Level.LOWEST).widths[150.0].total
    assert isinstance(deep, NotMeasured)
    assert deep.stations == (2, 3)
    assert is_known(level_of(description, Level.LOWEST).widths[30.0].total)


def test_a_softer_mark_makes_a_softer_width(plain: BackDescription) -> None:
    hard = replace(PLAIN.landmarks, withers=Mark(-71.0, 0.0), last_rib=Mark(540.0, 0.5))
    firm = described(PLAIN, hard)
    soft_rise, firm_rise = (known(d.topline.rise_to_loin).sd for d in (plain, firm))
    # The loin rises 0.1 mm a millimetre there: 20 mm of last rib is 2 mm of rise.
    assert soft_rise > 2.0 * firm_rise
    assert known(firm.length).sd < known(plain.length).sd


def test_bigger_left_shoulder_is_seen_where_it_is() -> None:
    found = {
        (one.along, one.across): known(one.left_minus_right) for one in described(LEFT_SHOULDER).differences
    }
    shoulder = found[Along.SHOULDER, Across.OUTER]
    assert shoulder.low > 1.0
    rear = found[Along.REAR, Across.OUTER]
    assert rear.low < 0.0 < rear.high


def test_symmetric_backs_have_no_side(plain: BackDescription) -> None:
    for one in plain.differences:
        # Exact symmetric points: rounding through the posterior.
        assert known(one.left_minus_right).value == pytest.approx(0.0, abs=1e-6)
        assert known(one.left_minus_right).sd > 0.05


def test_a_region_measured_on_one_side_only_is_not_compared() -> None:
    points = points_of(PLAIN, FIFTEEN, n_side=18)
    keep = points.points_back[:, 1] > -20.0
    one_sided = replace(
        points,
        points_back=points.points_back[keep],
        station=points.station[keep],
        side=points.side[keep],
        sensitivity=points.sensitivity[keep],
        noise_mm=points.noise_mm[keep],
    )
    back = estimate_back(one_sided, PLAIN.landmarks)
    assert all(isinstance(d.left_minus_right, NotMeasured) for d in side_differences(back, PLAIN.landmarks))


def test_descriptions_repeat() -> None:
    assert described(PLAIN) == described(PLAIN)
