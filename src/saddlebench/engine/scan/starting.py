"""Choose where a piece lies on others: many beginnings, and the one kept that most points speak for."""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.facing import Facing, together
from saddlebench.engine.scan.lay import lay_on, partners
from saddlebench.engine.scan.rigid import AS_IT_LIES, Rigid
from saddlebench.engine.scan.start import Footing, begins, footings

_JUDGED_WITHIN_MM, _GOOD_MM = 45.0, 12.0
_CLEAR = 0.8
"""Another place with more than this share of the best one's points makes the best one doubtful."""
_FEWEST_GOOD = 250


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a piece lies."""

    move: Rigid
    good: float
    """How many of its points speak for it, less those that speak against."""
    clear: bool
    """Whether no other place comes near."""


def place_on(
    moving: Facing,
    up: FloatArray | None,
    lying: list[tuple[Facing, Rigid]],
    up_of_first: FloatArray | None,
    rng: np.random.Generator,
) -> Place | None:
    """Return where a piece lies on those that lie already, or None.

    Parameters
    ----------
    moving : Facing
    up : (3,) float, instrument frame of the piece, where a person stated it
    lying : the pieces that lie, each with its move to the first one's axes
    up_of_first : (3,) float, instrument frame of the first piece, where a person stated it
    rng : for finding planes
    """
    target = together([one.moved(move) for one, move in lying])
    ways, ways_on = footings(moving.points, up, rng), footings(target.points, up_of_first, rng)
    starts: list[tuple[Rigid, Footing, Footing]] = [(AS_IT_LIES, ways[0], ways_on[0])]
    for stood in ways:
        for on in ways_on:
            starts += [(one.move, stood, on) for one in begins(moving.points, target.points, stood, on)]
    # Ground and walls are left out: they fit themselves anywhere.
    free_of = {id(way): moving.part(way.free(moving.points)) for way in ways}
    below_of = {id(way): target.part(way.free(target.points)) for way in ways_on}
    places: list[Place] = []
    for start, stood, on in starts:
        piece, below = free_of[id(stood)], below_of[id(on)]
        move = lay_on(piece, below, start)
        if move is not None:
            places.append(Place(move=move, good=_speaking(piece, below, move), clear=True))
    places = sorted((one for one in places if one.good > _FEWEST_GOOD), key=lambda one: -one.good)
    if not places:
        return None
    best, at = places[0], moving.points.mean(axis=0)
    for other in places[1:]:
        turn, off = best.move.apart_from(other.move, at)
        if (turn > np.deg2rad(10.0) or off > 120.0) and other.good > _CLEAR * best.good:
            return Place(move=best.move, good=best.good, clear=False)
    return best


def _speaking(moving: Facing, fixed: Facing, move: Rigid) -> float:
    found = partners(moving, fixed, move, _JUDGED_WITHIN_MM)
    off = np.abs(found.off_mm)
    return float((off < _GOOD_MM).sum() - 1.5 * (off >= _GOOD_MM).sum())
