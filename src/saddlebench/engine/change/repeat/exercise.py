"""“Check me”: the same back three to five times, sections marked anew, and what it says of the hand."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from saddlebench.engine.back.frame_errors import radial_moves, shifted, turned
from saddlebench.engine.back.polar import PolarGrid
from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.change.repeat.own import OwnErrors, Ratio, own_errors, ratio_from
from saddlebench.engine.change.repeat.sets import LaidOver, laid_over, values_of
from saddlebench.engine.change.repeat.spread import Spread, spread_of
from saddlebench.engine.change.repeat.stated import (
    StatedRepeats,
    fixed_variances,
    stated_repeats,
    to_normal,
)
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

LEAST_REPEATS, USUAL_REPEATS = 3, (3, 5)
SURE = 0.05
"""A hand is called better or worse than stated where chance would show as much in fewer than 5 of 100."""


class Hand(StrEnum):
    """How a number repeats against what the instrument states."""

    STEADIER = "steadier than stated"
    AS_STATED = "as stated"
    LESS_STEADY = "less steady than stated"


class Pattern(StrEnum):
    """Ways in which a whole measurement moves."""

    ALONG = "place along the back"
    SIDEWAYS = "beside the midline"
    ROLL = "leaning to one side"
    LEVEL = "level along the back"
    PRESSING = "pressing"
    REST = "single readings"


PRACTISE: dict[Pattern, str] = {
    Pattern.ALONG: "mark the stations with chalk, from the same shoulder mark along the same line",
    Pattern.SIDEWAYS: "find the spine with two fingers at every station before the instrument goes on",
    Pattern.ROLL: "look at the level across before every reading",
    Pattern.LEVEL: "see that the horse stands square and the head is held alike, and read the level again",
    Pattern.PRESSING: "lay the instrument down with its own weight alone, every time alike",
    Pattern.REST: "read every joint or pin twice, and take the first section again last",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HandOn:
    """How well one number of the back repeats in this hand."""

    quantity: Quantity
    mean: float
    own: Spread
    stated_sd: float
    """What the instrument's statement allows."""
    hand: Hand


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternShare:
    """How much of the disagreement moves in one way."""

    pattern: Pattern
    own_mm: float
    """Root mean square over the surface [mm]."""
    stated_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatSurface:
    """How far repeats scatter at each node of the first."""

    grid: PolarGrid
    radius_mm: FloatArray
    """(n_s, n_phi) float, back frame, of the first [mm]."""
    sd_mm: FloatArray
    """(n_s, n_phi) float, back frame, standard deviation along the normal [mm]; 0 where not all measured."""
    is_common: NDArray[np.bool_]
    """(n_s, n_phi) whether every repeat measured there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckMe:
    """The result of the exercise."""

    n_repeats: int
    overall: OwnErrors
    ratio: Ratio
    """What `overall` rests on; with those of other exercises it makes a practice's own errors."""
    numbers: tuple[HandOn, ...]
    """In the order of the back's description; regions of the surface last."""
    patterns: tuple[PatternShare, ...]
    """The worst against its statement first."""
    practise: str
    """What to practise; empty where nothing stands out."""
    surface: RepeatSurface | None = None
    """None where it was read from a file that does not hold it."""


def check_me(
    backs: Sequence[EstimatedBack],
    record: BackRecord,
    *,
    marks_again: bool = True,
    seed: int = 0,
) -> CheckMe | Undetermined:
    """Return what repeats of one back say of the hand that measured it.

    Parameters
    ----------
    backs : the repeats in turn, three at least, by one fitter with one instrument
    record : the first repeat's record
    marks_again : whether marks were felt anew for each repeat
    seed : of the draws behind the stated deviations
    """
    if len(backs) < LEAST_REPEATS:
        return Undetermined(f"three repeats at least are needed, not {len(backs)}")
    laid = laid_over(backs)
    stated = stated_repeats(backs[0], record, marks_again=marks_again, seed=seed)
    fixed = fixed_variances(backs[0], record, marks_again=marks_again, seed=seed)
    ratio = ratio_from(laid, stated, fixed)
    if isinstance(ratio, Undetermined):
        return ratio
    overall = own_errors([ratio])
    if isinstance(overall, Undetermined):
        return overall
    patterns = pattern_shares(laid, stated)
    return CheckMe(
        n_repeats=len(backs),
        overall=overall,
        ratio=ratio,
        numbers=_numbers(backs, laid, stated.deviations),
        patterns=patterns,
        practise=_practise(patterns, overall),
        surface=_surface(laid),
    )


def _surface(laid: LaidOver) -> RepeatSurface:
    surface = laid.reference.surface
    return RepeatSurface(
        grid=surface.grid,
        radius_mm=surface.radius_mm,
        sd_mm=laid.height_mm.std(axis=0, ddof=1) * laid.is_common,
        is_common=laid.is_common > 0.0,
    )


def _numbers(
    backs: Sequence[EstimatedBack], laid: LaidOver, stated: Mapping[Quantity, float]
) -> tuple[HandOn, ...]:
    rows = [{**values_of(back), **means} for back, means in zip(backs, laid.means(), strict=True)]
    held = []
    for quantity, sd in stated.items():
        values = np.array([row[quantity] for row in rows if quantity in row])
        if len(values) < LEAST_REPEATS or sd <= 0.0:
            continue
        own = spread_of(float(values.var(ddof=1)), len(values) - 1)
        chance = float(stats.chi2.sf(own.degrees * own.variance / sd**2, own.degrees))
        hand = Hand.LESS_STEADY if chance < SURE / 2 else Hand.AS_STATED
        hand = Hand.STEADIER if chance > 1.0 - SURE / 2 else hand
        held.append(HandOn(quantity=quantity, mean=float(values.mean()), own=own, stated_sd=sd, hand=hand))
    return tuple(held)


def pattern_shares(laid: LaidOver, stated: StatedRepeats) -> tuple[PatternShare, ...]:
    """Return in which way repeats disagree, against the stated, the worst first."""
    first = laid.reference
    radial = laid.height_mm / to_normal(first)
    own = _in_patterns(first, radial - radial.mean(axis=0), laid.is_common, len(radial) - 1)
    said = _in_patterns(first, stated.shift_mm, laid.is_common, len(stated.shift_mm))
    shares = [
        PatternShare(pattern=pattern, own_mm=own[pattern], stated_mm=said[pattern]) for pattern in Pattern
    ]
    return tuple(sorted(shares, key=lambda one: -one.own_mm / max(one.stated_mm, 1e-9)))


def _in_patterns(
    back: EstimatedBack, shift: FloatArray, common: FloatArray, degrees: int
) -> dict[Pattern, float]:
    """Return the root mean square of shifts (d, n_s, n_phi) float, back frame [mm], by pattern [mm]."""
    grid, spline = back.surface.grid, back.surface.spline
    whole = [
        shifted("", 1.0, (1.0, 0.0, 0.0)),
        shifted("", 1.0, (0.0, 1.0, 0.0)),
        turned("", DEGREE, (1.0, 0.0, 0.0)),
        turned("", DEGREE, (0.0, 1.0, 0.0)),
    ]
    moves = np.concatenate([radial_moves(whole, grid, spline), np.ones((1, grid.n_s, grid.n_phi))])
    used = common.ravel() > 0.0
    basis = moves.reshape(len(moves), -1)[:, used].T
    seen = shift.reshape(len(shift), -1)[:, used].T
    amounts, *_ = np.linalg.lstsq(basis, seen, rcond=None)
    size = np.sqrt((basis**2).mean(axis=0))
    held: dict[Pattern, float] = {
        pattern: float(size[k] * np.sqrt((amounts[k] ** 2).sum() / degrees))
        for k, pattern in enumerate(Pattern)
        if pattern is not Pattern.REST
    }
    rest = seen - basis @ amounts
    held[Pattern.REST] = float(np.sqrt((rest**2).mean(axis=0).sum() / degrees))
    return held


def _practise(patterns: Sequence[PatternShare], overall: OwnErrors) -> str:
    if overall.low <= 1.0:
        return ""
    # Of what is worse than stated, the one that takes most millimetres is worth practising.
    worse = [one for one in patterns if one.own_mm > one.stated_mm]
    worst = max(worse, key=lambda one: one.own_mm**2 - one.stated_mm**2, default=None)
    return "" if worst is None else f"{worst.pattern}: {PRACTISE[worst.pattern]}"
