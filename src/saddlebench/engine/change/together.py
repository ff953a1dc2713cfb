"""Two records as one set of readings on one grid, with everything that may have moved them.

`y = H F + G u + e`, the earlier record's readings first: `F` is the back if it did not change, `u` standard
normal errors (readings', the instrument's own that both records share, where the later record may lie off,
the coat, the posture), `e` what every reading has of its own. Under no change `Cov y = H K Hᵀ + G Gᵀ +
diag(e²) + T`, `T` the flesh of either day; a change adds `H₂ Δ` to the later record's readings.
"""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from scipy import linalg, sparse

from saddlebench.engine.back.frame_errors import FrameError, shifted, turned
from saddlebench.engine.back.gaussian import (
    GaussianField,
    Hyperparameters,
    RadialData,
    condition,
    matern,
    node_distances,
    seen_by,
)
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.radial import averaged, cells, radial_data
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.back.support import Support, support_of
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.change.coat import CoatOffset
from saddlebench.engine.change.marks import ShiftAlong
from saddlebench.engine.change.posture import posture_moves, posture_sd
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

STANDING = "zero of "
"""How the sources of an instrument's own standing errors begin: its joints' and pins' zeros."""
COAT = "coat"
ALONG = "place along the back"


class RecordedBack(Protocol):
    """A back record with its surface."""

    @property
    def record(self) -> BackRecord:
        """What was read."""
        ...

    @property
    def estimated(self) -> EstimatedBack:
        """Its surface and posterior."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """One record's readings on the common grid."""

    data: RadialData
    """Its own errors alone, without those that concern the pair."""
    points_back: FloatArray
    """(n, 3) float, back frame of the earlier record, averaged as the readings are [mm]."""
    to_radius: FloatArray
    """(n,) float, a move along the normal of 1 mm in radius [1]."""
    sources: tuple[str, ...]
    field: GaussianField
    """Its own posterior on the common grid."""
    support: Support


@dataclass(frozen=True, slots=True, kw_only=True)
class First:
    """The earlier record's readings on a grid: the same for every later record that lies on it as well."""

    grid: PolarGrid
    rows: Rows
    posture_gain: FloatArray
    """(n, p) float, radial move of the readings per deviation of posture [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """Errors of where the later record lies and of its coat: what is estimated and taken off again."""

    names: tuple[str, ...]
    gain: FloatArray
    """(n₂, q) float, radial move of the later readings per deviation [mm]."""
    expected: FloatArray
    """(q,) float, in deviations [1]."""
    rigid: FloatArray
    """(6, q) float: x, y, z [mm], roll, pitch, yaw [rad] of a deviation of each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """Both records."""

    grid: PolarGrid
    hyper: Hyperparameters
    earlier: Rows
    later: Rows
    laid: Laid
    residual_mm: FloatArray
    """(n,) float, y less the mean of all backs and what marks and coat make expect [mm]."""
    covariance: FloatArray
    """(n, n) float, under no change [mm²]."""
    factor: FloatArray
    """(n, n) float, its lower Cholesky factor [mm]."""

    @property
    def n_earlier(self) -> int:
        """How many readings the earlier record has."""
        return len(self.earlier.data.radius_mm)

    @property
    def laid_gain(self) -> FloatArray:
        """(n, q) float, `Laid.gain` over all readings [mm]."""
        q = self.laid.gain.shape[1]
        return np.concatenate([np.zeros((self.n_earlier, q)), self.laid.gain])


def common_hyper(backs: tuple[RecordedBack, ...]) -> Hyperparameters:
    """Return hyperparameters that all records share: the geometric means of each one's own."""
    every = np.log(
        [
            (h.sigma_mm, h.length_s_mm, h.length_phi, h.tau_mm)
            for h in (back.estimated.posterior.hyper for back in backs)
        ]
    )
    sigma, length_s, length_phi, tau = (float(v) for v in np.exp(every.mean(axis=0)))
    return Hyperparameters(sigma_mm=sigma, length_s_mm=length_s, length_phi=length_phi, tau_mm=tau)


def common_grid(earlier: EstimatedBack, *later: EstimatedBack, margin_mm: float = 45.0) -> PolarGrid:
    """Return a grid about the earliest record's axis that holds all records' points."""
    held = earlier.surface.grid
    points = np.concatenate([one.points.points_back for one in (earlier, *later)])
    s, phi, _ = held.polar(points)
    first = int(np.floor((s.min() - margin_mm) / held.ds_mm))
    last = int(np.ceil((s.max() + margin_mm) / held.ds_mm))
    n_side = int(np.ceil(np.abs(phi).max() / held.dphi)) + 4
    return PolarGrid(
        s0_mm=first * held.ds_mm,
        ds_mm=held.ds_mm,
        n_s=last - first + 1,
        phi0=-n_side * held.dphi,
        dphi=held.dphi,
        n_phi=2 * n_side + 1,
        axis_z_mm=held.axis_z_mm,
    )


def normals_of(estimated: EstimatedBack) -> FloatArray:
    """Return the outward unit normals (n, 3) of a record's own surface at its points, back frame [1]."""
    s, phi, r = estimated.surface.grid.polar(estimated.points.points_back)
    _, slope_s, slope_phi = estimated.surface.spline.radius(s, phi)[:, :3].T
    sine, cosine, turn = np.sin(phi), np.cos(phi), slope_phi / r
    along = np.stack([slope_s, sine - turn * cosine, cosine + turn * sine], axis=1)
    return np.asarray(along / np.linalg.norm(along, axis=1)[:, None])


def rows_of(
    back: RecordedBack,
    moved_back: FloatArray,
    grid: PolarGrid,
    hyper: Hyperparameters,
    extra: dict[str, FloatArray],
    settings: ChangeSettings,
) -> tuple[Rows, FloatArray]:
    """Return a record's readings on a grid, and what further moves of its points do to them.

    Parameters
    ----------
    back : RecordedBack
    moved_back : (n, 3) float, back frame of the earlier record, the record's points where they are laid [mm]
    grid : PolarGrid
    hyper : Hyperparameters
    extra : dict of (n, 3) float, back frame, moves per deviation [mm]
    settings : ChangeSettings

    Returns
    -------
    Rows
    (n', len(extra)) float, radial moves [mm]
    """
    points = back.estimated.points
    normals = normals_of(back.estimated)
    _, phi, r = grid.polar(moved_back)
    outward = np.stack([np.zeros_like(phi), np.sin(phi), np.cos(phi)], axis=1)
    # What a move does to the radius beside the surface, from the surface's normal whichever its axis.
    direction = normals / np.maximum((normals * outward).sum(axis=1), 0.2)[:, None]
    slopes = np.stack(
        [direction[:, 0], r * (direction[:, 2] * np.sin(phi) - direction[:, 1] * np.cos(phi))], axis=1
    )
    m = points.sensitivity.shape[2]
    moves = np.stack(list(extra.values()), axis=-1) if extra else np.zeros((len(r), 3, 0))
    with_extra = replace(
        points,
        points_back=moved_back,
        sensitivity=np.concatenate([points.sensitivity, moves], axis=2),
        error_sd=np.concatenate([points.error_sd, np.ones(len(extra))]),
    )
    label = cells(with_extra, grid, settings.most_readings)
    held = averaged(radial_data(with_extra, grid, slopes), label)
    share = sparse.csr_array((1.0 / np.bincount(label)[label], (label, np.arange(len(label)))))
    own = replace(held, error_gain=held.error_gain[:, :m].copy())
    return (
        Rows(
            data=own,
            points_back=share @ moved_back,
            to_radius=share @ np.linalg.norm(direction, axis=1),
            sources=points.error_source,
            field=condition(own, hyper),
            support=support_of(replace(points, points_back=moved_back), grid, hyper.length_s_mm),
        ),
        held.error_gain[:, m:],
    )


def _frames(points: MeasuredPoints) -> tuple[FrameError, ...]:
    return points.frame_errors


def laying_errors(
    earlier: EstimatedBack, later: EstimatedBack, shift: ShiftAlong, settings: ChangeSettings
) -> tuple[tuple[FrameError, ...], tuple[FrameError, ...]]:
    """Return what the later record may lie off by: what is corrected, and what only widens the doubt.

    Level, heading and place are corrected, within what ground, instrument and marks may be off; the scale of
    a scan or of tracing sheets is not: growth must not be taken for it. Heights count from the midline at the
    shoulder mark: a mark set further back lies lower or higher by the topline's slope there.
    """
    stated = (*_frames(earlier.points), *_frames(later.points))
    corrected = tuple(one for one in stated if np.trace(one.linear) == 0.0)
    own = (
        shifted(ALONG, shift.sd_mm, (1.0, 0.0, -topline_slope(earlier))),
        shifted("beside the midline", settings.sideways_sd_mm, (0.0, 1.0, 0.0)),
        shifted("height of the whole", settings.heave_sd_mm, (0.0, 0.0, 1.0)),
        turned("heading of the midline", np.sqrt(2.0) * settings.yaw_sd_deg * DEGREE, (0.0, 0.0, 1.0)),
    )
    return (*own, *corrected), tuple(one for one in stated if np.trace(one.linear) != 0.0)


def topline_slope(estimated: EstimatedBack) -> float:
    """Return how much the topline rises per length at the shoulder mark, front to rear [1]."""
    at = np.zeros(1)
    return float(estimated.surface.spline.radius(at, at)[0, 1])


def rigid_parts(errors: tuple[FrameError, ...]) -> FloatArray:
    """Return (6, q): x, y, z [mm], roll, pitch, yaw [rad] that a deviation of each error moves by."""
    columns = [
        (
            *(one.sd * one.shift),
            one.sd * one.linear[2, 1],
            -one.sd * one.linear[2, 0],
            one.sd * one.linear[1, 0],
        )
        for one in errors
    ]
    return np.array(columns).T


def first_of(
    earlier: RecordedBack, grid: PolarGrid, hyper: Hyperparameters, settings: ChangeSettings
) -> First:
    """Return the earlier record's readings on a grid that holds both records' points."""
    points = earlier.estimated.points.points_back
    days = {name: sd * posture_moves(points)[name] for name, sd in posture_sd(settings.posture).items()}
    rows, gain = rows_of(earlier, points, grid, hyper, days, settings)
    return First(grid=grid, rows=rows, posture_gain=gain)


def lay(
    first: First,
    earlier: RecordedBack,
    later: RecordedBack,
    hyper: Hyperparameters,
    shift: ShiftAlong,
    coat: CoatOffset,
    settings: ChangeSettings,
    moved: FloatArray | None = None,
) -> Together:
    """Return two records together, the later one laid at `moved` (q,) deviations of its laying errors.

    Parameters
    ----------
    first : of the earlier record
    earlier, later : RecordedBack
    hyper : Hyperparameters
        Of both.
    shift : ShiftAlong
        What the marks say of the place along the back.
    coat : CoatOffset
    settings : ChangeSettings
    moved : (q,) float, back frame [1]
        By what the later record's points are taken back; none at first.
    """
    grid = first.grid
    corrected, widening = laying_errors(earlier.estimated, later.estimated, shift, settings)
    points = later.estimated.points.points_back
    normals = normals_of(later.estimated)
    midline = _midline(later.estimated)
    moves = {f"{k} {one.source}": one.sd * one.moves(points, midline) for k, one in enumerate(corrected)}
    moves[COAT] = coat.sd_mm * normals
    q = len(moves)
    expected = np.zeros(q)
    expected[0] = shift.mean_mm / shift.sd_mm
    expected[-1] = coat.mean_mm / coat.sd_mm
    at = expected if moved is None else moved
    laid_points = points - np.einsum("qij,q->ij", np.stack(list(moves.values())), at)
    days = {name: sd * posture_moves(laid_points)[name] for name, sd in posture_sd(settings.posture).items()}
    more = {f"widening {k}": one.sd * one.moves(points, midline) for k, one in enumerate(widening)}
    later_rows, gain = rows_of(later, laid_points, grid, hyper, {**moves, **more, **days}, settings)
    earlier_rows = first.rows
    shares_device = settings.same_device and earlier.record.instrument == later.record.instrument
    covariance = _covariance(
        earlier_rows, later_rows, first.posture_gain, gain, hyper, settings, shares_device=shares_device
    )
    laid = Laid(
        names=tuple(moves),
        gain=gain[:, :q],
        expected=expected,
        rigid=np.column_stack([rigid_parts(corrected), np.zeros(6)]),
    )
    trend = earlier_rows.field.trend.mean_mm
    y = np.concatenate(
        [rows.data.radius_mm - seen_by(rows.data, trend) for rows in (earlier_rows, later_rows)]
    )
    # The points were taken back by `at`, which is not what was expected: the difference is still in them.
    y[len(earlier_rows.data.radius_mm) :] += laid.gain @ (at - expected)
    return Together(
        grid=grid,
        hyper=hyper,
        earlier=earlier_rows,
        later=later_rows,
        laid=laid,
        residual_mm=y,
        covariance=covariance,
        factor=linalg.cholesky(covariance, lower=True),
    )


def _midline(estimated: EstimatedBack) -> FloatArray:
    """Return the midline (n, 3) of each point's section, back frame [mm]."""
    grid = estimated.surface.grid
    s = -estimated.points.points_back[:, 0]
    none = np.zeros_like(s)
    return grid.cartesian(s, none, estimated.surface.spline.radius(s, none)[:, 0])


def _covariance(
    earlier: Rows,
    later: Rows,
    first_gain: FloatArray,
    gain: FloatArray,
    hyper: Hyperparameters,
    settings: ChangeSettings,
    *,
    shares_device: bool,
) -> FloatArray:
    """Return the covariance (n, n) of both records' readings under no change [mm²]."""
    field, n = earlier.field, len(earlier.data.radius_mm)
    rows_s = np.concatenate([earlier.data.rows_s, later.data.rows_s])
    rows_phi = np.concatenate([earlier.data.rows_phi, later.data.rows_phi])
    departures = np.concatenate([earlier.field.seen_departures, later.field.seen_departures])
    out = (rows_s @ field.kernel_s @ rows_s.T) * (rows_phi @ field.kernel_phi @ rows_phi.T)
    out += departures @ departures.T
    for rows, more, part in (
        (earlier, first_gain, slice(0, n)),
        (later, gain, slice(n, len(out))),
    ):
        own = rows.data.stated_covariance + more @ more.T
        own[np.diag_indices_from(own)] += hyper.tau_mm**2
        own += flesh_covariance(rows.data, rows.to_radius, settings)
        out[part, part] += own
    if shares_device:
        crossing = _standing(earlier, later)
        out[:n, n:] += crossing
        out[n:, :n] += crossing.T
    return out


def _standing(earlier: Rows, later: Rows) -> FloatArray:
    """Return the covariance (n₁, n₂) that one instrument's standing errors put between its two records."""
    at = {source: k for k, source in enumerate(later.sources) if source.startswith(STANDING)}
    pairs = [(k, at[source]) for k, source in enumerate(earlier.sources) if source in at]
    first, second = np.array(pairs, dtype=int).reshape(-1, 2).T
    return earlier.data.error_gain[:, first] @ later.data.error_gain[:, second].T


def flesh_covariance(data: RadialData, to_radius: FloatArray, settings: ChangeSettings) -> FloatArray:
    """Return the covariance (n, n) of one day's flesh at readings, `to_radius` (n,) each [mm²]."""
    posture = settings.posture
    across = posture.flesh_length_mm / float(np.median(data.radius_mm))
    spread = smooth_covariance(data, posture.flesh_mm, posture.flesh_length_mm, across)
    return spread * np.outer(to_radius, to_radius)


def smooth_covariance(data: RadialData, sd_mm: float, length_s_mm: float, length_phi: float) -> FloatArray:
    """Return the covariance (n, n) of a smooth field of its own at readings [mm²]."""
    distance_s, distance_phi = node_distances(data.grid)
    along = data.rows_s @ matern(distance_s, length_s_mm) @ data.rows_s.T
    across = data.rows_phi @ matern(distance_phi, length_phi) @ data.rows_phi.T
    return sd_mm**2 * along * across
