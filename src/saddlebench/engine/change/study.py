"""The change study: two or more back records of one horse, compared."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from saddlebench import __version__
from saddlebench.engine.back.estimates import Estimate, estimate_from_variance
from saddlebench.engine.back.gaussian import Hyperparameters
from saddlebench.engine.back.surface import station_places
from saddlebench.engine.change.band import Band, Difference, difference_of, simultaneous_band
from saddlebench.engine.change.comparable import cautions_of, neck_cautions
from saddlebench.engine.change.discs import FOUND, Scanned, scan_discs
from saddlebench.engine.change.numbers import numbers_of
from saddlebench.engine.change.pair import laid_pair
from saddlebench.engine.change.readings import RecordedBack, common_grid, common_hyper
from saddlebench.engine.change.results import (
    ChangeMap,
    ChangeStudy,
    Comparison,
    NotComparable,
    Step,
    Visit,
    told_since,
)
from saddlebench.engine.change.settings import USUAL_SETTINGS, ChangeSettings
from saddlebench.engine.change.together import First, first_of
from saddlebench.engine.change.unseen import least_wide
from saddlebench.engine.change.volumes import regions_of, volumes_of
from saddlebench.engine.days import plain_day
from saddlebench.engine.errors import NotMeasured, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray

__all__ = [
    "ChangeMap",
    "ChangeSettings",
    "ChangeStudy",
    "Comparison",
    "NotComparable",
    "RecordedBack",
    "Step",
    "Visit",
    "compare",
    "study_change",
    "told_since",
]

Progress = Callable[[int, int, str], None]
BEYOND_CHANCE = (
    "A map that shows a patch means it: an unchanged back would show one in at most one case of twenty."
)
SCREENING = (
    "This is a screening aid, not a diagnosis.",
    "Pain, lameness, wounds or a sudden change: the veterinary surgeon comes first.",
    "A ridden assessment by a qualified fitter completes it.",
    "Local law and professional codes come before anything said here.",
)
AGAINST_AROUND = "A patch's depth is against what surrounds it; map and sections show the whole."
NOT_WHY = (
    "What changed is measured; why it changed is for the vet, the trainer and the fitter who see the horse."
)
NEAR_MM = 25.0
STEP_READINGS, STEP_SIMULATIONS = 120, 500


def _silent(done: int, of: int, doing: str) -> None:
    del done, of, doing


def study_change(
    records: Sequence[RecordedBack],
    *,
    settings: ChangeSettings = USUAL_SETTINGS,
    versions: Sequence[str] = (),
    progress: Progress = _silent,
) -> ChangeStudy:
    """Compare two or more back records of one horse: the first against the last in full, the others in short.

    Parameters
    ----------
    records : at least two, in any order; a fit check's `MeasuredBack` is one
    settings : ChangeSettings
    versions : digests of the records' files, in the records' order
    progress : called before each step

    Returns
    -------
    ChangeStudy
        Records that say nothing of each other are answers with their reasons.

    Raises
    ------
    InputProblemsError
        With fewer than two records.
    """
    if len(records) < 2:
        raise input_problem(
            "A change needs two back records at least", "Name a record of another day.", Where()
        )
    held = list(versions) or [""] * len(records)
    order = sorted(range(len(records)), key=lambda k: records[k].record.measured_on)
    backs = tuple(records[k] for k in order)
    visits = tuple(_visit(records[k], held[k]) for k in order)
    hyper = common_hyper(backs)
    n_steps = len(backs)
    progress(0, n_steps, "comparing the first with the last")
    whole = compare(backs[0], backs[-1], settings=settings, hyper=hyper, at=(0, len(backs) - 1))
    steps: list[Step | NotComparable] = []
    if len(backs) == 2:
        steps.append(_only_step(whole, visits))
    else:
        quick = _quick(settings)
        grid = common_grid(*(back.estimated for back in backs))
        first = first_of(backs[0], grid, hyper, quick)
        for k in range(1, len(backs)):
            progress(k, n_steps, plain_day(backs[k].record.measured_on))
            steps.append(_step(first, backs[0], backs[k], k, hyper, settings, quick, n_steps - 1))
    progress(n_steps, n_steps, "done")
    return ChangeStudy(
        horse=backs[-1].record.label,
        visits=visits,
        whole=whole,
        steps=tuple(steps),
        engine_version=__version__,
        seed=settings.seed,
        cautions=(BEYOND_CHANCE, AGAINST_AROUND, NOT_WHY, *SCREENING),
    )


def _only_step(whole: Comparison | NotComparable, visits: Sequence[Visit]) -> Step | NotComparable:
    if isinstance(whole, NotComparable):
        return whole
    days = (visits[1].measured_on - visits[0].measured_on).days
    under = next(one.volume for one in whole.volumes if one.along is None and one.side == "both")
    return Step(later=1, days=days, scan=whole.scan, under_saddle=under)


def compare(
    earlier: RecordedBack,
    later: RecordedBack,
    *,
    settings: ChangeSettings = USUAL_SETTINGS,
    hyper: Hyperparameters | None = None,
    at: tuple[int, int] = (0, 1),
) -> Comparison | NotComparable:
    """Compare two records in full.

    Parameters
    ----------
    earlier, later : RecordedBack
    settings : ChangeSettings
    hyper : Hyperparameters
        Of both; by default the geometric means of their own.
    at : (earlier, later) in the study's visits
    """
    laid = laid_pair(earlier, later, hyper, settings, at)
    if isinstance(laid, NotComparable):
        return laid
    difference = difference_of(laid, settings)
    band = simultaneous_band(difference, settings)
    scanned = scan_discs(difference, settings, band.width)
    if scanned is None:
        return NotComparable(earlier=at[0], later=at[1], problems=tuple(_NOTHING_SEEN))
    marks, registration = earlier.record.landmarks, laid.registration
    errors = difference.error_draws(settings)
    volumes, sides = volumes_of(difference, marks, errors)
    return Comparison(
        earlier=at[0],
        later=at[1],
        registration=registration,
        scan=scanned.scan,
        map=_map(difference, scanned, band),
        volumes=volumes,
        numbers=numbers_of(difference, marks, errors),
        sides=sides,
        cautions=(
            *cautions_of(earlier, later, laid.coat, laid.shift, registration, settings),
            *neck_cautions(scanned.scan.patches, marks),
        ),
        least_wide=least_wide(laid.together, scanned, settings),
    )


_NOTHING_SEEN = [
    Problem(
        what="The later record has too few readings where the earlier one measured",
        cure="Measure the same part of the back again, with sections no more than 80 mm apart.",
    )
]


def _visit(back: RecordedBack, version: str) -> Visit:
    record = back.record
    return Visit(
        label=record.label,
        measured_on=record.measured_on,
        instrument=record.instrument.name,
        coat=record.coat,
        n_stations=len(station_places(back.estimated.points)),
        version=version,
    )


def _map(difference: Difference, scanned: Scanned, band: Band) -> ChangeMap:
    return ChangeMap(
        grid=difference.grid,
        common=difference.common,
        change_mm=np.where(difference.common, difference.radius_mm * difference.to_normal, 0.0),
        sd_mm=band.sd_mm * difference.to_normal,
        band=band.width,
        earlier_mm=difference.earlier_mm,
        later_mm=difference.earlier_mm + difference.radius_mm,
        told_mm=_told(difference, scanned),
    )


def _told(difference: Difference, scanned: Scanned, diameter_mm: float = 100.0) -> FloatArray:
    """Return at every node the least change that discs of a diameter about it would tell [mm]."""
    grid, discs = difference.grid, scanned.discs
    some = discs.diameter_mm == diameter_mm
    out = np.full((grid.n_s, grid.n_phi), np.inf)
    if not some.any():
        return out
    i, j = np.nonzero(difference.common)
    points = grid.cartesian(grid.s_mm[i], grid.phi[j], difference.earlier_mm[i, j])
    apart = np.linalg.norm(points[:, None, :] - discs.centre_back[some][None, :, :], axis=2)
    least = (scanned.scan.threshold + FOUND) * scanned.sd_mm[some]
    # Between the middles that were tried, their weighted mean.
    weight = np.exp(-0.5 * (apart / NEAR_MM) ** 2)
    share = weight / np.maximum(weight.sum(axis=1, keepdims=True), 1e-300)
    out[i, j] = np.where(apart.min(axis=1) <= diameter_mm / 2.0, share @ least, np.inf)
    return out


def _quick(settings: ChangeSettings) -> ChangeSettings:
    return replace(
        settings,
        most_readings=min(STEP_READINGS, settings.most_readings),
        simulations=min(STEP_SIMULATIONS, settings.simulations),
        disc_diameters_mm=tuple(d for d in settings.disc_diameters_mm if d >= 100.0)
        or settings.disc_diameters_mm,
        disc_spacing_mm=max(45.0, settings.disc_spacing_mm),
    )


def _step(
    first: First,
    earlier: RecordedBack,
    later: RecordedBack,
    k: int,
    hyper: Hyperparameters,
    settings: ChangeSettings,
    quick: ChangeSettings,
    n_steps: int,
) -> Step | NotComparable:
    laid = laid_pair(earlier, later, hyper, quick, (0, k), passes=1, first=first)
    if isinstance(laid, NotComparable):
        return laid
    difference = difference_of(laid, settings)
    # a step says whether it changed: places of one direction are enough, and no band is worked out
    scanned = scan_discs(difference, quick, np.inf, level=settings.level / n_steps)
    if scanned is None:
        return NotComparable(earlier=0, later=k, problems=tuple(_NOTHING_SEEN))
    days = (later.record.measured_on - earlier.record.measured_on).days
    return Step(later=k, days=days, scan=scanned.scan, under_saddle=_under_saddle(difference, earlier))


def _under_saddle(difference: Difference, first: RecordedBack) -> Estimate | NotMeasured:
    region = next(
        r for r in regions_of(difference, first.record.landmarks) if r.along is None and r.side == "both"
    )
    if region.weights is None:
        return NotMeasured("too little of the saddle's area was measured on both days")
    weights = region.weights / 1000.0
    value = float((difference.radius_mm * weights).sum())
    return estimate_from_variance(value, difference.error_variance(weights), "cm³")
