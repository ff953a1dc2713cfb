"""How the horse stood, as its scan shows it: the neck turned, or weight off a hind leg.

A horse that turns its head bends its midline, the more the nearer to the withers; one that rests a hind leg
lets that hip sink, so that its back is twisted along its length. Both make left and right differ in a way
that a few numbers describe. They are fitted to the difference of the two sides, with the horse's own lean and
heading left free, and are held against what is left: patches of it, not points, count as independent. What is
found is said, never taken out: a horse may be built so, and the back is measured as it stood.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.stats import f as f_distribution
from scipy.stats import t as t_distribution

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.back.scan import AlignedScan, cut_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray, rotation_from_vector

AHEAD_MM, BEHIND_MM = 60.0, 140.0
"""The back is looked at from so far before the withers to so far behind the last rib."""
_N_SECTIONS = 24
_INNER, _OUTER = np.deg2rad(6.0), np.deg2rad(68.0)
_PATCH_ROWS, _PATCH_TURN = 4, np.deg2rad(22.0)
"""Differences within such a patch count as one: muscle and coat are alike over some 120 mm (assumption)."""
_FEWEST = 120
LEVEL = 0.95
SURE = 0.01
"""A posture is named where chance alone would show it less often than this."""
LEAST_TWIST_DEG, LEAST_BEND_MM, LEAST_LEAN_DEG = 1.5, 6.0, 1.0
"""Smaller ones are within what horses at hand differ by at rest (assumption, from five meshes)."""
EXPLAINED, EXPLAINED_ALONE = 0.35, 0.1
"""Least share of the squared difference of the two sides that bend and twist together, and each of them, must
explain to be named."""
MODEL_SHARE = 0.2
"""So much of a value may be wrong by the description alone: known twists and bends of real meshes came out
within a fifth, bar one in ten."""
LEAN_SHARE = 0.1
"""The same of a lean: known ones of 1 to 6° of real meshes came out within a twentieth."""
_BESIDE_MM = 150.0
_RIGHTED, _UPRIGHT_DEG, _FARTHEST_DEG = 3, 0.25, 15.0
_LEAN = 2
"""Column of the lean among what the difference of the two sides is described by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One number of a posture, with what chance allows."""

    value: float
    half_width: float
    """Of its interval of 95 %, same unit."""
    explains: float
    """Share of the squared left-minus-right difference that goes with it alone."""
    by_chance: float
    """How often chance alone would explain as much."""

    def beyond(self, least: float) -> bool:
        """Tell whether it is surely larger than `least`, and a part of the matter."""
        return (
            abs(self.value) - self.half_width > least
            and self.by_chance < SURE
            and self.explains > EXPLAINED_ALONE
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Posture:
    """What of the difference between the two sides a bend and a twist explain."""

    twist_deg: Seen
    """Roll of the hindquarters' end against the withers' end; positive: the left hip the lower [°]."""
    bend_mm: Seen
    """How far the midline's front end lies off the straight line of its rear; positive: to the left [mm]."""
    lean_deg: Seen
    """Roll of the whole trunk against level; positive: to the left [°]. Its share is of what left and right
    differ in besides place and heading."""
    difference_mm: float
    """Left minus right radius, root mean square, beyond heading and lean [mm]."""
    left_mm: float
    """The same once bend and twist are taken out [mm]."""

    @property
    def explains(self) -> float:
        """Share of the squared difference of the two sides that bend and twist explain together."""
        return 1.0 - (self.left_mm / self.difference_mm) ** 2 if self.difference_mm > 0.0 else 0.0

    @property
    def is_twisted(self) -> bool:
        """Whether it looks like weight off a hind leg."""
        return self.explains > EXPLAINED and self.twist_deg.beyond(LEAST_TWIST_DEG)

    @property
    def is_leaning(self) -> bool:
        """Whether the whole trunk leans against what was taken for level, beyond what goes with a twist."""
        twist = 0.5 * abs(self.twist_deg.value) if self.is_twisted else 0.0
        return self.lean_deg.beyond(LEAST_LEAN_DEG + twist)

    @property
    def is_bent(self) -> bool:
        """Whether it looks like a turned neck."""
        return self.explains > EXPLAINED and self.bend_mm.beyond(LEAST_BEND_MM)


def posture_of(aligned: AlignedScan) -> Posture | NotMeasured:
    """Return how a horse stood, by what its two sides differ in, or why that cannot be told.

    Left minus right radius is, to first order, `2t(sin φ − (R'/R) cos φ) − 2ρR'` for a section shifted by
    `t` to the left and rolled by `ρ` to the left, `R` being the mean of both sides; `t` is a straight line
    along the back and the bend, `ρ` a constant and the twist.

    Parameters
    ----------
    aligned : AlignedScan
    """
    found = _as_it_lies(aligned)
    if not is_known(found):
        return found
    first, leant = found, 0.0
    for _ in range(_RIGHTED if found.is_leaning else 0):
        step = found.lean_deg.value
        if abs(step) < _UPRIGHT_DEG or abs(leant + step) > _FARTHEST_DEG:
            break
        aligned = _righted(aligned, step)
        again = _as_it_lies(aligned)
        if not is_known(again):
            break
        found, leant = again, leant + step
    lean = leant + found.lean_deg.value
    half_width = float(np.hypot(found.lean_deg.half_width, LEAN_SHARE * lean))
    return replace(found, lean_deg=replace(first.lean_deg, value=lean, half_width=half_width))


def _righted(aligned: AlignedScan, lean_deg: float) -> AlignedScan:
    """Set a scan anew as if the trunk stood upright: leaning, a hollow back's midline looks bent."""
    scan = aligned.scan
    ahead = scan.forward - scan.up * float(scan.forward @ scan.up)
    turn = rotation_from_vector(ahead / np.linalg.norm(ahead) * np.deg2rad(-lean_deg))
    return align_scan(replace(scan, up=turn @ scan.up))


def _as_it_lies(aligned: AlignedScan) -> Posture | NotMeasured:
    marks = aligned.landmarks
    if not isinstance(marks.last_rib, Mark):
        return NotMeasured("the last-rib mark is not set")
    front = marks.withers.value_mm if isinstance(marks.withers, Mark) else -100.0
    along = np.linspace(front - AHEAD_MM, marks.last_rib.value_mm + BEHIND_MM, _N_SECTIONS)
    cells = _cells(aligned, along)
    if len(cells.off) < _FEWEST:
        return NotMeasured("too little of both sides is seen")
    return _fitted(cells)


def standing_words(posture: Posture) -> Iterator[tuple[str, str]]:
    """Yield what a posture looks like and what to do, as two sentences without a place."""
    share = f"{100.0 * posture.explains:.0f} % of what left and right differ in"
    if posture.is_twisted:
        twist = posture.twist_deg
        leg = "left (near)" if twist.value > 0.0 else "right (off)"
        lower = 2.0 * _BESIDE_MM * np.sin(np.radians(abs(twist.value)))
        what = (
            f"it looks like standing with weight off the {leg} hind: from withers to loins the back is "
            f"twisted by {abs(twist.value):.1f} ± {twist.half_width:.1f}° (95 %), that hip the lower, "
            f"{lower:.0f} mm between {_BESIDE_MM:.0f} mm left and right; this goes with {share}"
        )
        cure = (
            "Have it stand square and repeat the scan; it is measured as it stood. If it always rests that "
            "leg, tell the veterinary surgeon."
        )
        yield what, cure
    if posture.is_bent:
        bend = posture.bend_mm
        side = "left (near)" if bend.value > 0.0 else "right (off)"
        what = (
            f"it looks like standing with head or neck turned to the {side} side: at the withers the midline "
            f"lies {abs(bend.value):.0f} ± {bend.half_width:.0f} mm (95 %) off the straight line of the "
            f"back; this goes with {share}"
        )
        yield what, "Have its head held straight and repeat the scan; it is measured as it stood."
    if posture.is_leaning:
        lean = posture.lean_deg
        side = "left (near)" if lean.value > 0.0 else "right (off)"
        what = (
            f"against what was taken for level the trunk leans by {abs(lean.value):.1f} ± "
            f"{lean.half_width:.1f}° (95 %) to its {side} side, by its two sides’ likeness"
        )
        cure = (
            "Did the ground fall sideways? Then have level taken from the scan’s own axis. Else it stood so, "
            "and is measured as it stood."
        )
        yield what, cure


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cells:
    """Places where both sides were seen."""

    off: FloatArray
    """(n,) float, left minus right radius [mm]."""
    shift: FloatArray
    """(n,) float, what a shift of 1 mm to the left does there [1]."""
    roll: FloatArray
    """(n,) float, what a roll of 1 rad to the left does there [mm]."""
    x: FloatArray
    """(n,) float, from −1 at the rear to 1 at the front."""
    patch: NDArray[np.int64]
    """(n,) which patch each belongs to."""


def _cells(aligned: AlignedScan, along: FloatArray) -> _Cells:
    off, shift, roll, x, patch = [], [], [], [], []
    for k, section in enumerate(cut_scan(aligned, along)):
        outline = section.outline
        middle = len(outline.phi) // 2
        side = outline.phi[middle + 1 :]
        left, right = outline.radius_mm[middle + 1 :], outline.radius_mm[middle - 1 :: -1]
        both = outline.found[middle + 1 :] & outline.found[middle - 1 :: -1]
        if not outline.found[middle] or both.sum() < 6:
            continue
        mean = np.interp(side, side[both], 0.5 * (left + right)[both])
        slope = np.gradient(np.concatenate([[outline.radius_mm[middle]], mean]), side[0])[1:]
        use = both & (side > _INNER) & (side < _OUTER)
        off.append((left - right)[use])
        shift.append((2.0 * (np.sin(side) - slope / mean * np.cos(side)))[use])
        roll.append((-2.0 * slope)[use])
        x.append(np.full(use.sum(), 1.0 - 2.0 * k / (len(along) - 1)))
        patch.append((k // _PATCH_ROWS) * 100 + (side[use] / _PATCH_TURN).astype(int))
    if not off:
        nothing = np.zeros(0)
        return _Cells(off=nothing, shift=nothing, roll=nothing, x=nothing, patch=nothing.astype(int))
    return _Cells(
        off=np.concatenate(off),
        shift=np.concatenate(shift),
        roll=np.concatenate(roll),
        x=np.concatenate(x),
        patch=np.concatenate(patch),
    )


def _fitted(cells: _Cells) -> Posture:
    free = np.stack([cells.shift, cells.shift * cells.x, cells.roll], axis=1)
    # Both halves of the twist together make 1 rad from front to rear; the bend makes 1 mm at the front end.
    twist = -0.5 * cells.roll * cells.x
    bend = cells.shift * np.square(0.5 * (1.0 + cells.x))
    whole = np.concatenate([free, twist[:, None], bend[:, None]], axis=1)
    weights = _huber(whole, cells.off)
    solution, rest = _least_squares(whole, cells.off, weights)
    _, without = _least_squares(free, cells.off, weights)
    total, kept = float(weights @ without**2), float(weights @ rest**2)
    _, index = np.unique(cells.patch, return_inverse=True)
    effect = _design_effect(whole, weights, rest, index)
    independent = max(len(rest) / effect, whole.shape[1] + 2.0)
    freedom = max(1.0, independent - whole.shape[1])
    variance = kept / float(weights.sum())
    inverse = np.linalg.pinv(whole.T @ (whole * weights[:, None]), hermitian=True)
    # Stretched by the patches: so many fewer differences are independent.
    sd = np.sqrt(np.diag(inverse) * variance * effect * (independent / freedom))
    reach = float(t_distribution.ppf(0.5 * (1.0 + LEVEL), freedom))

    def seen(column: int, unit: float) -> Seen:
        _, other = _least_squares(np.delete(whole, column, axis=1), cells.off, weights)
        more = float(weights @ other**2) - kept
        ratio = freedom * more / max(kept, 1e-12)
        # A lean is no part of what is left beside it: it is held against that and itself.
        of = kept + more if column == _LEAN else total
        return Seen(
            value=float(solution[column]) * unit,
            half_width=float(np.hypot(reach * sd[column], MODEL_SHARE * solution[column])) * unit,
            explains=more / of if of > 0.0 else 0.0,
            by_chance=float(f_distribution.sf(ratio, 1, freedom)),
        )

    count = float(weights.sum())
    return Posture(
        lean_deg=seen(_LEAN, float(np.degrees(1.0))),
        twist_deg=seen(3, float(np.degrees(1.0))),
        bend_mm=seen(4, 1.0),
        difference_mm=float(np.sqrt(total / count)),
        left_mm=float(np.sqrt(kept / count)),
    )


def _least_squares(design: FloatArray, off: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    root = np.sqrt(weights)
    solution = np.linalg.lstsq(design * root[:, None], off * root, rcond=None)[0]
    return solution, off - design @ solution


def _huber(design: FloatArray, off: FloatArray) -> FloatArray:
    """Return weights that hold down what stands out: a strap, a hole's edge, one muscle."""
    weights = np.ones(len(off))
    for _ in range(12):
        _, rest = _least_squares(design, off, weights)
        limit = 2.0 * (1.4826 * float(np.median(np.abs(rest))) + 0.1)
        weights = 1.0 / np.maximum(1.0, np.abs(rest) / limit)
    return weights


def _design_effect(
    design: FloatArray, weights: FloatArray, rest: FloatArray, patch: NDArray[np.int64]
) -> float:
    """Return by how much sums over patches vary more than as many independent differences would."""
    inverse = np.linalg.pinv(design.T @ (design * weights[:, None]), hermitian=True)
    each = design * (weights * rest)[:, None]
    sums = np.zeros((int(patch.max()) + 1, design.shape[1]))
    np.add.at(sums, patch, each)
    together = float(np.einsum("bi,ij,bj->", sums, inverse, sums))
    alone = float(np.einsum("bi,ij,bj->", each, inverse, each))
    return max(1.0, together / alone) if alone > 0.0 else 1.0
