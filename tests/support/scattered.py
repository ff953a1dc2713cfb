"""Measured points with fresh errors of the size that they state: the same back, measured again."""

from dataclasses import replace

import numpy as np

from saddlebench.engine.back.stations import MeasuredPoints


def measured_again(points: MeasuredPoints, rng: np.random.Generator) -> MeasuredPoints:
    """Return exact points with one draw of every error they state, those of the frame too."""
    errors = points.error_sd * rng.standard_normal(len(points.error_sd))
    moved = points.points_back + points.sensitivity @ errors
    moved = moved + points.noise_mm[:, None] * rng.standard_normal(moved.shape)
    midline = moved.copy()
    for number in np.unique(points.station):
        rows = points.station == number
        midline[rows] = moved[rows][np.argmin(np.abs(moved[rows, 1]))]
    shift = np.zeros_like(moved)
    for error in points.frame_errors:
        shift += error.sd * rng.standard_normal() * error.moves(moved, midline)
    return replace(points, points_back=moved + shift)
