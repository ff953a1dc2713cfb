"""What drives a finding's doubt, and which reading, taken once more, would lessen it most.

Everything is read off the cloud of tries that made the confidence (JCGM 101:2008): `doubt_sources.py` says
how much of the spread goes with what, `explained.py` what is beyond chance and what would settle the matter.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.doubt_sources import (
    LIKELY,
    SourceKind,
    WorthRepeating,
    best_of,
    kind_of_input,
    likely_settled,
    sources_of,
)
from saddlebench.engine.fit.explained import HALF_WIDTH, beyond_chance, moments, settling
from saddlebench.engine.fit.findings import Finding, Row, held_of, severities
from saddlebench.engine.fit.measures.names import Key, MeasureKey, Side
from saddlebench.engine.fit.measures.table import MeasureTable
from saddlebench.engine.fit.sections_again import Section, sections_of
from saddlebench.engine.fit.uncertain import Inputs
from saddlebench.engine.fit.verdicts import Limit, Verdict
from saddlebench.engine.frames import FloatArray

__all__ = [
    "HALF_WIDTH",
    "LIKELY",
    "FindingDoubt",
    "Section",
    "SourceKind",
    "WorthRepeating",
    "best_of",
    "beyond_chance",
    "kind_of_input",
    "sections_of",
    "settling",
    "sources_of",
    "worth_repeating",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingDoubt:
    """Where the doubt of one finding comes from, the largest source first."""

    finding: FindingName
    side: Side
    what: str
    """The measure that wavers, as its key says it."""
    unit: str
    value: float
    """Mean of the tries, in the unit people see."""
    half_width: float
    """Of its 95 % [same unit]."""
    bounds: tuple[float, ...]
    """Limits at which the verdict changes [same unit]."""
    agreeing: float
    """Share of the tries that agree with what was computed [1]."""
    is_told: bool
    sources: tuple[WorthRepeating, ...]

    @property
    def best(self) -> WorthRepeating | Undetermined:
        """The repeat that helps most."""
        return best_of(self.sources)

    @property
    def would_settle(self) -> bool:
        """Whether the best repeat settles the finding more often than not."""
        return not self.is_told and likely_settled(self.sources)

    def half_width_after(self, source: WorthRepeating) -> float:
        """Return the expected half width of the measure's 95 % after one repeat, in the unit people see."""
        return self.half_width * float(np.sqrt(1.0 - source.removes))


def worth_repeating(
    findings: Sequence[Finding],
    rows: Sequence[Row],
    table: MeasureTable,
    inputs: Inputs,
    radius_shift_mm: FloatArray,
    estimated: EstimatedBack,
) -> tuple[FindingDoubt, ...]:
    """Return where the doubt of each finding comes from.

    Parameters
    ----------
    findings : with their confidence
    rows : the criterion of each
    table : the measures of all tries
    inputs : what was drawn beside the back, the errors of the record's frame among them
    radius_shift_mm : (d, n_s, n_phi) float, back frame: each drawn back less the estimate [mm]
    estimated : the back and its readings

    Returns
    -------
    one for every finding whose measure varies; a pressure only ranks and has none
    """
    sections = sections_of(estimated, radius_shift_mm)
    held = []
    for finding, row in zip(findings, rows, strict=True):
        limit = _wavering(finding, row, table)
        if limit is not None:
            held.append(_doubt(finding, row, limit, table, inputs, sections))
    return tuple(held)


def _wavering(finding: Finding, row: Row, table: MeasureTable) -> Limit | None:
    """Return the limit whose own answer changes most often in the tries; the deciding one if none does."""
    _, each = severities(row, table)
    first = finding.decided_by.limit
    limits = [
        (float(np.mean(codes != np.bincount(codes).argmax())), held is first, held)
        for held, codes in zip(held_of(row), each, strict=True)
        if isinstance(held, Limit) and _varies(table, held.measure)
    ]
    return max(limits, key=lambda one: one[:2])[2] if limits else None


def _varies(table: MeasureTable, key: Key) -> bool:
    if key not in table.columns or table.known[key].sum() < 0.5 * table.count:
        return False
    return float(np.ptp(table.columns[key][table.known[key]])) > 0.0


def _doubt(
    finding: Finding,
    row: Row,
    limit: Limit,
    table: MeasureTable,
    inputs: Inputs,
    sections: Sequence[Section],
) -> FindingDoubt:
    key: MeasureKey = limit.measure
    known = table.known[key]
    shown = table.columns[key][known] / key.unit.in_engine
    mean, sd, _ = moments(shown)
    overall, _ = severities(row, table)
    return FindingDoubt(
        finding=finding.name,
        side=finding.side,
        what=_words(key),
        unit=key.unit.symbol,
        value=mean,
        half_width=HALF_WIDTH * sd,
        bounds=tuple(float(bound) for bound in limit.levels.bounds),
        agreeing=float(np.mean(overall == np.bincount(overall).argmax())),
        is_told=finding.verdict is not Verdict.CANNOT_TELL,
        sources=tuple(
            replace(one, settles=settling(mean, sd, one.removes, limit.levels)) if one.removes else one
            for one in sources_of(shown, known, inputs, sections)
        ),
    )


def _words(key: MeasureKey) -> str:
    parts = [str(key.name), str(key.part), str(key.side), "" if key.state is None else str(key.state)]
    return ", ".join(part for part in parts if part)
