"""What is known of a change that is told and not named: on which side, in which half it most likely lies.

Discs of all places and sizes are weighed as accounts of the readings (`accounts.py`), both ways. What no
single place is sure enough of may still be sure of a side, a half, or the direction.
"""

import numpy as np

from saddlebench.engine.change.accounts import Accounts
from saddlebench.engine.change.naming import WIDE_RULED_OUT, Scene, middles
from saddlebench.engine.change.results import Unplaced

MIDLINE_MM = 15.0
"""Middles nearer to the midline than this are on neither side."""


def unplaced(scene: Scene) -> Unplaced:
    """Return what the discs' shares add up to."""
    discs = scene.discs
    scores, sd = scene.plain.scores(np.zeros(len(scene.mapped), dtype=bool))
    accounts = Accounts.of(scores, sd)
    fuller, less = accounts.shares(1.0), accounts.shares(-1.0)
    shares = fuller + less
    first, last = float(discs.s_mm.min()), float(discs.s_mm.max())
    half = 0.5 * (first + last)
    best = int(np.argmax(shares))
    return Unplaced(
        s_mm=float(discs.s_mm[best]),
        from_midline_mm=float(discs.from_midline_mm[best]),
        half_mm=half,
        fuller=float(fuller.sum()),
        front=float(shares[discs.s_mm <= half].sum()),
        left=float(shares[discs.from_midline_mm > MIDLINE_MM].sum()),
        right=float(shares[discs.from_midline_mm < -MIDLINE_MM].sum()),
        middles_mm=middles(discs, shares),
        is_wide_likely=scene.wide_evidence - accounts.together > -WIDE_RULED_OUT,
    )
