"""Which discs of a scan are named as patches, and how well their places are known."""

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.estimates import estimate_from_variance
from saddlebench.engine.change.results import Patch
from saddlebench.engine.frames import FloatArray

OVERLAP = 0.7
"""Patches whose middles lie nearer than this share of both radii are one patch."""
STILL_SEEN = 0.6
"""A disc of which less than this is left beside those already named is one of them."""
STANDS_OUT = 0.9
"""Where the readings differ beyond the threshold, the strongest disc is named from this share of it on."""
BEYOND_DOUBT = 2.0
"""So many of its own deviations the map has to show at a disc that does not stand out by itself."""
EVIDENCE = 0.45
"""A change has not the discs' form, so that scores tell places apart by less than their likelihood: by this
power of it, within 95 of 100 places hold the true one (`benchmarks/change.py`; invented backs)."""
REACH_MM = 150.0
"""Discs within this of a patch's middle compete for its place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Discs:
    """Discs to be tried: places on the earlier surface, and sizes."""

    s_mm: FloatArray
    """(d,) float, back frame, middle behind the shoulder mark [mm]."""
    phi: FloatArray
    """(d,) float, back frame [rad]."""
    from_midline_mm: FloatArray
    """(d,) float, back frame, middle over the skin, positive left [mm]."""
    diameter_mm: FloatArray
    """(d,) float [mm]."""
    centre_back: FloatArray
    """(d, 3) float, back frame [mm]."""
    spacing_mm: float
    """From one middle to the next."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Whitened:
    """Residuals and discs in units in which an unchanged pair's residuals are standard normal."""

    units: FloatArray
    """(n, d) float, any frame, unit patterns [1]."""
    sd_mm: FloatArray
    """(d,) float, any frame, each depth's deviation [mm]."""
    rest: FloatArray
    """(n,) float, any frame, residuals [1]."""

    def scores(self, taken: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
        """Return depths over their deviations, 0 where taken, and how much of each disc is left, (d,) [1]."""
        length = np.linalg.norm(self.units, axis=0)
        free = (length > STILL_SEEN) & ~taken
        return np.where(free, self.units.T @ self.rest / np.where(free, length, 1.0), 0.0), length

    def beside(self, k: int) -> Self:
        """Return what is left beside disc k."""
        one = self.units[:, k] / np.linalg.norm(self.units[:, k])
        return replace(
            self, units=self.units - np.outer(one, one @ self.units), rest=self.rest - one * (one @ self.rest)
        )


def named_patches(
    discs: Discs,
    plain: Whitened,
    local: Whitened,
    mapped: FloatArray,
    *,
    threshold: float,
    band: float,
    most: int,
) -> tuple[Patch, ...]:
    """Return the discs that stand beyond a threshold, those that stand out by themselves first.

    Laying one record on the other takes up a part of a wide change, and leaves rims of it that look like a
    change the other way. A disc is therefore named in one of two cases: it stands out even where the whole
    neighbourhood may have changed (`local`) and the map has its sign, or the map has its sign beyond doubt.
    After the first, a disc of the other sign is named only where the map lies outside its own band: that is
    how often an unchanged place may show it.

    Discs are taken one after the other, each one's part out of the readings before the next is looked for.

    Parameters
    ----------
    discs : Discs
    plain : under no change
    local : under a wide change of unknown size
    mapped : (d,) float, any frame, the map's change at each middle in its own deviations [1]
    threshold : of the scan, in deviations
    band : of the map, in deviations
    most : patches
    """
    patches: list[Patch] = []
    taken = np.zeros(len(mapped), dtype=bool)
    while len(patches) < most:
        (alone, alone_left), (scores, left) = local.scores(taken), plain.scores(taken)
        # no disc is the other way before one is named
        other_way = -np.sign(patches[0].depth.value) if patches else np.nan
        least = np.where(np.sign(mapped) == other_way, band, 0.0)
        one = _strongest(alone, mapped, least, threshold if patches else STANDS_OUT * threshold)
        other = _strongest(scores, mapped, np.maximum(least, BEYOND_DOUBT), threshold)
        if one is not None and (other is None or abs(scores[one]) >= abs(scores[other])):
            best = one
            patches.append(_patch(discs, alone, best, float(local.sd_mm[best] / alone_left[best])))
        elif other is not None:
            best = other
            patches.append(_patch(discs, scores, best, float(plain.sd_mm[best] / left[best])))
        else:
            break
        apart = np.linalg.norm(discs.centre_back - discs.centre_back[best], axis=1)
        taken |= apart < 0.5 * (discs.diameter_mm[best] + discs.diameter_mm) * OVERLAP
        plain, local = plain.beside(best), local.beside(best)
    return tuple(sorted(patches, key=lambda patch: -patch.strength))


def _strongest(scores: FloatArray, mapped: FloatArray, least: FloatArray, threshold: float) -> int | None:
    """Return the disc of the largest score beyond a threshold whose sign the map has by more than `least`.

    `scores`, `mapped`, `least` : (d,) float, any frame, in deviations [1].
    """
    held = np.where(np.sign(scores) * mapped > least, np.abs(scores), 0.0)
    best = int(np.argmax(held))
    return best if held[best] > threshold else None


def _patch(discs: Discs, scores: FloatArray, k: int, sd_mm: float) -> Patch:
    return Patch(
        s_mm=float(discs.s_mm[k]),
        phi=float(discs.phi[k]),
        from_midline_mm=float(discs.from_midline_mm[k]),
        diameter_mm=float(discs.diameter_mm[k]),
        place_sd_mm=place_sd(discs, scores, k),
        depth=estimate_from_variance(float(scores[k]) * sd_mm, sd_mm**2, "mm"),
        strength=float(abs(scores[k])),
    )


def place_sd(discs: Discs, scores: FloatArray, k: int) -> float:
    """Return how far the true middle may lie from disc k's, each way over the skin [mm].

    The spread of all discs about it of its sign, each weighted by how well it explains the readings against
    the best, and what the spacing of the tried places leaves open (a rectangle, JCGM 100:2008, F.2.2.1).

    Parameters
    ----------
    discs : Discs
    scores : (d,) float, any frame, depths over their deviations [1]
    k : the disc that is named
    """
    squared = ((discs.centre_back - discs.centre_back[k]) ** 2).sum(axis=1)
    near = (squared < REACH_MM**2) & (scores * scores[k] > 0.0)
    weight = np.where(near, np.exp(0.5 * EVIDENCE * np.minimum(scores**2 - scores[k] ** 2, 0.0)), 0.0)
    spread = float(weight @ squared) / float(weight.sum()) / 2.0
    return float(np.sqrt(spread + discs.spacing_mm**2 / 12.0))
