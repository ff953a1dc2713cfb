"""Which discs of a scan are named as patches, which way each went, and how well its place is known.

Two cases. One disc of some size accounts for what the readings show: then all discs are weighed against each
other (`accounts.py`), and a patch is named where one direction is sure enough, however wide its place. Or a
change over a wide part of the back is not ruled out as the account: then discs are no more than what stands
out of it, and the map has to bear their direction out.
"""

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.estimates import estimate_from_variance
from saddlebench.engine.change.accounts import Accounts
from saddlebench.engine.change.results import Patch
from saddlebench.engine.frames import FloatArray

OVERLAP = 0.7
"""Patches whose middles lie nearer than this share of both radii are one patch."""
STILL_SEEN = 0.6
"""A disc of which less than this is left beside those already named is one of them."""
SURE = 0.8
"""How probable a direction has to be for a patch to be named: of those named on invented backs, 98 of 100 are
right (`benchmarks/change.py`), for most are far surer."""
WIDE_RULED_OUT = 5.0
"""One disc has to be 150 times as likely as a wide change to be the account: the logarithm of that."""
STANDS_OUT = 0.9
"""Beside a wide change, the disc that stands out most is named from this share of the threshold on."""
BEYOND_DOUBT = 2.0
"""So many of its own deviations the map has to show at a disc that does not stand out by itself."""
BORNE_OUT = 0.95
"""How sure a direction is said to be beside a wide change where the map leaves its band: the band's level."""
FORM = 0.18
"""A change has not the discs' form: its middle lies off the best disc's by this share of the diameter, each
way, beyond what the readings leave open (`benchmarks/change.py`; invented backs)."""
PLACE = 0.95
"""How much of what is probable a stated place holds."""
REACH_MM = 150.0
"""Beside a wide change, discs within this of a patch's middle compete for its place."""


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

    def those(self, kept: NDArray[np.bool_]) -> Self:
        """Return the discs of `kept` (d,)."""
        return replace(
            self,
            s_mm=self.s_mm[kept],
            phi=self.phi[kept],
            from_midline_mm=self.from_midline_mm[kept],
            diameter_mm=self.diameter_mm[kept],
            centre_back=self.centre_back[kept],
        )

    def and_those(self, other: Self) -> Self:
        """Return these discs and then others."""
        return replace(
            self,
            s_mm=np.concatenate([self.s_mm, other.s_mm]),
            phi=np.concatenate([self.phi, other.phi]),
            from_midline_mm=np.concatenate([self.from_midline_mm, other.from_midline_mm]),
            diameter_mm=np.concatenate([self.diameter_mm, other.diameter_mm]),
            centre_back=np.concatenate([self.centre_back, other.centre_back]),
        )


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
        """Return depths over deviations (d,) [1], 0 where taken, and these (d,) [mm], infinite there."""
        length = np.linalg.norm(self.units, axis=0)
        free = (length > STILL_SEEN) & ~taken
        held = np.where(free, length, 1.0)
        return np.where(free, self.units.T @ self.rest / held, 0.0), np.where(free, self.sd_mm / held, np.inf)

    def beside(self, k: int) -> Self:
        """Return what is left beside disc k."""
        one = self.units[:, k] / np.linalg.norm(self.units[:, k])
        return replace(
            self, units=self.units - np.outer(one, one @ self.units), rest=self.rest - one * (one @ self.rest)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What patches are named from: the readings, the map, and how an unchanged pair would look."""

    discs: Discs
    """Those of the scan, and wider ones that only naming knows."""
    tried: NDArray[np.bool_]
    """(d,) bool, which ones are the scan's: its threshold is theirs."""
    plain: Whitened
    """Under no change."""
    local: Whitened
    """As if all about a disc may have changed as well."""
    wide_evidence: float
    """Logarithm of the likelihood of a wide change without any disc, against no change [1]."""
    mapped: FloatArray
    """(d,) float, any frame, the map's change at each middle in its own deviations [1]."""
    threshold: float
    """Of the scan, in deviations."""
    band: float
    """Of the map, in deviations."""

    def beside(self, k: int) -> Self:
        """Return what is left beside disc k."""
        return replace(self, plain=self.plain.beside(k), local=self.local.beside(k))


def named_patches(scene: Scene, most: int) -> tuple[Patch, ...]:
    """Return at most so many patches, the strongest first.

    Discs are taken one after the other, each one's part out of the readings before the next is looked for.
    Laying one record on the other takes up a part of a wide change, and leaves rims of it that look like a
    change the other way: after the first, a patch of the other direction is named only where the map lies
    outside its own band, which is how often an unchanged place may show it.
    """
    scores, sd = scene.plain.scores(np.zeros(len(scene.mapped), dtype=bool))
    is_wide = scene.wide_evidence - Accounts.of(scores, sd).together > -WIDE_RULED_OUT
    find = _standing_out if is_wide else _accounting
    patches: list[Patch] = []
    taken = np.zeros(len(scene.mapped), dtype=bool)
    while len(patches) < most:
        found = find(scene, taken, patches)
        if found is None:
            break
        best, patch = found
        apart = np.linalg.norm(scene.discs.centre_back - scene.discs.centre_back[best], axis=1)
        taken = taken | (apart < 0.5 * (scene.discs.diameter_mm[best] + scene.discs.diameter_mm) * OVERLAP)
        if patch is not None:
            patches.append(patch)
            scene = scene.beside(best)
    return tuple(sorted(patches, key=lambda patch: -patch.strength))


_Found = tuple[int, Patch | None] | None
"""A disc, and the patch that is named for it; without one its place is not looked at again."""


def _accounting(scene: Scene, taken: NDArray[np.bool_], patches: list[Patch]) -> _Found:
    """Return the most probable disc of the more probable direction."""
    scores, sd = scene.plain.scores(taken)
    if np.abs(scores[scene.tried]).max() <= scene.threshold:
        return None
    accounts = Accounts.of(scores, sd)
    shares = accounts.shares(accounts.sign)
    sure = min(float(shares.sum()), 1.0)
    if sure < SURE:
        return None
    best = int(np.argmax(shares))
    is_other_way = bool(patches) and accounts.sign * patches[0].depth.value < 0.0
    if is_other_way and accounts.sign * scene.mapped[best] <= scene.band:
        return best, None
    return best, _patch(scene.discs, scores, sd, best, shares / sure, sure)


def _standing_out(scene: Scene, taken: NDArray[np.bool_], patches: list[Patch]) -> _Found:
    """Return the disc that stands out even if all about it changed, or the one that the map is sure of."""
    (alone, alone_sd), (scores, sd) = scene.local.scores(taken), scene.plain.scores(taken)
    alone, scores = np.where(scene.tried, alone, 0.0), np.where(scene.tried, scores, 0.0)
    # no disc is the other way before one is named
    other_way = -np.sign(patches[0].depth.value) if patches else np.nan
    least = np.where(np.sign(scene.mapped) == other_way, scene.band, 0.0)
    wanted = scene.threshold if patches else STANDS_OUT * scene.threshold
    one = _strongest(alone, scene.mapped, least, wanted)
    other = _strongest(scores, scene.mapped, np.maximum(least, BEYOND_DOUBT), scene.threshold)
    if one is not None and (other is None or abs(scores[one]) >= abs(scores[other])):
        near = _near(scene.discs, alone, one)
        return one, _patch(scene.discs, alone, alone_sd, one, near, _sure(scene, one))
    if other is not None:
        near = _near(scene.discs, scores, other)
        return other, _patch(scene.discs, scores, sd, other, near, _sure(scene, other))
    return None


def _sure(scene: Scene, k: int) -> float:
    return BORNE_OUT if abs(scene.mapped[k]) > scene.band else 0.0


def _strongest(scores: FloatArray, mapped: FloatArray, least: FloatArray, threshold: float) -> int | None:
    """Return the disc of the largest score beyond a threshold whose sign the map has by more than `least`.

    `scores`, `mapped`, `least` : (d,) float, any frame, in deviations [1].
    """
    held = np.where(np.sign(scores) * mapped > least, np.abs(scores), 0.0)
    best = int(np.argmax(held))
    return best if held[best] > threshold else None


def _near(discs: Discs, scores: FloatArray, k: int) -> FloatArray:
    """Return how probable discs about disc k with its sign are, (d,) [1]; `scores` (d,), any frame [1]."""
    apart = np.linalg.norm(discs.centre_back - discs.centre_back[k], axis=1)
    near = (apart < REACH_MM) & (scores * scores[k] > 0.0)
    weight = np.where(near, np.exp(0.5 * np.minimum(scores**2 - scores[k] ** 2, 0.0)), 0.0)
    return np.asarray(weight / weight.sum())


def _patch(
    discs: Discs, scores: FloatArray, sd_mm: FloatArray, k: int, shares: FloatArray, sure: float
) -> Patch:
    return Patch(
        s_mm=float(discs.s_mm[k]),
        phi=float(discs.phi[k]),
        from_midline_mm=float(discs.from_midline_mm[k]),
        diameter_mm=float(discs.diameter_mm[k]),
        place_sd_mm=place_sd(discs, shares, k),
        middles_mm=middles(discs, shares),
        sure=sure,
        depth=estimate_from_variance(float(scores[k] * sd_mm[k]), float(sd_mm[k] ** 2), "mm"),
        strength=float(abs(scores[k])),
    )


def place_sd(discs: Discs, shares: FloatArray, k: int) -> float:
    """Return how far the true middle may lie from disc k's, each way over the skin [mm].

    The spread of all discs, each as probable as `shares` (d,), any frame, says [1]; what the spacing of the
    tried places leaves open (a rectangle, JCGM 100:2008, F.2.2.1); and that a change has not a disc's form.
    """
    squared = ((discs.centre_back - discs.centre_back[k]) ** 2).sum(axis=1)
    spread = float(shares @ squared) / 2.0
    return float(np.sqrt(spread + discs.spacing_mm**2 / 12.0 + (FORM * discs.diameter_mm[k]) ** 2))


def middles(discs: Discs, shares: FloatArray) -> tuple[tuple[float, float], ...]:
    """Return the fewest middles that hold the place in 95 of 100 cases, the most probable first.

    Behind the shoulder mark and over the skin from the midline [mm], whatever the size of the disc.
    `shares` : (d,) float, any frame, how probable each disc is [1].
    """
    places = np.stack([discs.s_mm, discs.from_midline_mm], axis=1)
    every, at = np.unique(np.round(places, 1), axis=0, return_inverse=True)
    held = np.bincount(at.ravel(), shares, len(every))
    order = np.argsort(-held, kind="stable")
    n = int(np.searchsorted(np.cumsum(held[order]), PLACE * held.sum())) + 1
    return tuple((float(s), float(over)) for s, over in every[order[:n]])
