"""A chain's readings rounded together, so that rounding does not pile up along its links.

Rounding each joint on its own throws the outer pads off by a sum of roundings. Rounding each from where the
one before was *left* does not, and where a chain touches at its joints it is all but the best there is. Where
pads sit elsewhere on their links it is not: a pad may lie well and the joint beyond it badly. So a handful of
the best beginnings are kept at each joint and continued by the divisions about its exact angle (beam search),
and the whole with the least sum of the pads' distances to the fourth power is taken: there the worst counts
most.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from saddlebench.engine.back.instruments import ChainArm, ToplineChain
from saddlebench.engine.back.outline import crossing, distance_to
from saddlebench.engine.back.readings import Reading
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

KEPT = 10
"""Beginnings kept at each joint."""
ABOUT = (-1, 0, 1, 2)
"""Divisions tried, from the one just below the exact angle."""

Choices = Callable[[int, float], Sequence[tuple[float, float]]]
"""For a joint and its exact angle [°]: readings worth trying, each with its angle [°]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Begun:
    joint: FloatArray
    below: float
    rest: FloatArray
    readings: tuple[float, ...]
    cost: float


def round_arm(arm: ChainArm, half: FloatArray) -> tuple[Reading, ...]:
    """Return the readings of an arm laid on a half outline; blank beyond the outline's end.

    Parameters
    ----------
    arm : the links
    half : (n, 2) float, arm frame: out from the midline and up from the skin there, outward [mm]
    """

    def choices(k: int, angle_deg: float) -> Sequence[tuple[float, float]]:
        scale, zero = arm.scale, arm.zero_deg[k]
        step = abs(scale.per_division) * scale.step
        tried = {scale.nearest(angle_deg - zero + j * step) for j in (-1.5, -0.5, 0.5, 1.5)}
        tried.add(scale.nearest(angle_deg - zero))
        return [(reading, zero + scale.per_division * reading) for reading in sorted(tried)]

    return _blank_filled(_laid(arm, half, choices), arm.n_links)


def round_topline(chain: ToplineChain, midline: FloatArray) -> tuple[Reading, ...]:
    """Return the level of a topline chain's first link, then its joints' readings.

    Parameters
    ----------
    chain : the chain
    midline : (n, 2) float, arm frame: back from the start and up from the skin there [mm]
    """
    arm = chain.arm

    def choices(k: int, angle_deg: float) -> Sequence[tuple[float, float]]:
        if k == 0:
            first = np.floor((angle_deg - arm.zero_deg[0]) / chain.level_step_deg)
            levels = [float(round((first + j) * chain.level_step_deg, 9)) for j in ABOUT]
            return [(level, arm.zero_deg[0] + level) for level in levels]
        step = abs(arm.scale.per_division) * arm.scale.step
        tried = {arm.scale.nearest(angle_deg - arm.zero_deg[k] + j * step) for j in (-1, 0, 1)}
        return [(reading, arm.zero_deg[k] + arm.scale.per_division * reading) for reading in sorted(tried)]

    return _blank_filled(_laid(arm, midline, choices), arm.n_links)


def _blank_filled(readings: tuple[float, ...], n: int) -> tuple[Reading, ...]:
    return (*readings, *(None for _ in range(n - len(readings))))


def _laid(arm: ChainArm, half: FloatArray, choices: Choices) -> tuple[float, ...]:
    start = np.array([arm.first_joint_out_mm, arm.first_joint_up_mm])
    begun = [_Begun(joint=start, below=0.0, rest=half, readings=(), cost=0.0)]
    for k in range(arm.n_links):
        grown = [one for held in begun for one in _continued(arm, half, k, held, choices)]
        if not grown:
            break
        begun = sorted(grown, key=lambda one: one.cost)[:KEPT]
    return begun[0].readings


def _continued(arm: ChainArm, half: FloatArray, k: int, held: _Begun, choices: Choices) -> list[_Begun]:
    pad = np.array([arm.pad_along_mm[k], arm.pad_below_mm[k]])
    rest = crossing(held.rest, held.joint, float(np.hypot(*pad)))
    if len(rest) == 0:
        return []
    out, up = rest[0] - held.joint
    turn = np.arctan2(-up, out) - np.arctan2(pad[1], pad[0]) - held.below
    tried = choices(k, float((turn + np.pi) % (2 * np.pi) - np.pi) / DEGREE)
    below = held.below + np.array([angle for _, angle in tried]) * DEGREE
    along = np.stack([np.cos(below), -np.sin(below)], axis=1)
    inward = np.stack([-np.sin(below), -np.cos(below)], axis=1)
    off = distance_to(half, held.joint + pad[0] * along + pad[1] * inward)
    return [
        _Begun(
            joint=held.joint + arm.link_mm[k] * along[i],
            below=float(below[i]),
            rest=rest,
            readings=(*held.readings, reading),
            cost=held.cost + float(off[i]) ** 4,
        )
        for i, (reading, _) in enumerate(tried)
    ]
