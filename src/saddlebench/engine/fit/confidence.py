"""How sure a finding is: everything uncertain drawn together, each draw settled and judged like the original.

References
----------
JCGM 101:2008, Evaluation of measurement data — Supplement 1 to the GUM: Propagation of distributions using a
Monte Carlo method, clauses 5.9 (steps), 7.5–7.7 (model values, estimate, coverage interval).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from saddlebench.engine.back.draws import draw_frames, draw_radii
from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.back.polar import PolarSpline, stacked_coefficients
from saddlebench.engine.back.surface import BackSurface, EstimatedBack
from saddlebench.engine.fit.judged_states import cloud_cases, states_of
from saddlebench.engine.fit.measures.batch import MARKS, STRIDE_MM, Pair, SaddleShape, pad_thickness
from saddlebench.engine.fit.measures.collect import measure_pair
from saddlebench.engine.fit.measures.names import Key, MeasureKey, MeasureName
from saddlebench.engine.fit.measures.table import Absent, MeasureTable
from saddlebench.engine.fit.place import usual_place
from saddlebench.engine.fit.problem import FitProblem
from saddlebench.engine.fit.saddle_error import perturbed
from saddlebench.engine.fit.settle import settle_many
from saddlebench.engine.fit.settled import Settlement
from saddlebench.engine.fit.uncertain import (
    HORSE_MASS,
    NEAR_OFF,
    RIDER_MASS,
    Inputs,
    Uncertainty,
    draw_inputs,
    drawn_factors,
    drawn_marks,
    drawn_pads,
    drawn_saddle_errors,
    drawn_stride,
    with_own_saddle,
)
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import resampled

LEAST_OF_THE_MEAN = 0.3
"""Nearer to the axis than this share of the estimate no draw comes, outside the readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CloudSettings:
    """How a cloud of draws is made."""

    draws: int = 256
    seed: int = 0
    points: int = 500
    """Bearing points of the saddle in each draw."""
    threads: int | None = None
    uncertainty: Uncertainty = field(default_factory=Uncertainty)
    saddle: int | None = None
    """Where several saddles are tried on the same backs: a number of this one's own, so that its errors are
    drawn apart from the others'."""

    def stream(self, *key: int) -> np.random.SeedSequence:
        """Return what one kind of thing is drawn from: 1 the back, 2 all else, 3 a saddle of its own."""
        root = np.random.SeedSequence(self.seed)
        return np.random.SeedSequence(root.entropy, spawn_key=key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloud:
    """All draws of one pair, measured."""

    inputs: Inputs
    """With the errors of the record's frame, that no reading taken again would lessen, at the end."""
    radius_shift_mm: FloatArray
    """(d, n_s, n_phi) float, back frame [mm]: each drawn back less the estimate, in the record's frame."""
    table: MeasureTable
    nominal: MeasureTable
    """The undrawn pair at the cloud's number of points: what the draws scatter about."""


def draw_cloud(
    estimated: EstimatedBack, fit: FitProblem, rider_and_tack: float | Absent, settings: CloudSettings
) -> Cloud:
    """Draw, settle and measure a pair many times.

    Parameters
    ----------
    estimated : EstimatedBack
        The posterior that backs are drawn from.
    fit : FitProblem
        The pair as recorded, with the place where the saddle is put.
    rider_and_tack : float or why it is absent
        Rider and saddle over horse [1].
    settings : CloudSettings

    Returns
    -------
    Cloud
        The same for a seed whatever the number of threads.
    """
    thin = _thinned(fit, settings.points)
    inputs = draw_inputs(settings.draws, settings.stream(2), fit.pads)
    if settings.saddle is not None:
        inputs = with_own_saddle(inputs, settings.stream(3, settings.saddle))
    backs = draw_backs(estimated, fit.surface, settings)
    fits = _drawn_fits(thin, inputs, backs.radii_mm, settings.uncertainty)
    usual_stride = np.array([sum(STRIDE_MM) / 2.0])
    start = settle_many([thin], threads=1)[0]
    settlements = settle_many(fits, start=start, threads=settings.threads)
    return Cloud(
        inputs=Inputs(
            names=(*inputs.names, *backs.frame.names),
            values=np.concatenate([inputs.values, backs.frame.values], axis=1),
        ),
        radius_shift_mm=backs.radius_shift_mm,
        table=_measured(thin, fits, settlements, inputs, rider_and_tack, settings.uncertainty),
        nominal=measure_pair(_pair([thin], usual_stride), states_of([start]), rider_and_tack),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnBacks:
    """The backs of a cloud: for a seed the same whatever saddle is tried on them."""

    radii_mm: FloatArray
    """(d, n_s, n_phi) float, back frame [mm]."""
    radius_shift_mm: FloatArray
    """(d, n_s, n_phi) float, back frame [mm]: each less the estimate, in the record's frame."""
    frame: Inputs
    """Errors of the record's frame."""


def draw_backs(estimated: EstimatedBack, surface: BackSurface, settings: CloudSettings) -> DrawnBacks:
    """Return the backs that a cloud is drawn on."""
    radii = _open(draw_radii(estimated, settings.draws, settings.stream(1)), surface)
    words, placed = draw_frames(estimated, settings.draws, settings.stream(1))
    moved = np.tensordot(placed, estimated.posterior.frame_moves_mm, axes=1)
    return DrawnBacks(
        radii_mm=radii,
        radius_shift_mm=radii - surface.radius_mm - moved,
        frame=Inputs(names=tuple(words), values=placed),
    )


def _open(radii: FloatArray, surface: BackSurface) -> FloatArray:
    """Return drawn radii (d, n_s, n_phi) float, back frame [mm], above the axis where nothing was measured.

    Far from any reading a draw may go anywhere. Nothing is judged there, but a surface must stay one.
    """
    least = np.where(surface.measured, -np.inf, LEAST_OF_THE_MEAN * surface.radius_mm)
    return np.maximum(radii, least)


def _thinned(fit: FitProblem, points: int) -> FitProblem:
    saddle = resampled(fit.saddle, points)
    placing = fit.settings.placing or usual_place(fit.landmarks, fit.saddle)
    settings = replace(fit.settings, placing=placing, coarse_points=0, both_positions=False)
    return replace(fit, saddle=saddle, cases=cloud_cases(saddle), settings=settings)


def _drawn_fits(
    thin: FitProblem, inputs: Inputs, radii: FloatArray, uncertainty: Uncertainty
) -> tuple[FitProblem, ...]:
    surface = thin.surface
    layers = stacked_coefficients(surface.grid, radii)
    saddles = perturbed(
        thin.saddle, drawn_saddle_errors(inputs, thin.saddle.shape_error or uncertainty.saddle)
    )
    marks = drawn_marks(inputs, thin.landmarks)
    factors = drawn_factors(inputs, thin.materials, thin.saddle, thin.pads)
    pads = drawn_pads(inputs, thin.pads, uncertainty.pad_ln_sd)
    return tuple(
        replace(
            thin,
            surface=_drawn_surface(surface, radii[index], layers[index]),
            landmarks=marks[index],
            saddle=saddles[index],
            pads=pads[index],
            factors=factors[index],
        )
        for index in range(len(radii))
    )


def _drawn_surface(surface: BackSurface, radius_mm: FloatArray, coefficients: FloatArray) -> BackSurface:
    spline = PolarSpline(grid=surface.grid, coefficients=coefficients)
    return replace(surface, radius_mm=radius_mm, spline=spline)


def _pair(fits: Sequence[FitProblem], stride_mm: FloatArray) -> Pair:
    first = fits[0]
    marks = {
        name: np.array([getattr(fit.landmarks, name).value_mm for fit in fits])
        if isinstance(getattr(first.landmarks, name), Mark)
        else getattr(first.landmarks, name)
        for name in MARKS
    }
    return Pair(
        surface=first.surface,
        coefficients=np.stack([fit.surface.spline.coefficients for fit in fits]),
        marks=marks,
        saddle=first.saddle,
        shape=SaddleShape.of([fit.saddle for fit in fits]),
        pad_mm=np.stack([pad_thickness(fit.pads, over_spine=False) for fit in fits]),
        pad_over_spine_mm=np.stack([pad_thickness(fit.pads, over_spine=True) for fit in fits]),
        stride_mm=stride_mm,
    )


def _measured(
    thin: FitProblem,
    fits: Sequence[FitProblem],
    settlements: Sequence[Settlement],
    inputs: Inputs,
    rider_and_tack: float | Absent,
    uncertainty: Uncertainty,
) -> MeasureTable:
    pair = replace(_pair(fits, drawn_stride(inputs)), saddle=thin.saddle)
    table = measure_pair(pair, states_of(settlements), rider_and_tack)
    return replace(table, columns={**table.columns, **_measured_directly(table, inputs, uncertainty)})


def _measured_directly(
    table: MeasureTable, inputs: Inputs, uncertainty: Uncertainty
) -> dict[Key, FloatArray]:
    """Return columns whose error is that of one direct comparison or weighing."""
    columns: dict[Key, FloatArray] = {}
    for name in (
        MeasureName.SADDLE_POINTS_UNEQUAL,
        MeasureName.SADDLE_BARS_UNEQUAL,
        MeasureName.SADDLE_PANELS_UNEQUAL,
    ):
        key = MeasureKey(name=name)
        if key in table.columns:
            columns[key] = np.abs(table.columns[key] + uncertainty.near_off_mm * inputs.of(NEAR_OFF))
    weighed = MeasureKey(name=MeasureName.RIDER_AND_TACK)
    if weighed in table.columns:
        rider = uncertainty.rider_mass_ln_sd * inputs.of(RIDER_MASS)
        horse = uncertainty.horse_mass_ln_sd * inputs.of(HORSE_MASS)
        columns[weighed] = table.columns[weighed] * np.exp(rider - horse)
    return columns
