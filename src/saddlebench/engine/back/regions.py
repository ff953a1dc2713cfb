"""Left against right, region by region: linear in the surface, so its uncertainty is exact."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from saddlebench.engine.back.estimates import Estimate, estimate_from_variance
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.back.tissue import distance_over_skin
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray


class Along(StrEnum):
    """Parts of the back along its length."""

    SHOULDER = "shoulder"
    """120 mm in front of the shoulder mark."""
    FRONT = "front"
    """First third from the shoulder mark to the last-rib mark."""
    MIDDLE = "middle"
    REAR = "rear"


class Across(StrEnum):
    """Parts of the back across, by distance over the skin from the midline."""

    INNER = "inner"
    """30 to 80 mm."""
    OUTER = "outer"
    """80 to 140 mm."""


SHOULDER_LENGTH_MM = 120.0
USUAL_LAST_RIB_MM = 520.0
BANDS_MM = {Across.INNER: (30.0, 80.0), Across.OUTER: (80.0, 140.0)}
LEAST_COVERED = 0.6
"""A region of which less than this share was measured on both sides is not compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionDifference:
    """How much the left stands out beyond the mirrored right, along the surface's normal, on average."""

    along: Along
    across: Across
    left_minus_right: Estimate | NotMeasured


def spans(landmarks: Landmarks) -> dict[Along, tuple[float, float]]:
    """Return each part's first and last distance behind the shoulder mark [mm]."""
    last = landmarks.last_rib.value_mm if is_known(landmarks.last_rib) else USUAL_LAST_RIB_MM
    return {
        Along.SHOULDER: (-SHOULDER_LENGTH_MM, 0.0),
        Along.FRONT: (0.0, last / 3),
        Along.MIDDLE: (last / 3, 2 * last / 3),
        Along.REAR: (2 * last / 3, last),
    }


def side_differences(estimated: EstimatedBack, landmarks: Landmarks) -> tuple[RegionDifference, ...]:
    """Return left minus right in every region, with the full covariance of the surface.

    The regions' own bounds follow the marks as they stand: a mark's error moves both sides together.

    Parameters
    ----------
    estimated : EstimatedBack
    landmarks : Landmarks

    Returns
    -------
    tuple of RegionDifference, in mm along the normal of the mean surface
    """
    keys: list[tuple[Along, Across]] = []
    weights: list[FloatArray | NotMeasured] = []
    for along, span in spans(landmarks).items():
        for across, band in BANDS_MM.items():
            keys.append((along, across))
            weights.append(difference_weights(estimated, span, band))
    known = np.array([w for w in weights if not isinstance(w, NotMeasured)])
    values = np.einsum("kij,ij->k", known, estimated.surface.radius_mm) if len(known) else np.zeros(0)
    variances = np.diag(estimated.posterior.covariance(known)) if len(known) else np.zeros(0)
    estimates = iter(
        [
            estimate_from_variance(float(value), float(variance), "mm")
            for value, variance in zip(values, variances, strict=True)
        ]
    )
    return tuple(
        RegionDifference(
            along=along,
            across=across,
            left_minus_right=weight if isinstance(weight, NotMeasured) else next(estimates),
        )
        for (along, across), weight in zip(keys, weights, strict=True)
    )


def difference_weights(
    estimated: EstimatedBack, span_mm: tuple[float, float], band_mm: tuple[float, float]
) -> FloatArray | NotMeasured:
    """Return the weights (n_s, n_phi) on the nodes that give left minus right in a region, or why not."""
    surface, grid = estimated.surface, estimated.surface.grid
    both = 0.5 * (surface.radius_mm + surface.radius_mm[:, ::-1])
    lateral = distance_over_skin(grid, both)
    s = grid.s_mm[:, None]
    left = (grid.phi > 0)[None, :]
    region = left & (s >= span_mm[0]) & (s <= span_mm[1]) & (lateral >= band_mm[0]) & (lateral <= band_mm[1])
    usable = region & surface.measured & surface.measured[:, ::-1]
    if not np.any(region) or usable.sum() < LEAST_COVERED * region.sum():
        middle = 0.5 * (span_mm[0] + span_mm[1])
        angle = band_mm[1] / float(np.median(both))
        left_gap = estimated.support.missing(middle, angle)
        gap = left_gap or estimated.support.missing(middle, -angle)
        return gap or NotMeasured("too little of this region was measured on both sides")
    slope_s = np.gradient(both, grid.ds_mm, axis=0)
    slope_phi = np.gradient(both, grid.dphi, axis=1) / both
    to_normal = 1.0 / np.sqrt(1.0 + slope_s**2 + slope_phi**2)
    area = np.where(usable, both / to_normal, 0.0)
    weight = area / area.sum() * to_normal
    return weight - weight[:, ::-1]
