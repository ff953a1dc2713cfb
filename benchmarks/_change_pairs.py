"""Pairs of invented visits, with and without a change, and what the change study says of each."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from saddlebench.demo.shapes import BACK_SHAPES, BackShape
from saddlebench.demo.visits import Change, VisitDay, unchanged, visit
from saddlebench.engine.back.instruments import JointedChain, PinComb, Scale
from saddlebench.engine.back.polar import PolarSpline
from saddlebench.engine.change.band import Difference, difference_of, simultaneous_band
from saddlebench.engine.change.discs import disc_profile, scan_discs
from saddlebench.engine.change.pair import laid_pair
from saddlebench.engine.change.results import DiscScan, NotComparable
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.back_job import MeasuredBack, measured

COMB = PinComb(
    name="comb of 1.5 mm",
    pitch_mm=12.0,
    n_pins=41,
    midline_pin=21.0,
    scale=Scale(lowest=0, highest=400, step=1),
    pin_sd_mm=1.1,
)
"""Pin 1.1 mm, contact 1.0 mm, rounding 0.3 mm: 1.5 mm a reading."""
FIRST = dt.date(2026, 3, 2)
NEAR_MM = 90.0
"""A patch of which the middle lies nearer than this to the true one is at its place."""
NINETY_FIVE = 5.991
"""χ² with two degrees of freedom."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What to simulate: the same numbers always give the same pair."""

    instrument: PinComb | JointedChain
    n_stations: int
    depth_mm: float
    """0: an unchanged pair."""
    is_wide: bool = False
    """Over 300 mm, fading, instead of 100 mm."""
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one simulated pair showed."""

    beyond: bool
    """Whether the scan's strongest disc stands beyond its threshold."""
    named: bool
    mapped: bool
    placed: bool
    """Whether the first patch lies over the true change and near its middle, with its sign."""
    elsewhere: bool
    """Whether its middle lies where nothing changed, though it has the sign of the change."""
    wrong: bool
    """Whether the first patch has the other sign than the change."""
    held: bool
    """Whether the stated 95 % of place hold the true middle, where it is placed."""
    sure: float
    """How sure the first patch's direction is said to be; 0 without one, or beside a wide change."""
    refused: bool = False
    """Whether the records are not compared at all: nothing is then shown."""
    by_shape: bool = False
    """Whether the marks, which here are right but for their errors, were not trusted."""


REFUSED = Answer(
    beyond=False,
    named=False,
    mapped=False,
    placed=False,
    elsewhere=False,
    wrong=False,
    held=False,
    sure=0.0,
    refused=True,
)


def stations(n: int) -> tuple[float, ...]:
    """Return n stations over the usual length of a back."""
    return tuple(float(np.round(s)) for s in np.linspace(-140.0, 560.0, n))


def skin(shape: BackShape, s: FloatArray, angle: FloatArray) -> FloatArray:
    """Return points of the skin, (…, 3) [mm]."""
    r = shape.radius(s, angle)
    return np.stack([s, r * np.sin(angle), r * np.cos(angle)], axis=-1)


def disc_change(shape: BackShape, depth_mm: float, s_mm: float, phi: float) -> Change:
    """Return a change of a depth over 100 mm: full inside, half at the rim, nothing 15 mm beyond it."""
    centre = skin(shape, np.array([s_mm]), np.array([phi]))[0]

    def change(s, angle):
        apart = np.linalg.norm(skin(shape, s, angle) - centre, axis=-1)
        slope_phi = (shape.radius(s, angle + 1e-3) - shape.radius(s, angle - 1e-3)) / 2e-3
        slope_s = shape.radius(s + 0.5, angle) - shape.radius(s - 0.5, angle)
        steep = np.sqrt(1.0 + slope_s**2 + (slope_phi / shape.radius(s, angle)) ** 2)
        return depth_mm * disc_profile(apart / 50.0) * steep

    return change


def wide_change(shape: BackShape, depth_mm: float, s_mm: float, phi: float) -> Change:
    """Return a change that falls off as a bell, to half of its depth 150 mm from its middle."""
    centre = skin(shape, np.array([s_mm]), np.array([phi]))[0]
    return lambda s, angle: (
        depth_mm * 0.5 ** (np.linalg.norm(skin(shape, s, angle) - centre, axis=-1) / 150.0) ** 2
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a pair that is compared shows."""

    scan: DiscScan
    mapped: bool
    """Whether the map tells a change."""
    by_shape: bool
    difference: Difference


def judged(earlier: MeasuredBack, later: MeasuredBack, settings: ChangeSettings) -> Judged | NotComparable:
    """Return what a pair shows, but for the numbers that follow from it."""
    laid = laid_pair(earlier, later, None, settings, (0, 1), passes=2)
    if isinstance(laid, NotComparable):
        return laid
    difference = difference_of(laid, settings)
    band = simultaneous_band(difference, settings)
    scanned = scan_discs(difference, settings, band.width)
    beyond = difference.common & (np.abs(difference.radius_mm) > band.width * band.sd_mm)
    return Judged(
        scan=scanned.scan,
        mapped=bool(beyond.any()),
        by_shape=laid.shift.is_set_elsewhere,
        difference=difference,
    )


def trials(trial: Trial, first: int, count: int) -> Iterator[tuple[int, Answer]]:
    """Yield what simulated pairs show, by number; every pair on the next invented back."""
    settings = ChangeSettings(simulations=800)
    shapes = list(BACK_SHAPES.values())
    n = trial.n_stations
    for k in range(first, first + count):
        rng = np.random.default_rng([trial.seed, n, k])
        shape = shapes[k % len(shapes)].of_height(1600.0)
        s_mm = rng.uniform(-90.0, 510.0)
        from_midline = rng.uniform(-200.0, 200.0)
        phi = from_midline / float(shape.radius(s_mm, from_midline / 250.0))
        kind = wide_change if trial.is_wide else disc_change
        change = kind(shape, trial.depth_mm, s_mm, phi) if trial.depth_mm else unchanged
        sign = 1.0 if rng.uniform() < 0.5 else -1.0
        days = (
            VisitDay(day=FIRST),
            VisitDay(day=FIRST + dt.timedelta(days=180), change=lambda s, a, f=change, g=sign: g * f(s, a)),
        )
        pair = [
            measured(visit(shape.name, shape, trial.instrument, stations(n), day, rng, device=k))
            for day in days
        ]
        held = judged(*pair, settings)
        yield (
            k,
            REFUSED if isinstance(held, NotComparable) else _answer(held, (s_mm, phi), change, sign),
        )


def _answer(held: Judged, true: tuple[float, float], change: Change, sign: float) -> Answer:
    there, same, apart, sd, sure = 0.0, True, 0.0, 1.0, 0.0
    scan, difference = held.scan, held.difference
    if scan.patches:
        patch = scan.patches[0]
        s, phi = np.array([true[0], patch.s_mm]), np.array([true[1], patch.phi])
        surface = PolarSpline.through(difference.grid, difference.earlier_mm)
        middle, at = difference.grid.cartesian(s, phi, surface.radius(s, phi)[:, 0])
        apart, sd, sure = float(np.linalg.norm(middle - at)), patch.place_sd_mm, patch.sure
        there, same = float(change(s[1:], phi[1:])[0]), sign * patch.depth.value > 0.0
    placed = there > 0.0 and same and apart < NEAR_MM
    return Answer(
        beyond=scan.strongest > scan.threshold,
        named=scan.is_told,
        mapped=held.mapped,
        placed=placed,
        elsewhere=scan.is_told and same and not placed,
        wrong=scan.is_told and not same,
        held=placed and (apart / sd) ** 2 < NINETY_FIVE,
        sure=sure,
        by_shape=held.by_shape,
    )
