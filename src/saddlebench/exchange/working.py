"""Where a saddle works to, in words: how far it creeps, and which answers are other there."""

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.loads import HALT
from saddlebench.engine.fit.settled import Position
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.phrases import number_of, title_of
from saddlebench.exchange.readers import NO_BREAK
from saddlebench.exchange.vocabulary import said

STAYS_MM = 2.0
"""A saddle that creeps less than this is said to stay."""


def creeps_back_mm(study: FitStudy) -> float | Undetermined:
    """Return how far behind the place where it is put the saddle ends, rider up [mm]; negative: forward."""
    put = _along_mm(study, Position.PUT)
    there = _along_mm(study, Position.WORKS_TO)
    if isinstance(put, Undetermined):
        return put
    return there if isinstance(there, Undetermined) else put - there


def _along_mm(study: FitStudy, position: Position) -> float | Undetermined:
    state = study.settlement.at(HALT.name, position)
    if isinstance(state, Undetermined):
        return state
    return float(state.saddle_to_back.points(state.reference_saddle[None, :])[0, 0])


def other_there(study: FitStudy) -> tuple[tuple[Finding, Finding], ...]:
    """Return the findings whose answer, as computed, is another where the saddle works to: put, there."""
    if isinstance(study.works_to, Undetermined):
        return ()
    there = {(finding.name, finding.side): finding for finding in study.works_to.findings}
    pairs = ((finding, there.get((finding.name, finding.side))) for finding in study.findings)
    return tuple(
        (put, other) for put, other in pairs if other is not None and other.as_computed != put.as_computed
    )


def works_to_of(study: FitStudy) -> str:
    """Return where the saddle works to and what is other there, in a few sentences."""
    moved = creeps_back_mm(study)
    if isinstance(moved, Undetermined):
        return said(f"Where it works to cannot be told: {moved.reason}.")
    if abs(moved) < STAYS_MM:
        return said("Where it works to: it stays where it is put, its straps hang in the girth groove.")
    way = "further back" if moved > 0.0 else "further forward"
    place = said(
        f"Where it works to: {abs(moved):.0f}{NO_BREAK}mm {way}, where its straps hang in the girth groove."
    )
    others = [
        f"{title_of(there)}: {said(there.as_computed)}, {number_of(there.decided_by.measure)} "
        f"({said('where it is put')} {said(put.as_computed)}, {number_of(put.decided_by.measure)})"
        for put, there in other_there(study)
    ]
    if not others:
        return f"{place} {said('No answer is another there, as computed.')}"
    return f"{place} {said('There, as computed')}: {'; '.join(others)}."
