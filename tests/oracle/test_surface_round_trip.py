"""Readings → estimated surface → readings, within half a scale division.

The outside here is the instrument's own scale. Where rounding is the only error, the back that was measured
would show every reading within half a division (JCGM 100:2008, F.2.2.1: an indication stands for an interval
of half a division on either side); so must the surface that is estimated from the readings.

What is compared: the readings that were typed, against the *unrounded* settings of the same instrument laid
on the surface's own sections from the surface's own midline, every joint starting from where the surface left
the one before. Only the last reading of either side is left out: the section ends there, and a link or pin
may or may not reach it. Of a tracing, both coordinates are read: the surface must cross the square of half
a division about every point.

The nearest point of a polyhedron against scipy's interior-point method: Lawson & Hanson, Solving
Least Squares Problems (1974), ch. 23.
"""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from saddlebench.demo.shapes import HIGH_WITHERS, LEFT_SHOULDER, PLAIN, SWAY, BackShape
from saddlebench.engine.back.backwards import readings_of, sections_of_radius, sections_of_surface
from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    Placing,
    Scale,
    Scan,
    TracedCurve,
    even_arm,
)
from saddlebench.engine.back.outline import half_outlines
from saddlebench.engine.back.readings import BackReadings, SectionPoints, StationReadings
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.rounding import ContradictionError, least_distance
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.back.surface import EstimatedBack, estimate_back
from saddlebench.engine.frames import FloatArray

DISTANCES = (-80.0, -10.0, 70.0, 150.0, 240.0, 330.0, 430.0)
PHI = np.deg2rad(np.linspace(-95.0, 95.0, 1901))
# Heights are typed to the millimetre: that is their rounding, and shared by a whole section.
PLACED = Placing(
    along_mm=0.0, midline_mm=0.0, tilt_deg=0.0, lean_deg=0.0, contact_mm=0.0, height_mm=1.0 / np.sqrt(12.0)
)
DEGREES = Scale(lowest=-90.0, highest=90.0, step=1.0)
DIAL = Scale(per_division=5.0, lowest=-12.0, highest=12.0, step=0.25)
MILLIMETRES = Scale(lowest=0.0, highest=300.0, step=1.0)
FINE = even_arm(12, 25.0, DEGREES, joint_sd_deg=0.0, zero_sd_deg=0.0)
COARSE = even_arm(8, 40.0, DIAL, joint_sd_deg=0.0, zero_sd_deg=0.0)
PADDED = replace(
    even_arm(9, 32.0, DEGREES, joint_sd_deg=0.0, zero_sd_deg=0.0, first_joint_out_mm=10.0),
    first_joint_up_mm=5.0,
    pad_along_mm=(20.0, *(32.0,) * 8),
    pad_below_mm=(5.0,) * 9,
)
COMB = PinComb(
    name="comb on a foot",
    pitch_mm=10.0,
    n_pins=41,
    midline_pin=21.0,
    scale=MILLIMETRES,
    pin_sd_mm=0.0,
    zero_sd_mm=0.0,
    offset_mm=40.0,
    offset_sd_mm=0.0,
    placing=PLACED,
)
INSTRUMENTS: dict[str, Instrument] = {
    "twelve links of 25 mm, whole degrees": JointedChain(name="a", left=FINE, right=FINE, placing=PLACED),
    "eight links of 40 mm, quarter divisions": JointedChain(
        name="b", left=COARSE, right=COARSE, placing=PLACED
    ),
    "links on pads, sides differ": JointedChain(name="c", left=PADDED, right=FINE, placing=PLACED),
    "comb of 41 pins": COMB,
    "comb of 24 pins in cm, off centre": replace(
        COMB,
        pitch_mm=15.0,
        n_pins=24,
        midline_pin=11.5,
        scale=Scale(per_division=10.0, lowest=0.0, highest=30.0, step=0.1),
    ),
    "tracing": TracedCurve(name="t", spring_back_sd_mm=0.0, point_sd_mm=0.0, placing=PLACED),
    "tracing at half size": TracedCurve(
        name="h", mm_per_unit=2.0, step=0.5, spring_back_sd_mm=0.0, point_sd_mm=0.0, placing=PLACED
    ),
}
SHAPES = (PLAIN, HIGH_WITHERS, SWAY, LEFT_SHOULDER)


def without_rounding(instrument: Instrument) -> Instrument:
    """The same instrument with a scale so fine that it shows what it is set to."""
    if isinstance(instrument, JointedChain):
        left, right = (
            replace(arm, scale=replace(arm.scale, step=1e-6)) for arm in (instrument.left, instrument.right)
        )
        return replace(instrument, left=left, right=right)
    assert isinstance(instrument, PinComb)
    return replace(instrument, scale=replace(instrument.scale, step=1e-6))


def scales_of(instrument: Instrument) -> tuple[Scale, Scale]:
    if isinstance(instrument, JointedChain):
        return instrument.left.scale, instrument.right.scale
    assert isinstance(instrument, PinComb)
    return instrument.scale, instrument.scale


def read_off(instrument: Instrument, shape: BackShape) -> BackReadings:
    """Lay the instrument on the back and read every joint or pin off its scale: roundings are independent."""
    back = sections_of_radius(shape.radius, shape.axis_z_mm, PHI)
    if isinstance(instrument, TracedCurve):
        return readings_of(back, instrument, DISTANCES)
    laid = readings_of(back, without_rounding(instrument), DISTANCES)
    left, right = scales_of(instrument)

    def read(values: tuple[float | None, ...], scale: Scale) -> tuple[float | None, ...]:
        return tuple(None if v is None else scale.nearest(v * scale.per_division) for v in values)

    stations = []
    for station in laid.stations:
        assert isinstance(station, StationReadings)
        (middle,) = read((station.middle,), left)
        stations.append(
            replace(station, left=read(station.left, left), right=read(station.right, right), middle=middle)
        )
    return replace(laid, stations=tuple(stations))


def points_of_readings(instrument: Instrument, readings: BackReadings) -> MeasuredPoints:
    return measure_points(
        BackRecord(
            label="invented",
            measured_on=dt.date(2026, 5, 4),
            instrument=instrument,
            readings=readings,
            stance=Stance(sd_deg=0.5),
        )
    )


def divisions_apart(back: EstimatedBack, instrument: Instrument, readings: BackReadings) -> FloatArray:
    """How far the surface's unrounded settings lie from the readings, in steps of the scale."""
    again = readings_of(sections_of_surface(back.surface), without_rounding(instrument), DISTANCES)
    apart = []
    for before, after in zip(readings.stations, again.stations, strict=True):
        assert isinstance(before, StationReadings)
        assert isinstance(after, StationReadings)
        for side, scale in zip(("left", "right"), scales_of(instrument), strict=True):
            pairs = zip(getattr(before, side), getattr(after, side), strict=True)
            read = [(b, a) for b, a in pairs if b is not None]
            assert all(a is not None for _, a in read[:-1]), "the surface ends inside the readings"
            apart += [abs(a - b) / scale.step for b, a in read[:-1]]
    return np.array(apart)


def squares_missed_by(back: EstimatedBack, curve: TracedCurve, readings: BackReadings) -> FloatArray:
    """How far each traced point's square is from the surface, in steps: largest coordinate difference."""
    section_at = sections_of_surface(back.surface, points_per_cell=200)
    missed = []
    for station in readings.stations:
        assert isinstance(station, SectionPoints)
        outline = section_at(station.distance_mm)
        assert isinstance(outline, np.ndarray)
        left, right, _ = half_outlines(outline)
        for points, half in ((station.left, left), (station.right, right)):
            off = np.abs(half[None] - curve.mm_per_unit * np.array(points)[:-1, None])
            missed += list(off.max(axis=2).min(axis=1) / (curve.step * curve.mm_per_unit))
    return np.array(missed)


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@pytest.mark.parametrize("name", [n for n in INSTRUMENTS if "tracing" not in n])
def test_every_reading_comes_back_within_half_a_division(name: str, shape: BackShape) -> None:
    instrument = INSTRUMENTS[name]
    readings = read_off(instrument, shape)
    back = estimate_back(points_of_readings(instrument, readings), shape.landmarks)
    apart = divisions_apart(back, instrument, readings)
    assert len(apart) > 60
    assert apart.max() <= 0.5


@pytest.mark.parametrize("name", [n for n in INSTRUMENTS if "links" in n])
def test_readings_that_were_set_come_back_too(name: str) -> None:
    """Run backwards, each link starts from where rounding left the one before.

    A joint reads the difference of two directions, so the roundings ρ of three neighbours enter as
    `ρₖ − 2ρₖ₋₁ + ρₖ₋₂`: on the back itself such a reading is off by up to two divisions. Yet there is a
    surface that shows them all to half a division, since one through all pads shows them exactly.
    """
    instrument = INSTRUMENTS[name]
    readings = readings_of(sections_of_radius(PLAIN.radius, PLAIN.axis_z_mm, PHI), instrument, DISTANCES)
    back = estimate_back(points_of_readings(instrument, readings), PLAIN.landmarks)
    assert divisions_apart(back, instrument, readings).max() <= 0.5


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
@pytest.mark.parametrize("name", [n for n in INSTRUMENTS if "tracing" in n])
def test_the_surface_crosses_every_traced_points_square(name: str, shape: BackShape) -> None:
    curve = INSTRUMENTS[name]
    assert isinstance(curve, TracedCurve)
    readings = read_off(curve, shape)
    back = estimate_back(points_of_readings(curve, readings), shape.landmarks)
    missed = squares_missed_by(back, curve, readings)
    assert len(missed) > 150
    # The outline is drawn every 0.06 mm: a twentieth of a step at most.
    assert missed.max() <= 0.5 + 0.05


def test_least_squares_alone_does_not_hold_them() -> None:
    """What the holding is for: without it a pin here and there misses its half division."""
    readings = read_off(COMB, PLAIN)
    points = points_of_readings(COMB, readings)
    free = estimate_back(replace(points, rounded=()), PLAIN.landmarks)
    held = estimate_back(points, PLAIN.landmarks)
    assert divisions_apart(free, COMB, readings).max() > 0.55
    # And it takes little: the held back is a tenth of a deviation from the most likely one.
    away = (held.surface.radius_mm - free.surface.radius_mm)[held.surface.measured]
    assert np.sqrt(np.mean(away**2)) < 0.5 * np.mean(free.surface.sd_mm[free.surface.measured])
    # The readings tell as much as before; only the frame's errors follow the other surface's slopes.
    np.testing.assert_allclose(held.surface.sd_mm, free.surface.sd_mm, rtol=1e-2)


def test_a_misread_pin_leaves_the_most_likely_back() -> None:
    readings = read_off(COMB, PLAIN)
    first = readings.stations[2]
    assert isinstance(first, StationReadings)
    wrong = replace(first, left=(*first.left[:6], first.left[6] + 25.0, *first.left[7:]))
    misread = replace(readings, stations=(*readings.stations[:2], wrong, *readings.stations[3:]))
    points = points_of_readings(COMB, misread)
    held, free = (estimate_back(p, PLAIN.landmarks).surface for p in (points, replace(points, rounded=())))
    np.testing.assert_array_equal(held.radius_mm, free.radius_mm)


def test_the_same_place_read_twice_and_differently_leaves_the_most_likely_back() -> None:
    readings = read_off(COMB, PLAIN)
    first = readings.stations[3]
    assert isinstance(first, StationReadings)
    again = replace(first, left=tuple(None if v is None else v + 4.0 for v in first.left), repeat=1)
    points = points_of_readings(COMB, replace(readings, stations=(*readings.stations, again)))
    held, free = (estimate_back(p, PLAIN.landmarks).surface for p in (points, replace(points, rounded=())))
    np.testing.assert_array_equal(held.radius_mm, free.radius_mm)


@pytest.mark.parametrize(
    "instrument",
    [
        replace(COMB, pin_sd_mm=0.3),
        replace(COMB, offset_mm=None),
        replace(COMB, placing=replace(PLACED, contact_mm=1.0)),
        JointedChain(name="c", left=replace(FINE, zero_sd_deg=0.1), right=FINE, placing=PLACED),
    ],
    ids=["a pin's own error", "height from its own pin", "contact", "a zero"],
)
def test_any_other_error_and_rounding_is_a_bell_again(instrument: Instrument) -> None:
    assert points_of_readings(instrument, read_off(instrument, PLAIN)).rounded == ()


def test_lawson_hanson_23_least_distance() -> None:
    # Nearest to the origin of x + y ≥ 2 and x ≥ 1.5: on both edges' meeting.
    edges = np.array([[1.0, 1.0], [1.0, 0.0]])
    np.testing.assert_allclose(least_distance(edges, np.array([2.0, 1.5])), [1.5, 0.5], atol=1e-12)
    np.testing.assert_allclose(least_distance(edges, np.array([-1.0, -2.0])), [0.0, 0.0], atol=1e-12)
    rng = np.random.default_rng(4)
    for _ in range(5):
        edges = rng.normal(size=(30, 6))
        inside = rng.normal(size=6)
        bound = edges @ inside - rng.uniform(0.0, 1.0, 30)
        found = least_distance(edges, bound)
        other = optimize.minimize(
            lambda x: float(x @ x),
            inside,
            jac=lambda x: 2 * x,
            constraints=optimize.LinearConstraint(edges, lb=bound),
            method="trust-constr",
            options={"gtol": 1e-10, "xtol": 1e-12, "maxiter": 3000},
        )
        # An interior point stops short of every edge by its last barrier over its multiplier: 1e-5 of x.
        np.testing.assert_allclose(found, other.x, atol=1e-4)
        assert found @ found <= other.x @ other.x + 1e-6
        assert (edges @ found - bound).min() > -1e-10


def test_inequalities_that_contradict_each_other_are_told() -> None:
    with pytest.raises(ContradictionError):
        least_distance(np.array([[1.0, 0.0], [-1.0, 0.0]]), np.array([1.0, 1.0]))


def test_a_scan_has_no_scale_to_round_to() -> None:
    scan = Scan(name="scan", point_sd_mm=0.1)
    readings = readings_of(sections_of_radius(PLAIN.radius, PLAIN.axis_z_mm, PHI[::10]), scan, DISTANCES)
    assert points_of_readings(scan, readings).rounded == ()
