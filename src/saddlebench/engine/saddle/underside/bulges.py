"""Where something lies against a panel's edge, a hand or a strap, and is no part of the panel."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.underside.edges import Edge

_FEWEST = 12
_CORNER_MM = 24.0
_OUTLINE_DEGREE = 5
_BULGE_MM = 6.0
"""A panel's edge that runs out further than this from its own smooth line is looked at (judgement, bench)."""
_LONGEST_BULGE_MM = 110.0
"""What runs out over more than this may be the panel itself (judgement: a hand and a half)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulge:
    """Where an edge runs out further than a panel does: a hand, a strap, a flap that lies against it."""

    side: int
    is_outer: bool
    begin_mm: float
    end_mm: float
    """Behind the front edge."""
    out_mm: float
    """How far at most."""


def without_bulges(
    places: FloatArray, edge: Edge, span_mm: tuple[float, float], side: int, *, is_outer: bool
) -> tuple[Edge, tuple[Bulge, ...]]:
    """Return an edge without readings that run out of its smooth line for a short way, and where they were.

    The line is a polynomial through most of the readings (Tukey's biweight), the rounded ends apart. An outer
    edge is looked at outwards, an inner one towards the channel: holes pull the other way, and so do corners.

    Parameters
    ----------
    places : (k,) float, saddle frame, behind the front edge [mm]
    edge : as found at these places
    span_mm : where the panel begins and ends [mm]
    side : +1 left, −1 right
    is_outer : whether it is the outer edge
    """
    begin, end = span_mm[0] + _CORNER_MM, span_mm[1] - _CORNER_MM
    use = np.isfinite(edge.at_mm) & (places > begin) & (places < end)
    if use.sum() < _FEWEST:
        return edge, ()
    at = 2.0 * (places - begin) / (end - begin) - 1.0
    out = np.where(is_outer, 1.0, -1.0) * edge.at_mm
    rows = chebyshev.chebvander(at, _OUTLINE_DEGREE)
    left, spread = np.zeros(len(places)), 3.0
    weight = use & edge.is_seen if (use & edge.is_seen).sum() >= 0.5 * use.sum() else use
    trust = weight.astype(float)
    for turn in range(10):
        weighted = rows * trust[:, None]
        right = weighted.T @ np.where(use, out, 0.0)
        line = rows @ np.linalg.solve(weighted.T @ rows + 1e-6 * np.eye(rows.shape[1]), right)
        left = np.where(use, out - line, 0.0)
        spread = max(0.5, 1.4826 * float(np.median(np.abs(left[weight]))))
        width = max(4.0 * spread, 16.0 - 3.0 * turn)
        trust = np.where(weight, np.maximum(0.0, 1.0 - (left / width) ** 2) ** 2, 0.0)
    most = max(_BULGE_MM, 4.0 * spread)
    label = np.cumsum(np.diff((use & (left > 0.5 * most)).astype(int), prepend=0) == 1)
    gone, found = np.zeros(len(places), bool), []
    for k in range(1, int(label.max()) + 1):
        mine = use & (left > 0.5 * most) & (label == k)
        if left[mine].max() > most and np.ptp(places[mine]) < _LONGEST_BULGE_MM:
            gone |= mine
            found.append(
                Bulge(
                    side=side,
                    is_outer=is_outer,
                    begin_mm=float(places[mine].min() - span_mm[0]),
                    end_mm=float(places[mine].max() - span_mm[0]),
                    out_mm=float(left[mine].max()),
                )
            )
    # What lies beside a hand is half hand: the readings next to it are left out as well.
    gone |= np.convolve(gone, np.ones(3), mode="same") > 0.0
    return Edge(at_mm=np.where(gone, np.nan, edge.at_mm), is_seen=edge.is_seen), tuple(found)
