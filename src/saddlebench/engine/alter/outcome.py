"""Before and after: what an alteration does to each finding."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import BY_SEVERITY, Verdict

LEAST_WON = 0.05
"""A plan that betters the misfit by less than this part, and no finding, is not worth a saddler's time."""


class Turn(StrEnum):
    """Which way a finding goes."""

    BETTER = "better"
    SAME = "the same"
    WORSE = "worse"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingChange:
    """One finding before and after."""

    before: Finding
    after: Finding

    @property
    def turn(self) -> Turn:
        """Which way it goes, by the best estimate."""
        first, second = self.before.as_computed, self.after.as_computed
        if Verdict.CANNOT_TELL in (first, second):
            return Turn.SAME if first is second else Turn.CANNOT_TELL
        was, becomes = BY_SEVERITY.index(first), BY_SEVERITY.index(second)
        return Turn.SAME if was == becomes else Turn.BETTER if becomes < was else Turn.WORSE

    @property
    def is_still_off(self) -> bool:
        """Whether it is borderline or not right afterwards, as computed."""
        return self.after.as_computed in (Verdict.BORDERLINE, Verdict.NOT_RIGHT)


def changes_of(before: FitStudy, after: FitStudy) -> tuple[FindingChange, ...]:
    """Return every finding that both studies have, in their order."""
    there = {(one.name, one.side): one for one in after.findings}
    return tuple(
        FindingChange(before=one, after=there[one.name, one.side])
        for one in before.findings
        if (one.name, one.side) in there
    )


def is_worth_it(changes: Sequence[FindingChange], misfit_before: float, misfit_after: float) -> bool:
    """Tell whether a plan wins a finding, or enough evenness."""
    won = sum(change.turn is Turn.BETTER for change in changes)
    lost = sum(change.turn is Turn.WORSE for change in changes)
    return won > lost or misfit_after < (1.0 - LEAST_WON) * misfit_before


def off_count(study: FitStudy) -> tuple[int, int]:
    """Return how many findings are not right, and how many borderline, as computed."""
    verdicts = [finding.as_computed for finding in study.findings]
    return verdicts.count(Verdict.NOT_RIGHT), verdicts.count(Verdict.BORDERLINE)
