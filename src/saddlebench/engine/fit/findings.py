"""From measures to findings: each criterion answered, with its why."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.criteria import (
    Combine,
    Criteria,
    Criterion,
    FindingName,
    Note,
    PressureCriterion,
)
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.measures.names import Key, Part, Side
from saddlebench.engine.fit.measures.table import Absent, Measure, MeasureTable
from saddlebench.engine.fit.verdicts import BY_SEVERITY, Limit, PressureGuide, Verdict
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel

UNKNOWN = 3
"""Severity code of "cannot tell", beside 0 fine, 1 borderline, 2 not right."""
Row = Criterion | PressureCriterion
Held = Limit | PressureGuide


class DoubtKind(StrEnum):
    """Why a finding cannot be told."""

    NEAR_THE_LIMIT = "near the limit"
    NOT_MEASURED_WELL_ENOUGH = "not measured well enough"
    NOT_MEASURED = "not measured"
    NOT_COVERED = "not covered by the model"
    DOES_NOT_SIT = "the saddle does not sit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Why it cannot be told, and what would help."""

    kind: DoubtKind
    reason: str
    stations: tuple[int, ...] = ()
    """Stations (from 1) to measure, or to measure again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One measure held against its limit."""

    limit: Held
    measure: Measure | Absent
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """The input that a finding's doubt comes from most."""

    source: str
    """In words: "station 3, right", "girth tension"."""
    share: float
    """Its part of the spread [1]."""
    stations: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Confidence:
    """How often the finding comes out the same when everything uncertain is tried, if the model holds."""

    tried: int
    shares: Mapping[Verdict, float]
    """Share of the tries that ended in each verdict; sums to 1."""
    interval: tuple[float, float] | Undetermined
    """2.5th and 97.5th percentile of the deciding measure, in the unit people see."""
    driver: Driver | Undetermined

    def agreeing(self, verdict: Verdict) -> float:
        """Return the share of tries that agree."""
        return self.shares.get(verdict, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One criterion's outcome."""

    name: FindingName
    side: Side
    """Near or off where the finding is of one side only."""
    verdict: Verdict
    """What is said, after doubt."""
    as_computed: Verdict
    """What the best estimate alone says."""
    decided_by: Judged
    all_judged: tuple[Judged, ...]
    note: Note | None
    confidence: Confidence | Undetermined
    doubt: Doubt | None
    """Set exactly when the verdict is "cannot tell"."""


NOT_TRIED = Undetermined("not asked for: no confidence was computed")


def held_of(row: Row) -> tuple[Held, ...]:
    """Return the limits or guides of a row."""
    return row.limits if isinstance(row, Criterion) else row.guides


def severities(row: Row, table: MeasureTable) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """Return the finding's severity code, (count,), and each limit's, (limits, count)."""
    each = np.stack([_severity(held, table) for held in held_of(row)])
    known = np.where(each == UNKNOWN, -1, each)
    is_best = isinstance(row, Criterion) and row.combine is Combine.BEST
    some_unknown = np.any(each == UNKNOWN, axis=0)
    if is_best:
        combined = each.min(axis=0)
        return np.where(some_unknown & (combined > 0), UNKNOWN, combined).astype(np.int8), each
    combined = known.max(axis=0)
    return np.where(some_unknown & (combined < 2), UNKNOWN, combined).astype(np.int8), each


def _severity(held: Held, table: MeasureTable) -> NDArray[np.int8]:
    key = held.measure
    if key not in table.columns:
        return np.full(table.count, UNKNOWN, dtype=np.int8)
    shown = table.columns[key] / key.unit.in_engine
    if isinstance(held, PressureGuide):
        code = np.where(shown <= held.usual_below_kpa, 0, 1)
    else:
        fine, borderline = held.levels.fine, held.levels.borderline
        within = (shown >= borderline[0]) & (shown <= borderline[1])
        code = np.where((shown >= fine[0]) & (shown <= fine[1]), 0, np.where(within, 1, 2))
    return np.where(table.known[key], code, UNKNOWN).astype(np.int8)


def judge(table: MeasureTable, saddle: SaddleModel, horse: Horse, criteria: Criteria) -> tuple[Finding, ...]:
    """Return the findings of a single solution's measures, without confidence yet."""
    return tuple(
        _finding(row, table, saddle, horse) for row in rows_that_apply(table, saddle, horse, criteria)
    )


def rows_that_apply(
    table: MeasureTable, saddle: SaddleModel, horse: Horse, criteria: Criteria
) -> tuple[Row, ...]:
    """Return the criteria for this pair; rows of a state that was never asked for are left out."""
    rows: list[Row] = [*criteria.for_pair(saddle.family, horse.build)]
    asked = set(table.keys)
    rows.extend(
        row
        for row in criteria.pressures_for(saddle.family)
        if any(guide.measure in asked for guide in row.guides)
    )
    return tuple(rows)


def _finding(row: Row, table: MeasureTable, saddle: SaddleModel, horse: Horse) -> Finding:
    held = held_of(row)
    overall, each = severities(row, table)
    code = int(overall[0])
    judged = tuple(
        Judged(limit=one, measure=table.at(one.measure), verdict=verdict_of(int(severity[0])))
        for one, severity in zip(held, each, strict=True)
    )
    decided = judged[_deciding(judged, code)]
    covered = saddle.family.is_rigid or not row.needs_settling
    verdict = verdict_of(code) if covered else Verdict.CANNOT_TELL
    return Finding(
        name=row.finding,
        side=_common_side(held),
        verdict=verdict,
        as_computed=verdict,
        decided_by=decided,
        all_judged=judged,
        note=None if verdict is Verdict.CANNOT_TELL else _note(row, decided, horse),
        confidence=NOT_TRIED,
        doubt=_absence(decided.measure, saddle, covered=covered) if verdict is Verdict.CANNOT_TELL else None,
    )


def verdict_of(code: int) -> Verdict:
    """Return the verdict of a severity code."""
    return Verdict.CANNOT_TELL if code == UNKNOWN else BY_SEVERITY[code]


def _deciding(judged: Sequence[Judged], code: int) -> int:
    """Return which measure decides.

    Of those with the finding's own verdict the first kind counts, and of that kind the one furthest out.
    """
    wanted = verdict_of(code)
    candidates = [index for index, one in enumerate(judged) if one.verdict is wanted]
    candidates = candidates or list(range(len(judged)))
    first = judged[candidates[0]].limit.measure.name
    alike = [index for index in candidates if judged[index].limit.measure.name is first]
    return max(alike, key=lambda index: (_how_far_out(judged[index]), -index))


def _how_far_out(judged: Judged) -> float:
    """Return how far beyond its fine range a measure lies, over the width of its borderline band."""
    if not isinstance(judged.measure, Measure):
        return 0.0
    shown = judged.measure.shown
    if isinstance(judged.limit, PressureGuide):
        return shown / judged.limit.usual_below_kpa - 1.0
    (fine_low, fine_high), (low, high) = judged.limit.levels.fine, judged.limit.levels.borderline
    bands = [width for width in (fine_low - low, high - fine_high) if 0.0 < width < np.inf]
    beyond = max(fine_low - shown, shown - fine_high)
    return float(beyond / (min(bands) if bands else 1.0))


def _common_side(held: Iterable[Held]) -> Side:
    sides = {getattr(one.measure, "side", Side.BOTH) for one in held}
    return sides.pop() if len(sides) == 1 else Side.BOTH


TOUCHING = {FindingName.WITHERS_TOP: Note.ON_WITHERS, FindingName.SPINE_HEIGHT: Note.ON_SPINE}
"""Said where a clearance comes out below 0: arch and channel's roof do not push back in the model."""
_LOAD_NOTES = {Part.FRONT: Note.LOADS_FRONT, Part.MIDDLE: Note.LOADS_MIDDLE, Part.REAR: Note.LOADS_REAR}


def _note(row: Row, decided: Judged, horse: Horse) -> Note | None:
    if not isinstance(decided.limit, Limit) or not isinstance(decided.measure, Measure):
        return None
    if not isinstance(row, Criterion):
        return None
    shown, fine = decided.measure.shown, decided.limit.levels.fine
    if row.finding in TOUCHING and shown < 0.0:
        return TOUCHING[row.finding]
    if row.finding in (FindingName.LOAD_ALONG, FindingName.LOAD_ENDS) and shown > fine[1]:
        return _LOAD_NOTES[decided.limit.measure.part]
    note = row.below if shown < fine[0] else row.above if shown > fine[1] else None
    return None if note is Note.SITS_HIGH and horse.is_flat_withered else note


def touching(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings by which the saddle would lie on the withers or the spine, as computed."""
    return tuple(
        finding
        for finding in findings
        if finding.name in TOUCHING
        and isinstance(finding.decided_by.measure, Measure)
        and finding.decided_by.measure.shown < 0.0
    )


def _absence(measure: Measure | Absent, saddle: SaddleModel, *, covered: bool) -> Doubt:
    if not covered:
        reason = f"a {saddle.family} saddle is not rigid: how it lies under load is not computed"
        return Doubt(kind=DoubtKind.NOT_COVERED, reason=reason)
    if isinstance(measure, NotMeasured):
        return Doubt(kind=DoubtKind.NOT_MEASURED, reason=measure.reason, stations=measure.stations)
    reason = measure.reason if isinstance(measure, Undetermined) else "one of its measures is missing"
    return Doubt(kind=DoubtKind.DOES_NOT_SIT, reason=reason)


def column_shown(table: MeasureTable, key: Key) -> FloatArray:
    """Return one measure's known values, (k,) float, in the unit people see."""
    return table.columns[key][table.known[key]] / key.unit.in_engine
