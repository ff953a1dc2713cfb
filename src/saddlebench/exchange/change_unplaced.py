"""What is said of a change that is told and not named: where it most likely lies, what would settle it."""

import numpy as np

from saddlebench.engine.change.results import Unplaced
from saddlebench.exchange.readers import NO_BREAK
from saddlebench.exchange.vocabulary import said

APART_MM = 50.0
"""Stations so far to either side of the likeliest middle see a change of 100 mm as well."""
LIKELY, MOST = 0.6, 0.99
"""From this share on a side, a half or a direction is said; none is called surer than the other."""


def unplaced_words(held: Unplaced) -> tuple[str, ...]:
    """Return in sentences what is known of it, and what to measure again."""
    sentences = [_where(held), *([_OR_WIDER] if held.is_wide_likely else []), _again(held)]
    return tuple(said(one) for one in sentences)


_OR_WIDER = "It may also be a part of a change over a wide part of the back."


def _where(held: Unplaced) -> str:
    sides = {
        "on the near (left) side": held.left,
        "on the off (right) side": held.right,
        "on the midline": 1.0 - held.left - held.right,
    }
    halves = {
        f"in the front half, before {held.half_mm:.0f}{NO_BREAK}mm behind the shoulder mark": held.front,
        f"in the rear half, from {held.half_mm:.0f}{NO_BREAK}mm behind the shoulder mark on": 1.0
        - held.front,
    }
    ways = {
        "the later record is fuller there": held.fuller,
        "the later record is less there": 1.0 - held.fuller,
    }
    likely = (max(each.items(), key=lambda one: one[1]) for each in (sides, halves, ways))
    parts = [f"{words} ({100.0 * min(share, MOST):.0f} of 100)" for words, share in likely if share >= LIKELY]
    if not parts:
        return "Not even its side, half or direction is surer than not."
    return f"If it is in one place, it most likely lies so: {'; '.join(parts)}."


def measure_again_mm(held: Unplaced) -> tuple[float, float, float]:
    """Return three places behind the shoulder mark that would settle it best, to ten millimetres."""
    middle = 10.0 * float(np.round(held.s_mm / 10.0))
    return middle - APART_MM, middle, middle + APART_MM


def _again(held: Unplaced) -> str:
    first, middle, last = (f"{one:.0f}".replace("-", "\u2212") for one in measure_again_mm(held))
    return (
        f"To settle it, measure again within days: stations at {first}, {middle} and "
        f"{last}{NO_BREAK}mm behind the shoulder mark, twice, with a comb where this was a chain; "
        "then compare that record with the earlier one."
    )
