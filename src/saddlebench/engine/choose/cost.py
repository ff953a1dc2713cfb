"""What a saddle costs the horse and the fitter, as one number that can be taken apart again.

Each finding counts 0 within its fine range, rises evenly to 1 across its borderline band, and on to 3 beyond;
that is multiplied by the finding's weight. What would be altered adds its own cost. The sum has no unit and
means nothing but order: how much is fine, how much is not, and how far off.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from saddlebench.engine.fit.criteria import Combine, Criterion, FindingName
from saddlebench.engine.fit.findings import Held, Row, held_of
from saddlebench.engine.fit.measures.table import MeasureTable
from saddlebench.engine.fit.verdicts import Levels, PressureGuide
from saddlebench.engine.frames import FloatArray

_N = FindingName
DEFAULT_WEIGHTS: Mapping[FindingName, float] = {
    _N.WITHERS_TOP: 3.0,
    _N.WITHERS_TOP_GIRTHED: 1.0,
    _N.WITHERS_DROP: 1.0,
    _N.WITHERS_SIDES: 3.0,
    _N.CHANNEL_WIDTH: 3.0,
    _N.SPINE_STRIP: 3.0,
    _N.SPINE_HEIGHT: 3.0,
    _N.FRONT_ANGLE: 2.0,
    _N.FRONT_WIDTH: 2.0,
    _N.BEHIND_SHOULDER: 2.0,
    _N.LAST_RIB: 3.0,
    _N.BRIDGING: 2.0,
    _N.BRIDGING_GIRTHED: 1.0,
    _N.ROCKING: 2.0,
    _N.LOAD_ALONG: 2.0,
    _N.LOAD_ENDS: 2.0,
    _N.LEFT_SHARE: 1.0,
    _N.SEAT_TILT: 2.0,
    _N.SEAT_SHIFT: 1.0,
    _N.OFF_LINE: 1.0,
    _N.STRAPS: 1.0,
    _N.EDGE_SHARE: 1.0,
    _N.FACE_ANGLE: 2.0,
    _N.SURFACE_USED: 1.0,
    _N.SADDLE_EQUAL: 1.0,
    _N.PRESSURE_MEAN: 0.5,
}
"""What bears on the spine or the withers weighs most; pressure in kPa ranks only, and weighs least.

Rider and tack against the horse and pressures at the trot's peak are shown, not counted.
"""
MOST = 3.0
"""What one finding can count at most, before its weight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CostRules:
    """What weighs how much; a practice puts in its own."""

    weights: Mapping[FindingName, float] = field(default_factory=lambda: dict(DEFAULT_WEIGHTS))
    most: float = MOST
    not_known: float = 0.5
    """What a finding counts that could not be measured."""
    arch_set: float = 1.0
    """What setting the arch counts, whatever the width."""
    flock_changed: float = 0.5
    """What changing the fill counts."""
    owner: str = "saddlebench default"
    source: str = "an order of importance in common practice; the weights are an assumption"

    @property
    def words(self) -> tuple[str, ...]:
        """The rule in plain sentences."""
        return (
            f"Each finding counts 0 if fine, up to 1 if borderline, up to {self.most:g} if not right.",
            "That is multiplied by the finding's weight, and all findings are added up.",
            f"Setting the front arch adds {self.arch_set:g}, changing the fill {self.flock_changed:g}.",
            "The sum only orders saddles. Pressure weighs least and never rules a saddle out.",
            f"Weights: {self.owner} ({self.source}).",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What each finding counts, over `d` solutions of one pair."""

    names: tuple[FindingName, ...]
    """(m,): a finding of both sides stands twice."""
    counted: FloatArray
    """(d, m) float [1]: weighted."""

    @property
    def total(self) -> FloatArray:
        """(d,) float [1]."""
        return np.asarray(self.counted.sum(axis=1))


def costs_of(rows: Sequence[Row], table: MeasureTable, rules: CostRules) -> Costs:
    """Return what the findings of a pair count.

    Parameters
    ----------
    rows : the criteria that apply
    table : the measures of `d` solutions
    rules : what weighs how much
    """
    counted = [row for row in rows if rules.weights.get(row.finding, 0.0) > 0.0]
    parts = [rules.weights[row.finding] * _penalty(row, table, rules) for row in counted]
    return Costs(
        names=tuple(row.finding for row in counted),
        counted=np.stack(parts, axis=1) if parts else np.zeros((table.count, 0)),
    )


def _penalty(row: Row, table: MeasureTable, rules: CostRules) -> FloatArray:
    each = np.stack([_of_limit(held, row, table, rules) for held in held_of(row)])
    is_best = isinstance(row, Criterion) and row.combine is Combine.BEST
    return np.asarray(each.min(axis=0) if is_best else each.max(axis=0))


def _of_limit(held: Held, row: Row, table: MeasureTable, rules: CostRules) -> FloatArray:
    key = held.measure
    if key not in table.columns:
        # a measure that no solution has: one that was not felt, or of a state that never came to rest
        never_sat = row.needs_settling and bool(table.unsettled)
        return np.full(table.count, rules.most if never_sat else rules.not_known)
    shown = table.columns[key] / key.unit.in_engine
    if isinstance(held, PressureGuide):
        off = np.clip(shown / held.usual_below_kpa - 1.0, 0.0, 1.0)
    else:
        off = np.clip(how_far_off(held.levels, shown), 0.0, rules.most)
    return np.where(table.known[key], off, rules.most)


def how_far_off(levels: Levels, shown: FloatArray) -> FloatArray:
    """Return 0 within the fine range, 1 at the end of the borderline band, and on at the same rate.

    Where the band has no end, being off never counts for more than 1, reached half the fine range on.
    Where there is no band, one unit (mm, %, °) counts for 1.

    Parameters
    ----------
    levels : the limit
    shown : (d,) float, any frame [the unit people see]
    """
    (low, high), (least, greatest) = levels.fine, levels.borderline
    return np.maximum(
        _beyond(low - shown, low - least, high - low), _beyond(shown - high, greatest - high, high - low)
    )


def _beyond(distance: FloatArray, band: float, fine: float) -> FloatArray:
    if np.isfinite(band) and band > 0.0:
        return np.maximum(distance / band, 0.0)
    if band == 0.0:
        # fine and not right touch: a jump there would tear apart saddles that hardly differ
        return np.maximum(distance, 0.0)
    if not np.isfinite(fine) or fine <= 0.0:
        return np.zeros_like(distance)
    return np.clip(distance / (0.5 * fine), 0.0, 1.0)
