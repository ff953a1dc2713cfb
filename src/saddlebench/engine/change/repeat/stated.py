"""What an instrument's own statement says that repeats of one back should differ by.

The standing errors of an instrument (zeros, scale) are the same in every repeat and are left out; what is
fresh each time (readings, placing, pressing, level, marks felt again) is drawn and carried through the
estimate of the back at hand. What lies between the stations is the same back every time, too.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.back.descriptors import description_of
from saddlebench.engine.back.estimates import Estimate, estimate_from_draws
from saddlebench.engine.back.frame_errors import FrameError, radial_moves, shifted
from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Scan,
    TapeAndHand,
    ToplineChain,
    TracedCurve,
)
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.levels import DescriptionSettings, DrawnBacks, draw_levels
from saddlebench.engine.back.profiles import Backs
from saddlebench.engine.back.quantities import Quantity, quantities_of
from saddlebench.engine.back.radial import averaged, cells, radial_data
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.regions import BANDS_MM, RegionDifference, difference_weights, spans
from saddlebench.engine.back.surface import EstimatedBack, SurfaceSettings
from saddlebench.engine.change.repeat.scaled import with_errors_times
from saddlebench.engine.change.repeat.sets import laid_over
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray

DRAWS = 128


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedRepeats:
    """Draws of what repeats of one back by one fitter should give, if the instrument's statement holds."""

    deviations: Mapping[Quantity, float]
    """Standard deviation of each number, in its unit."""
    draws: Mapping[Quantity, FloatArray]
    """By number: (d,) float, of each drawn repeat, any frame [unit]; of numbers that every draw has."""
    shift_mm: FloatArray
    """(d, n_s, n_phi) float, back frame: each drawn repeat less the back, along the radius [mm]."""
    region_draws_mm: FloatArray
    """(d, r) float, back frame: each drawn repeat's mean height over the regions [mm]."""
    regions: tuple[Quantity, ...]


def without_standing_errors(instrument: Instrument) -> Instrument:
    """Return an instrument without what is the same in every repeat: the zeros and the scale."""
    match instrument:
        case JointedChain():
            return replace(
                instrument,
                left=replace(instrument.left, zero_sd_deg=0.0),
                right=replace(instrument.right, zero_sd_deg=0.0),
                topline=_without_zero(instrument.topline),
            )
        case PinComb():
            return replace(instrument, zero_sd_mm=0.0)
        case TracedCurve() | Scan():
            return replace(instrument, scale_sd=0.0)
        case TapeAndHand():
            return replace(instrument, sides_sd_mm=0.0)


def _without_zero(topline: ToplineChain | None) -> ToplineChain | None:
    if topline is None:
        return None
    arm: ChainArm = replace(topline.arm, zero_sd_deg=0.0)
    return replace(topline, arm=arm)


def stated_repeats(
    estimated: EstimatedBack,
    record: BackRecord,
    *,
    marks_again: bool = True,
    count: int = DRAWS,
    seed: int = 0,
    settings: SurfaceSettings | None = None,
) -> StatedRepeats:
    """Return what repeats should differ by.

    Parameters
    ----------
    estimated : EstimatedBack
        Of the record.
    record : BackRecord
    marks_again : bool
        Whether the marks were felt anew for each repeat.
    count, seed : int
        Draws; the same seed gives the same.
    settings : SurfaceSettings
        Those that the estimate was made with.
    """
    marks = estimated.landmarks if marks_again else _held(estimated.landmarks)
    shift = _shifts(estimated, record, 1.0, marks, count, seed, settings or SurfaceSettings())
    mean = estimated.surface.radius_mm
    read: dict[Estimate, FloatArray] = {}

    def kept(values: FloatArray, unit: str, otherwise: NotMeasured) -> Estimate | NotMeasured:
        answer = estimate_from_draws(values, unit, otherwise)
        if isinstance(answer, Estimate) and np.isfinite(values).all():
            read[answer] = np.asarray(values[1:], dtype=np.float64)
        return answer

    drawn = DrawnBacks(
        backs=Backs.through(estimated.surface.grid, np.concatenate([mean[None], mean + shift])),
        support=estimated.support,
        marks=draw_levels(marks, count, seed),
        settings=DescriptionSettings(draws=count, seed=seed),
        estimate=kept,
    )
    known = quantities_of(description_of(drawn, _differences(estimated, shift, read))).items()
    regions, heights = _region_draws(estimated, shift)
    return StatedRepeats(
        deviations={
            **{quantity: answer.sd for quantity, answer in known if isinstance(answer, Estimate)},
            **dict(zip(regions, heights.std(axis=0).tolist(), strict=True)),
        },
        draws={q: read[answer] for q, answer in known if isinstance(answer, Estimate) and answer in read},
        shift_mm=shift,
        region_draws_mm=heights,
        regions=regions,
    )


def fixed_variances(
    estimated: EstimatedBack,
    record: BackRecord,
    *,
    marks_again: bool = True,
    count: int = DRAWS,
    seed: int = 0,
    settings: SurfaceSettings | None = None,
) -> FloatArray:
    """Return the part of the regions' variances that no hand betters: rounding, level, marks.

    Parameters
    ----------
    estimated, record, marks_again, count, seed, settings
        As for `stated_repeats`.

    Returns
    -------
    (r,) float, back frame [mm²], in the order of `StatedRepeats.regions`
    """
    marks = estimated.landmarks if marks_again else _held(estimated.landmarks)
    shift = _shifts(estimated, record, 0.0, marks, count, seed, settings or SurfaceSettings())
    return np.asarray(_region_draws(estimated, shift)[1].var(axis=0))


def _region_draws(estimated: EstimatedBack, shift: FloatArray) -> tuple[tuple[Quantity, ...], FloatArray]:
    laid = laid_over([estimated])
    weights = np.array(list(laid.regions.values())).reshape(len(laid.regions), -1)
    return tuple(laid.regions), (shift * to_normal(estimated)).reshape(len(shift), -1) @ weights.T


def _held(landmarks: Landmarks) -> Landmarks:
    felt = {name: getattr(landmarks, name) for name in Landmarks.__dataclass_fields__}
    return replace(
        landmarks, **{name: replace(mark, sd_mm=0.0) for name, mark in felt.items() if is_known(mark)}
    )


def to_normal(estimated: EstimatedBack) -> FloatArray:
    """Return what a change of the radius is along the normal, (n_s, n_phi) float, back frame [1]."""
    radius, grid = estimated.surface.radius_mm, estimated.surface.grid
    slope_s = np.gradient(radius, grid.ds_mm, axis=0)
    slope_phi = np.gradient(radius, grid.dphi, axis=1) / radius
    return np.asarray(1.0 / np.sqrt(1.0 + slope_s**2 + slope_phi**2))


def _shifts(
    estimated: EstimatedBack,
    record: BackRecord,
    factor: float,
    marks: Landmarks,
    count: int,
    seed: int,
    settings: SurfaceSettings,
) -> FloatArray:
    rng = np.random.default_rng([seed, 7])
    fresh = measure_points(
        replace(record, instrument=with_errors_times(without_standing_errors(record.instrument), factor))
    )
    grid, spline = estimated.surface.grid, estimated.surface.spline
    s, phi, _ = grid.polar(fresh.points_back)
    data = radial_data(fresh, grid, spline.radius(s, phi)[:, 1:3])
    data = averaged(data, cells(fresh, grid, settings.most_readings))
    errors = rng.standard_normal((count, data.error_gain.shape[1])) @ data.error_gain.T
    errors += rng.standard_normal((count, len(data.noise_mm))) * data.noise_mm
    shift = estimated.posterior.correction(errors.T)
    whole = radial_moves([*fresh.frame_errors, *_origin(marks)], grid, spline)
    return shift + np.tensordot(rng.standard_normal((count, len(whole))), whole, axes=1)


def _origin(marks: Landmarks) -> tuple[FrameError, ...]:
    """Return the error of the shoulder mark, from which every distance counts."""
    edges = [mark for mark in (marks.shoulder_left, marks.shoulder_right) if is_known(mark)]
    if not edges:
        return ()
    sd = float(np.sqrt(sum(mark.sd_mm**2 for mark in edges))) / len(edges)
    return (shifted("the shoulder mark", sd, (1.0, 0.0, 0.0)),) if sd > 0.0 else ()


def _differences(
    estimated: EstimatedBack, shift: FloatArray, read: dict[Estimate, FloatArray]
) -> tuple[RegionDifference, ...]:
    held = []
    for along, span in spans(estimated.landmarks).items():
        for across, band in BANDS_MM.items():
            weight = difference_weights(estimated, span, band)
            if isinstance(weight, NotMeasured):
                held.append(RegionDifference(along=along, across=across, left_minus_right=weight))
                continue
            draws = np.tensordot(shift, weight, axes=2)
            sd = float(draws.std())
            value = float((weight * estimated.surface.radius_mm).sum())
            answer = Estimate(value=value, sd=sd, low=value - 1.96 * sd, high=value + 1.96 * sd, unit="mm")
            read[answer] = value + draws
            held.append(RegionDifference(along=along, across=across, left_minus_right=answer))
    return tuple(held)
