"""A back's surface: the mean of a Gaussian-process estimate, with what is needed to draw others like it."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.frame_errors import radial_direction, radial_moves
from saddlebench.engine.back.gaussian import GaussianField, condition
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.likelihood import Priors, restricted_maximum_likelihood
from saddlebench.engine.back.polar import PolarGrid, PolarSpline
from saddlebench.engine.back.radial import averaged, cells, radial_data, selected
from saddlebench.engine.back.rounding import held_to, shown_by
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.back.support import SAME_PLACE_MM, Support, support_of
from saddlebench.engine.back.tissue import TissueBounds, tissue_regions
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where
from saddlebench.engine.frames import FloatArray, read_only

LOIN_BEFORE_LAST_RIB_MM, LOIN_UNMARKED_MM = 75.0, 455.0
"""How far in front of the last rib's mark the loin begins, and where if none was made (assumptions)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BackSurface:
    """`R(s, φ)` at the nodes of a polar grid, its standard deviation, and where it was measured at all."""

    grid: PolarGrid
    radius_mm: FloatArray
    """(n_s, n_phi) float, posterior mean [mm]; beyond the measured part it serves iterations only."""
    sd_mm: FloatArray
    """(n_s, n_phi) float, posterior standard deviation [mm]."""
    measured: NDArray[np.bool_]
    """(n_s, n_phi) whether the node lies within what was measured."""
    tissue: NDArray[np.int8]
    """(n_s, n_phi) `Tissue` of the region."""
    spline: PolarSpline


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceSettings:
    """How a surface is estimated."""

    ds_mm: float = 15.0
    """Spacing of nodes along the back."""
    dphi_deg: float = 3.0
    """Spacing of nodes across."""
    margin_mm: float = 60.0
    """How far the grid goes beyond the readings; the solver passes through there, nothing is reported."""
    axis_depth_mm: float = 200.0
    """Depth of the polar axis below the middle of the topline."""
    most_readings: int = 700
    """More points than this are averaged in cells."""
    most_for_likelihood: int = 200
    """Hyperparameters are found from at most about this many readings, spread evenly."""
    priors: Priors = field(default_factory=Priors)
    tissue: TissueBounds = field(default_factory=TissueBounds)


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimatedBack:
    """A surface with its posterior: everything that reports or draws from the estimate."""

    surface: BackSurface
    posterior: GaussianField
    support: Support
    landmarks: Landmarks
    points: MeasuredPoints


@dataclass(frozen=True, slots=True, kw_only=True)
class RadiusEstimate:
    """Radius and standard deviation at one place [mm]."""

    value_mm: float
    sd_mm: float


def estimate_back(
    points: MeasuredPoints, landmarks: Landmarks, settings: SurfaceSettings | None = None
) -> EstimatedBack:
    """Estimate a back's surface from measured points and their errors.

    Two passes: the first takes errors along the radius only; its slopes then project the full covariance of
    the points onto the radius. Errors that move the whole record do not enter the mean; they widen what is
    said of the surface in the back frame.

    Parameters
    ----------
    points : MeasuredPoints
        In the back frame, gravity-levelled.
    landmarks : Landmarks
    settings : SurfaceSettings, optional

    Returns
    -------
    EstimatedBack

    Raises
    ------
    InputProblemsError
        If the points cannot make a surface; every problem is listed.
    """
    settings = settings or SurfaceSettings()
    problems = point_problems(points)
    if problems:
        raise InputProblemsError(problems)
    grid = grid_for(points, settings)
    problems = polar_problems(points, grid)
    if problems:
        raise InputProblemsError(problems)
    n_positions = len(station_places(points))
    posterior = _fitted(points, grid, settings, n_positions, loin_of(landmarks))
    radius = posterior.estimate(posterior.data.radius_mm[:, None])[0]
    spline = PolarSpline.through(grid, radius)
    moves = radial_moves(points.frame_errors, grid, spline)
    posterior = replace(posterior, frame_moves_mm=read_only(moves))
    support = support_of(points, grid, posterior.hyper.length_s_mm)
    measured = support.contains(grid.s_mm[:, None], grid.phi[None, :])
    measured.flags.writeable = False
    surface = BackSurface(
        grid=grid,
        radius_mm=read_only(radius),
        sd_mm=read_only(posterior.standard_deviation()),
        measured=measured,
        tissue=tissue_regions(grid, radius, landmarks, settings.tissue),
        spline=spline,
    )
    return EstimatedBack(
        surface=surface, posterior=posterior, support=support, landmarks=landmarks, points=points
    )


def _fitted(
    points: MeasuredPoints, grid: PolarGrid, settings: SurfaceSettings, n_positions: int, loin_mm: float
) -> GaussianField:
    label = cells(points, grid, settings.most_readings)
    priors = settings.priors
    rough = condition(averaged(radial_data(points, grid), label), priors.medians(loin_mm))
    mean = PolarSpline.through(grid, rough.estimate(rough.data.radius_mm[:, None])[0])
    s, phi, points_radius = grid.polar(points.points_back)
    data = averaged(radial_data(points, grid, mean.radius(s, phi)[:, 1:3]), label)
    order = np.lexsort((s, np.abs(phi)))
    coarse = cells(points, grid, settings.most_for_likelihood)[order]
    keep = np.unique(label[order[np.unique(coarse, return_index=True)[1]]])
    hyper = restricted_maximum_likelihood(selected(data, keep), n_positions, loin_mm, priors)
    posterior = condition(data, hyper)
    if points.rounded and len(label) == len(data.radius_mm):
        direction = radial_direction(phi, points_radius, *mean.radius(s, phi)[:, 1:3].T)
        shown = shown_by(points.rounded, points.points_back, points.station, direction)
        posterior = replace(posterior, data=replace(data, radius_mm=held_to(posterior, shown)))
    return posterior


def loin_of(landmarks: Landmarks) -> float:
    """Return where the loin begins [mm behind the shoulder mark]: a little in front of the last rib."""
    last_rib = landmarks.last_rib
    return last_rib.value_mm - LOIN_BEFORE_LAST_RIB_MM if isinstance(last_rib, Mark) else LOIN_UNMARKED_MM


def radius_at(estimated: EstimatedBack, s_mm: float, phi: float) -> RadiusEstimate | NotMeasured:
    """Return the radius at a place, or why it was not measured.

    Parameters
    ----------
    estimated : EstimatedBack
    s_mm, phi : float
        Distance behind the shoulder mark [mm] and angle, positive left [rad].
    """
    missing = estimated.support.missing(s_mm, phi)
    if missing is not None:
        return missing
    s, angle = np.array([s_mm]), np.array([phi])
    variance = float(estimated.posterior.covariance_at(s, angle)[0, 0])
    value = float(estimated.surface.spline.radius(s, angle)[0, 0])
    return RadiusEstimate(value_mm=value, sd_mm=float(np.sqrt(max(variance, 0.0))))


def station_places(points: MeasuredPoints) -> FloatArray:
    """Return the distinct distances behind the mark, rising, at which cross-sections were measured [mm]."""
    s = -points.points_back[:, 0]
    used = [float(s[points.station == k].mean()) for k in np.unique(points.station) if k >= 0]
    places: list[float] = []
    for place in sorted(used):
        if not places or place - places[-1] >= SAME_PLACE_MM:
            places.append(place)
    return np.array(places)


def grid_for(points: MeasuredPoints, settings: SurfaceSettings) -> PolarGrid:
    """Return the grid over all points and the margin beyond them, symmetric about the midline."""
    s = -points.points_back[:, 0]
    y, z = points.points_back[:, 1], points.points_back[:, 2]
    tops = np.array([z[points.station == k].max() for k in np.unique(points.station)])
    # A sway back dips far below its own middle: the axis stays well under its lowest point.
    axis_z = min(float(np.median(tops)) - settings.axis_depth_mm, float(tops.min()) - 120.0)
    phi, r = np.arctan2(y, z - axis_z), np.hypot(y, z - axis_z)
    margin = settings.margin_mm / float(r[np.argmax(np.abs(phi))])
    dphi = float(np.deg2rad(settings.dphi_deg))
    n_side = int(np.ceil((np.abs(phi).max() + margin) / dphi))
    first = int(np.floor((s.min() - settings.margin_mm) / settings.ds_mm))
    last = int(np.ceil((s.max() + settings.margin_mm) / settings.ds_mm))
    return PolarGrid(
        s0_mm=first * settings.ds_mm,
        ds_mm=settings.ds_mm,
        n_s=last - first + 1,
        phi0=-n_side * dphi,
        dphi=dphi,
        n_phi=2 * n_side + 1,
        axis_z_mm=axis_z,
    )


def point_problems(points: MeasuredPoints) -> list[Problem]:
    """Return what makes a surface impossible before any grid is laid."""
    arrays = [points.points_back, points.sensitivity, points.noise_mm, points.error_sd]
    for error in points.frame_errors:
        arrays += [np.array(error.sd), error.linear, error.shift]
    if not all(np.all(np.isfinite(array)) for array in arrays):
        return [
            Problem(what="Some readings are not finite numbers", cure="Correct or leave out these readings.")
        ]
    problems = []
    for row in np.flatnonzero(np.abs(points.points_back).max(axis=1) > 3000.0)[:20]:
        number = points.stations[points.station[row]].number if points.station[row] >= 0 else None
        problems.append(
            Problem(
                what="A measured point lies more than 3 m from the shoulder mark",
                cure="Check the unit and the reading.",
                where=Where(station=number),
            )
        )
    if not problems and len(station_places(points)) < 2:
        problems.append(
            Problem(
                what="Only one place along the back was measured, which does not make a surface",
                cure="Measure at least three sections: behind the shoulder, lowest point, last rib.",
            )
        )
    return problems


def polar_problems(points: MeasuredPoints, grid: PolarGrid) -> list[Problem]:
    """Return the stations whose points lie too near or too far below the polar axis."""
    _, phi, r = grid.polar(points.points_back)
    wrong = (r < 40.0) | (np.abs(phi) > np.deg2rad(140.0))
    return [
        Problem(
            what="Some points lie far below the back, near or under the middle of the barrel",
            cure="Check this section's readings; it should end on the flanks.",
            where=Where(station=points.stations[k].number if k >= 0 else None),
        )
        for k in np.unique(points.station[wrong])
    ]
