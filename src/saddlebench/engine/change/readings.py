"""One record's readings on the grid that a pair shares, and that grid."""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from scipy import sparse

from saddlebench.engine.back.gaussian import GaussianField, Hyperparameters, RadialData, condition
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.radial import averaged, cells, radial_data
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.back.support import Support, support_of
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.change.settings import ChangeSettings
from saddlebench.engine.frames import FloatArray


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


def common_hyper(backs: tuple[RecordedBack, ...]) -> Hyperparameters:
    """Return hyperparameters that all records share: the geometric means of each one's own."""
    every = np.log(
        [
            (h.sigma_mm, h.length_s_mm, h.length_phi, h.tau_mm, h.hips_mm)
            for h in (back.estimated.posterior.hyper for back in backs)
        ]
    )
    sigma, length_s, length_phi, tau, hips = (float(v) for v in np.exp(every.mean(axis=0)))
    loin = float(np.mean([back.estimated.posterior.hyper.loin_mm for back in backs]))
    return Hyperparameters(
        sigma_mm=sigma, length_s_mm=length_s, length_phi=length_phi, tau_mm=tau, hips_mm=hips, loin_mm=loin
    )


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
