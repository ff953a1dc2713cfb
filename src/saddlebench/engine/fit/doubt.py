"""From a cloud of draws to what may be said of each finding, and what to do where it cannot be told."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.agreement import AGREEING
from saddlebench.engine.fit.findings import (
    UNKNOWN,
    Confidence,
    Doubt,
    DoubtKind,
    Driver,
    Finding,
    Held,
    Row,
    column_shown,
    held_of,
    severities,
    verdict_of,
)
from saddlebench.engine.fit.influence import Sources, driver_of
from saddlebench.engine.fit.measures.names import Key
from saddlebench.engine.fit.measures.table import Measure, MeasureTable
from saddlebench.engine.fit.verdicts import BY_SEVERITY, Limit, Verdict
from saddlebench.engine.frames import FloatArray

COVERAGE = 0.95
NOTHING_TO_TRY = Undetermined("not tried: it could not be told to begin with")
RANKS_ONLY = Undetermined("not tried: pressures at the trot's peak only rank")
NO_SPREAD = Undetermined("nothing that varies changes it")


def coverage_interval(values: FloatArray, coverage: float = COVERAGE) -> tuple[float, float]:
    """Return the probabilistically symmetric coverage interval of draws (d,) float, any frame [any unit].

    JCGM 101:2008, 7.7.2.
    """
    low, high = np.quantile(values, [(1.0 - coverage) / 2.0, (1.0 + coverage) / 2.0])
    return float(low), float(high)


def with_confidence(
    findings: Sequence[Finding], rows: Sequence[Row], cloud: MeasureTable, sources: Sources
) -> tuple[Finding, ...]:
    """Return the findings with their confidence, those that cannot be told marked so.

    Parameters
    ----------
    findings : as computed
    rows : the criterion of each
    cloud : the measures of all draws
    sources : what their spread may come from
    """
    return tuple(
        _judged_again(finding, row, cloud, sources) for finding, row in zip(findings, rows, strict=True)
    )


def _judged_again(finding: Finding, row: Row, cloud: MeasureTable, sources: Sources) -> Finding:
    if finding.as_computed is Verdict.CANNOT_TELL:
        return replace(finding, confidence=NOTHING_TO_TRY)
    if not any(held.measure in cloud.columns for held in held_of(row)):
        return replace(finding, confidence=RANKS_ONLY)
    overall, each = severities(row, cloud)
    codes = (*range(len(BY_SEVERITY)), UNKNOWN)
    shares = {verdict_of(code): float(np.mean(overall == code)) for code in codes}
    key = finding.decided_by.limit.measure
    interval = _interval(cloud, key)
    wavering = _wavering(finding, each, held_of(row))
    confidence = Confidence(
        tried=cloud.count,
        shares=shares,
        interval=interval,
        driver=_driver(cloud, sources, wavering.measure),
    )
    doubt = _doubt(finding, confidence, wavering, cloud)
    if doubt is None:
        return replace(finding, confidence=confidence)
    return replace(finding, confidence=confidence, verdict=Verdict.CANNOT_TELL, note=None, doubt=doubt)


def _wavering(finding: Finding, each: NDArray[np.int8], held: Sequence[Held]) -> Held:
    """Return the limit whose own answer changes most often; the deciding one if none changes."""
    computed = [judged.verdict for judged in finding.all_judged]
    changes = [
        float(np.mean([verdict_of(int(code)) is not verdict for code in codes]))
        for codes, verdict in zip(each, computed, strict=True)
    ]
    most = int(np.argmax(changes))
    return held[most] if changes[most] > 0.0 else finding.decided_by.limit


def _interval(cloud: MeasureTable, key: Key) -> tuple[float, float] | Undetermined:
    if key not in cloud.columns or not cloud.known[key].any():
        return Undetermined("in none of the tries could it be read off")
    return coverage_interval(column_shown(cloud, key))


def _driver(cloud: MeasureTable, sources: Sources, key: Key) -> Driver | Undetermined:
    if key not in cloud.columns or np.ptp(cloud.columns[key]) == 0.0:
        return NO_SPREAD
    return driver_of(sources, cloud.columns[key])


@dataclass(frozen=True, slots=True)
class _Error:
    half_width: float
    """Of the coverage interval, in the unit people see."""
    band: float
    """Width of the narrowest bounded band of verdicts; infinite where there is none."""


def _doubt(finding: Finding, confidence: Confidence, wavering: Held, cloud: MeasureTable) -> Doubt | None:
    agreeing = confidence.agreeing(finding.as_computed)
    lost = confidence.agreeing(Verdict.CANNOT_TELL)
    if lost > 1.0 - AGREEING:
        reason = (
            f"in {100 * lost:.0f} % of the tries the saddle does not sit, or not where the back was measured"
        )
        return Doubt(kind=DoubtKind.DOES_NOT_SIT, reason=reason)
    error = _error(wavering, cloud)
    if agreeing >= AGREEING and not _is_swamped(finding, confidence):
        return None
    driver = confidence.driver
    if error.half_width <= error.band / 2.0:
        return Doubt(
            kind=DoubtKind.NEAR_THE_LIMIT,
            reason=f"{100 * agreeing:.0f} % of the tries agree: it lies too near the limit",
        )
    reason = _too_coarse(finding, wavering, error)
    if isinstance(driver, Undetermined):
        return Doubt(kind=DoubtKind.NOT_MEASURED_WELL_ENOUGH, reason=reason)
    return Doubt(
        kind=DoubtKind.NOT_MEASURED_WELL_ENOUGH,
        reason=f"{reason}; most of it comes from {driver.source}",
        stations=driver.stations,
    )


def _too_coarse(finding: Finding, wavering: Held, error: _Error) -> str:
    """Say how well it is known, and against what; what it is, where that is not the number shown."""
    key, symbol = wavering.measure, wavering.measure.unit.symbol
    space = "" if symbol in ("°", "%") else " "
    what = "it" if key.name is finding.decided_by.limit.measure.name else f"the {key.name}"
    known = f"{what} is known to ±{error.half_width:.0f}{space}{symbol} only"
    if not np.isfinite(error.band):
        return known
    return f"{known}, and between fine and not right lie {error.band:.0f}{space}{symbol}"


def _error(held: Held, cloud: MeasureTable) -> _Error:
    interval = _interval(cloud, held.measure)
    half = 0.0 if isinstance(interval, Undetermined) else (interval[1] - interval[0]) / 2.0
    if not isinstance(held, Limit):
        return _Error(half, np.inf)
    bounds = held.levels.bounds
    widths = [high - low for low, high in pairwise(bounds) if high > low]
    return _Error(half, min(widths, default=np.inf))


def _is_swamped(finding: Finding, confidence: Confidence) -> bool:
    """Tell whether the band in which the deciding measure lies is narrower than its error."""
    measure, limit = finding.decided_by.measure, finding.decided_by.limit
    if not isinstance(limit, Limit) or not isinstance(measure, Measure):
        return False
    if isinstance(confidence.interval, Undetermined):
        return False
    low, high = confidence.interval
    return limit.levels.narrowest_band(measure.shown) < (high - low) / 2.0
