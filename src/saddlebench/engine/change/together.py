"""Two records as one set of readings on one grid, with everything that may have moved them.

`y = H F + G u + e`, the earlier record's readings first: `F` is the back if it did not change, `u` standard
normal errors (readings', the instrument's own that both records share, where the later record may lie off,
the coat, the posture), `e` what every reading has of its own. Under no change `Cov y = H K Hᵀ + G Gᵀ +
diag(e²) + T`, `T` the flesh of either day; a change adds `H₂ Δ` to the later record's readings.
"""

from dataclasses import dataclass

import numpy as np
from scipy import linalg

from saddlebench.engine.back.gaussian import Hyperparameters, seen_by
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.change.coat import CoatOffset
from saddlebench.engine.change.laying_errors import laying_errors, rigid_parts
from saddlebench.engine.change.marks import ShiftAlong
from saddlebench.engine.change.posture import posture_moves, posture_sd
from saddlebench.engine.change.readings import RecordedBack, Rows, normals_of, rows_of
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.change.unchanged import unchanged_covariance
from saddlebench.engine.frames import FloatArray

COAT = "coat"


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
    covariance = unchanged_covariance(
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
