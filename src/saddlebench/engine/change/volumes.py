"""Volume gained or lost: under the saddle, and region by region on either side; left against right.

All of it is linear in the change, `ΔV = Σ R ΔR dφ ds`, so values and covariances are exact: those of the
difference under no change, and what no reading saw of a change.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from saddlebench.engine.back.estimates import Estimate, estimate_from_variance
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.regions import BANDS_MM, LEAST_COVERED, Across, Along, spans
from saddlebench.engine.back.tissue import distance_over_skin
from saddlebench.engine.change.band import Difference
from saddlebench.engine.change.results import RegionVolume, SideChange
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray

SADDLE_MM = (30.0, 140.0)
"""From the midline over the skin, either side: where panels lie."""
SIDES = (("left", 1), ("right", -1))
TOO_LITTLE = NotMeasured("too little of this region was measured on both days")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Region:
    along: Along | None
    across: Across | None
    side: str
    weights: FloatArray | None
    """(n_s, n_phi) float, back frame, volume per radius [mm²]; None where too little was measured."""
    area_mm2: float


def bonferroni(count: int, level: float = 0.05) -> float:
    """Return how many deviations none of `count` numbers leaves by chance in 95 of 100 unchanged pairs."""
    return float(-special.ndtri(0.5 * level / max(count, 1)))


def regions_of(difference: Difference, landmarks: Landmarks) -> tuple[_Region, ...]:
    """Return every region of either side as weights on the nodes."""
    grid = difference.grid
    radius = difference.earlier_mm + 0.5 * difference.radius_mm
    lateral = distance_over_skin(grid, radius)
    cell = radius * grid.ds_mm * grid.dphi
    parts = spans(landmarks)
    saddle = (0.0, parts[Along.REAR][1])
    wanted: list[tuple[Along | None, Across | None, tuple[float, float], tuple[float, float]]] = [
        (None, None, saddle, SADDLE_MM),
        *((along, across, span, band) for along, span in parts.items() for across, band in BANDS_MM.items()),
    ]
    out = []
    for along, across, span, band in wanted:
        inside = (grid.s_mm[:, None] >= span[0]) & (grid.s_mm[:, None] <= span[1])
        inside = inside & (lateral >= band[0]) & (lateral <= band[1])
        halves = []
        for side, sign in SIDES:
            region = inside & (np.sign(grid.phi) == sign)[None, :]
            held = region & difference.common
            enough = bool(region.any()) and held.sum() >= LEAST_COVERED * region.sum()
            weights = np.where(held, cell, 0.0) if enough else None
            area = float((cell / difference.to_normal)[held].sum())
            halves.append(_Region(along=along, across=across, side=side, weights=weights, area_mm2=area))
        out += halves
        if along is None:
            both = [half.weights for half in halves if half.weights is not None]
            out.append(
                _Region(
                    along=None,
                    across=None,
                    side="both",
                    weights=both[0] + both[1] if len(both) == 2 else None,
                    area_mm2=sum(half.area_mm2 for half in halves),
                )
            )
    return tuple(out)


def volumes_of(
    difference: Difference, landmarks: Landmarks, errors_mm: FloatArray
) -> tuple[tuple[RegionVolume, ...], tuple[SideChange, ...]]:
    """Return the volumes, and how much more the left gained than the right.

    Parameters
    ----------
    difference : Difference
    landmarks : Landmarks
        Of the earlier record.
    errors_mm : (draws, n_s, n_phi) float, back frame, errors of the difference about a true change [mm]
    """
    regions = regions_of(difference, landmarks)
    known = [region for region in regions if region.weights is not None]
    factor = bonferroni(len(known))
    volumes = tuple(_volume(region, difference, errors_mm, factor) for region in regions)
    named = {(r.along, r.across, r.side): r for r in regions if r.along is not None}
    pairs = [(along, across) for along, across, side in named if side == "left"]
    sides = tuple(
        _side(
            named[along, across, "left"],
            named[along, across, "right"],
            difference,
            errors_mm,
            bonferroni(len(pairs)),
        )
        for along, across in pairs
    )
    return volumes, sides


def estimated(weights: FloatArray, difference: Difference, errors_mm: FloatArray, unit: str) -> Estimate:
    """Return a linear functional, `weights` (n_s, n_phi), of the change [per mm of radius]."""
    drawn = np.einsum("kij,ij->k", errors_mm, weights)
    return estimate_from_variance(
        float((weights * difference.radius_mm).sum()), float(np.mean(drawn**2)), unit
    )


def is_beyond(estimate: Estimate, factor: float) -> bool:
    """Tell whether a value lies more than `factor` deviations from nothing."""
    return abs(estimate.value) > factor * estimate.sd


def _volume(region: _Region, difference: Difference, errors_mm: FloatArray, factor: float) -> RegionVolume:
    if region.weights is None:
        volume: Estimate | NotMeasured = TOO_LITTLE
        depth: Estimate | NotMeasured = TOO_LITTLE
    else:
        volume = estimated(region.weights / 1000.0, difference, errors_mm, "cm³")
        depth = estimated(region.weights / region.area_mm2, difference, errors_mm, "mm")
    return RegionVolume(
        along=region.along,
        across=region.across,
        side=region.side,
        volume=volume,
        mean_depth=depth,
        is_told=isinstance(volume, Estimate) and is_beyond(volume, factor),
    )


def _side(
    left: _Region, right: _Region, difference: Difference, errors_mm: FloatArray, factor: float
) -> SideChange:
    answer: Estimate | NotMeasured = TOO_LITTLE
    if left.weights is not None and right.weights is not None:
        weights = left.weights / left.area_mm2 - right.weights / right.area_mm2
        answer = estimated(weights, difference, errors_mm, "mm")
    if left.along is None or left.across is None:
        msg = "only regions that are named are compared side by side"
        raise ValueError(msg)
    return SideChange(
        along=left.along,
        across=left.across,
        left_minus_right=answer,
        is_told=isinstance(answer, Estimate) and is_beyond(answer, factor),
    )
