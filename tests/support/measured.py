"""Measured points of invented backs, made without any instrument."""

import numpy as np

from saddlebench.demo.shapes import BackShape
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.stations import MeasuredPoints, Station
from saddlebench.engine.frames import FloatArray

SIX_PLACES = (-150.0, -20.0, 110.0, 260.0, 410.0, 560.0)


def points_of(
    shape: BackShape,
    distances: tuple[float, ...] = SIX_PLACES,
    *,
    n_side: int = 12,
    reach_deg: float = 85.0,
    noise_mm: float = 0.7,
    lift_sd_mm: float = 0.0,
    rng: np.random.Generator | None = None,
) -> MeasuredPoints:
    """Return points at even angles on a shape; `lift_sd_mm` is an error of height shared by each station.

    Without a generator the points are exact, their errors stated all the same.
    """
    phi = np.deg2rad(reach_deg) * np.arange(-n_side, n_side + 1) / n_side
    s = np.repeat(np.array(distances) * shape.scale, len(phi))
    angle = np.tile(phi, len(distances))
    radius = shape.radius(s, angle)
    points = np.stack([-s, radius * np.sin(angle), radius * np.cos(angle) + shape.axis_z_mm], axis=1)
    station = np.repeat(np.arange(len(distances)), len(phi))
    n_errors = len(distances) if lift_sd_mm else 0
    sensitivity = np.zeros((len(s), 3, n_errors))
    if n_errors:
        sensitivity[np.arange(len(s)), 2, station] = 1.0
    error_sd = np.full(n_errors, lift_sd_mm)
    if rng is not None:
        points = points + noise_mm * rng.standard_normal(points.shape)
        points = points + sensitivity @ (error_sd * rng.standard_normal(n_errors))
    return MeasuredPoints(
        stations=tuple(Station(number=k + 1, distance_mm=d) for k, d in enumerate(distances)),
        points_back=points,
        station=station.astype(np.int32),
        side=np.sign(angle).astype(np.int8),
        sensitivity=sensitivity,
        error_sd=error_sd,
        error_source=tuple(f"station {k + 1}, height" for k in range(n_errors)),
        noise_mm=np.full(len(s), noise_mm),
    )


def true_radius(shape: BackShape, grid: PolarGrid) -> FloatArray:
    """Return the shape's radius (n_s, n_phi) about the grid's own axis, by bisection along each ray [mm]."""
    s, phi = np.meshgrid(grid.s_mm, grid.phi, indexing="ij")
    low, high = np.full(s.shape, 20.0), np.full(s.shape, 900.0)
    for _ in range(45):
        r = 0.5 * (low + high)
        y, up = r * np.sin(phi), r * np.cos(phi) + grid.axis_z_mm - shape.axis_z_mm
        inside = np.hypot(y, up) < shape.radius(s, np.arctan2(y, up))
        low, high = np.where(inside, r, low), np.where(inside, high, r)
    return low
