"""Repeats of a back in numbers: who measured it, with what, and every number that came of it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from saddlebench.engine.back.descriptors import describe
from saddlebench.engine.back.levels import DescriptionSettings
from saddlebench.engine.back.quantities import SIDES, Quantity, quantities_of
from saddlebench.engine.back.regions import BANDS_MM, spans
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.back.tissue import distance_over_skin
from saddlebench.engine.errors import is_known
from saddlebench.engine.frames import FloatArray

VALUES_ONLY = DescriptionSettings(draws=2)
"""Draws serve a number's own uncertainty, which repeats do without."""
SURFACE = "height of the surface"
LEAST_NODES = 6
"""A region with fewer nodes than this measured in every repeat is left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """One time that a back was measured."""

    back: str
    """Which back: repeats of one name are of the same back in the same state."""
    fitter: str
    instrument: str
    values: Mapping[Quantity, float]
    """What came of it; numbers that were not measured are left out."""

    @property
    def by(self) -> str:
        """Who measured, and with what."""
        return f"{self.fitter}, {self.instrument}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredRepeat:
    """A record that takes part in a repeat set, before it is in numbers."""

    back: str
    fitter: str
    instrument: str
    estimated: EstimatedBack


def repeats_of(records: Sequence[MeasuredRepeat]) -> tuple[Repeat, ...]:
    """Return records as repeats, with the heights of the regions of each back's surface.

    Parameters
    ----------
    records : in any order; those of one back are laid over the first of them
    """
    regions = region_heights_by_back(records)
    return tuple(
        Repeat(
            back=record.back,
            fitter=record.fitter,
            instrument=record.instrument,
            values={**values_of(record.estimated), **heights},
        )
        for record, heights in zip(records, regions, strict=True)
    )


def values_of(estimated: EstimatedBack) -> dict[Quantity, float]:
    """Return every number of a back that was measured."""
    described = quantities_of(describe(estimated, estimated.landmarks, VALUES_ONLY))
    return {quantity: answer.value for quantity, answer in described.items() if is_known(answer)}


def region_heights_by_back(records: Sequence[MeasuredRepeat]) -> list[dict[Quantity, float]]:
    """Return, for each record, how high each region lies on average above the first record of its back."""
    held: list[dict[Quantity, float]] = [{} for _ in records]
    for back in dict.fromkeys(record.back for record in records):
        rows = [index for index, record in enumerate(records) if record.back == back]
        laid = laid_over([records[index].estimated for index in rows])
        for index, heights in zip(rows, laid.means(), strict=True):
            held[index] = heights
    return held


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOver:
    """Several measurements of one back on the nodes of the first."""

    reference: EstimatedBack
    height_mm: FloatArray
    """(m, n_s, n_phi) float, back frame: along the first's normal, above the first [mm]."""
    regions: Mapping[Quantity, FloatArray]
    """(n_s, n_phi) float each, weights on the nodes that give a region's mean [1]."""
    is_common: FloatArray = field(repr=False)
    """(n_s, n_phi) float, 1 where all were measured, else 0 [1]."""

    def means(self) -> list[dict[Quantity, float]]:
        """Return each measurement's mean height over every region [mm]."""
        return [
            {region: float((weight * one).sum()) for region, weight in self.regions.items()}
            for one in self.height_mm
        ]


def laid_over(backs: Sequence[EstimatedBack]) -> LaidOver:
    """Return measurements of one back, each above the first along its normal, to first order.

    Parameters
    ----------
    backs : the first gives nodes, marks and normals
    """
    first = backs[0]
    grid = first.surface.grid
    s, phi = (place.ravel() for place in np.meshgrid(grid.s_mm, grid.phi, indexing="ij"))
    radius, slope_s, slope_phi = first.surface.spline.radius(s, phi)[:, :3].T
    points = grid.cartesian(s, phi, radius)
    to_normal = 1.0 / np.sqrt(1.0 + slope_s**2 + (slope_phi / radius) ** 2)
    common = np.array(first.surface.measured, dtype=bool)
    heights = [np.zeros(len(s))]
    for other in backs[1:]:
        own = other.surface.grid
        own_s, own_phi, own_r = own.polar(points)
        inside = other.support.contains(own_s, own_phi).reshape(common.shape)
        common &= inside
        theirs = other.surface.spline.radius(
            np.clip(own_s, own.s_mm[0], own.s_mm[-1]), np.clip(own_phi, own.phi[0], own.phi[-1])
        )[:, 0]
        heights.append((theirs - own_r) * to_normal)
    stacked = np.stack(heights).reshape(len(backs), grid.n_s, grid.n_phi)
    return LaidOver(
        reference=first,
        height_mm=stacked,
        regions=region_weights(first, common.astype(float)),
        is_common=common.astype(float),
    )


def region_weights(back: EstimatedBack, common: FloatArray) -> dict[Quantity, FloatArray]:
    """Return weights (n_s, n_phi) by region of a back's surface, over its nodes (n_s, n_phi) in common [1].

    Weights are by area and add up to 1.
    """
    grid, radius = back.surface.grid, back.surface.radius_mm
    lateral = distance_over_skin(grid, radius)
    s, phi = grid.s_mm[:, None], grid.phi[None, :]
    held: dict[Quantity, FloatArray] = {}
    for along, (begins, ends) in spans(back.landmarks).items():
        for across, (inner, outer) in BANDS_MM.items():
            for sign, words in zip((1.0, -1.0), SIDES.values(), strict=True):
                where = (s >= begins) & (s <= ends) & (sign * phi > 0.0)
                where = where & (lateral >= inner) & (lateral <= outer) & (common > 0.0)
                if where.sum() >= LEAST_NODES:
                    area = np.where(where, radius, 0.0)
                    quantity = Quantity(where=f"{along}, {across}, {words}", what=SURFACE, unit="mm")
                    held[quantity] = area / area.sum()
    return held


def quantities_in(repeats: Iterable[Repeat]) -> tuple[Quantity, ...]:
    """Return every quantity that any repeat has, in the order in which they come."""
    return tuple(dict.fromkeys(quantity for repeat in repeats for quantity in repeat.values))
