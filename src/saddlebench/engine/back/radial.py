"""Measured points as radii over the grid, with the errors they carry; many points thinned to a bounded count.

A point's error moves its residual `r − R(s, φ)` by `w · dp`, `w = e_r + R_s x̂ − (R_φ/r) e_φ`: what it does to
the radius, less what it does to the place where the surface is read. Points of one cell are averaged, and so
is how they see the nodes, so that averaging loses no accuracy; only the independent error shrinks.
"""

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from saddlebench.engine.back.frame_errors import radial_direction
from saddlebench.engine.back.gaussian import RadialData
from saddlebench.engine.back.polar import PolarGrid, basis_rows, nodes_to_coefficients
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.frames import FloatArray

_CELL_STEPS = (
    *((0.0, across) for across in (0.5, 1.0, 2.0, 3.0, 4.0, 6.0)),
    *((along, 6.0) for along in (10.0, 15.0, 20.0)),
    *((30.0, 8.0), (30.0, 10.0), (40.0, 12.0), (60.0, 15.0), (80.0, 20.0)),
)
"""Cell sizes tried from fine to coarse, (mm along, degrees across); 0 along keeps every station apart."""


def radial_data(points: MeasuredPoints, grid: PolarGrid, slopes: FloatArray | None = None) -> RadialData:
    """Return measured points as radii, with radial errors.

    Parameters
    ----------
    points : MeasuredPoints
    grid : PolarGrid
    slopes : (n, 2) float, optional
        R_s [1] and R_φ [mm/rad] of a preliminary surface at the points; without it errors count along r only.
    """
    s, phi, r = grid.polar(points.points_back)
    slopes = np.zeros((len(r), 2)) if slopes is None else slopes
    direction = radial_direction(phi, r, slopes[:, 0], slopes[:, 1])
    weights_s = basis_rows(grid.n_s, (s - grid.s0_mm) / grid.ds_mm)[0]
    weights_phi = basis_rows(grid.n_phi, (phi - grid.phi0) / grid.dphi)[0]
    return RadialData(
        grid=grid,
        radius_mm=r,
        weights_s=weights_s,
        weights_phi=weights_phi,
        rows_s=weights_s @ nodes_to_coefficients(grid.n_s),
        rows_phi=weights_phi @ nodes_to_coefficients(grid.n_phi),
        error_gain=np.einsum("ij,ijm->im", direction, points.sensitivity) * points.error_sd,
        noise_mm=points.noise_mm * np.linalg.norm(direction, axis=1),
    )


def cells(points: MeasuredPoints, grid: PolarGrid, limit: int) -> NDArray[np.intp]:
    """Return a cell number per point, (n,), the finest cells of which there are at most `limit` if possible.

    Cells never cross the midline and mirror exactly. Up to `limit` points stay single.
    """
    s, phi, _ = grid.polar(points.points_back)
    if len(s) <= limit:
        return np.arange(len(s))
    label = np.arange(len(s))
    for along_mm, across_deg in _CELL_STEPS:
        across = np.sign(phi) * (np.floor(np.abs(phi) / np.deg2rad(across_deg)) + 1)
        apart = points.station >= 0 if along_mm == 0.0 else np.zeros(len(s), bool)
        along = np.where(apart, points.station, np.rint(s / (along_mm or 10.0)))
        keys = np.stack([apart, along, across], axis=1)
        _, label = np.unique(keys, axis=0, return_inverse=True)
        if label.max() < limit:
            break
    return label.ravel()


def averaged(data: RadialData, label: NDArray[np.intp]) -> RadialData:
    """Return the data averaged within cells (label (n,)); independent noise averages, shared errors stay."""
    n = int(label.max()) + 1
    if n == len(label):
        return data
    share = 1.0 / np.bincount(label)[label]
    average = sparse.csr_array((share, (label, np.arange(len(label)))), shape=(n, len(label)))
    held = {
        field.name: average @ getattr(data, field.name)
        for field in fields(data)
        if field.name not in {"grid", "noise_mm"}
    }
    noise = np.sqrt(average.power(2) @ data.noise_mm**2)
    return RadialData(grid=data.grid, noise_mm=noise, **held)


def selected(data: RadialData, keep: NDArray[np.intp]) -> RadialData:
    """Return the data of some readings only, `keep` (k,) int indices."""
    held = {field.name: getattr(data, field.name)[keep] for field in fields(data) if field.name != "grid"}
    return RadialData(grid=data.grid, **held)
