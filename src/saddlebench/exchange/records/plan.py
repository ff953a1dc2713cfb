"""The plan file: what to alter on one saddle for one back, and what comes of it."""

from pathlib import Path
from typing import ClassVar, Literal, Self

from saddlebench.engine.alter import Alteration, AlterationPlan, Binding, FindingChange, Policy
from saddlebench.engine.alter.bedding import (
    LOST_SHARE,
    RECHECK_WEEKS,
    RIDDEN_HOURS,
    Bedding,
)
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.measures.table import Absent
from saddlebench.engine.fit.study import StudyInputs
from saddlebench.engine.fit.worth_repeating import FindingDoubt
from saddlebench.exchange.records.document import Document, Part, read_document, write_document
from saddlebench.exchange.records.judged import FindingPart, KeyPart


class ChangePart(Part):
    """One finding before and after."""

    before: FindingPart
    after: FindingPart

    @classmethod
    def of(cls, change: FindingChange) -> Self:
        """Return the part of a change."""
        return cls(before=FindingPart.of(change.before), after=FindingPart.of(change.after))

    def change(self) -> FindingChange:
        """Return the change."""
        return FindingChange(before=self.before.finding(), after=self.after.finding())


class BeddingPart(Part):
    """One measure while new flock beds down; null where it could not be read off."""

    of: KeyPart
    unit: str
    new: float | None
    least_lost: float | None
    most_lost: float | None

    @classmethod
    def holding(cls, held: Bedding) -> Self:
        """Return the part of one measure."""
        return cls(
            of=KeyPart.of(held.key),
            unit=held.key.unit.symbol,
            new=_number(held.new),
            least_lost=_number(held.least_lost),
            most_lost=_number(held.most_lost),
        )


def _number(held: float | Absent) -> float | None:
    return round(held, 6) if isinstance(held, float) else None


class PlanDocument(Document):
    """An alteration plan, version 1. Lengths in mm; millimetres of wool are those left after bedding in."""

    NAME: ClassVar[str] = "alteration plan"
    VERSION: ClassVar[int] = 1

    format: Literal["saddlebench alteration plan"] = "saddlebench alteration plan"
    version: Literal[1] = 1
    engine_version: str
    inputs: StudyInputs
    policy: Policy
    alteration: Alteration
    by_hand: bool = False
    """Whether a person set it, rather than the search."""
    misfit_before: float
    misfit_after: float
    misfit_free: float
    """The same for the best within the limits if every amount were workable and cost nothing."""
    tries: int
    binding: tuple[Binding, ...]
    changes: tuple[ChangePart, ...]
    doubts: tuple[FindingDoubt, ...] = ()
    """Where the doubt of each finding afterwards comes from, and which repeat would help."""
    bedding: tuple[BeddingPart, ...] = ()
    beds_down_share: tuple[float, float] = LOST_SHARE
    beds_down_hours: tuple[int, int] = RIDDEN_HOURS
    recheck_weeks: tuple[int, int] = RECHECK_WEEKS
    cautions: tuple[str, ...]

    @classmethod
    def of(
        cls, plan: AlterationPlan, bedding: tuple[Bedding, ...] | Undetermined, *, by_hand: bool = False
    ) -> Self:
        """Return the document of a plan."""
        beds = () if isinstance(bedding, Undetermined) else bedding
        return cls(
            engine_version=plan.before.engine_version,
            inputs=plan.before.inputs,
            policy=plan.policy,
            alteration=plan.alteration,
            by_hand=by_hand,
            misfit_before=plan.misfit_before,
            misfit_after=plan.misfit_after,
            misfit_free=plan.misfit_free,
            tries=plan.after.draws,
            binding=plan.binding,
            changes=tuple(ChangePart.of(change) for change in plan.changes),
            doubts=plan.after.put.doubts,
            bedding=tuple(BeddingPart.holding(one) for one in beds),
            cautions=plan.after.cautions,
        )

    def found(self) -> tuple[FindingChange, ...]:
        """Return the findings before and after."""
        return tuple(part.change() for part in self.changes)


def write_plan(document: PlanDocument, path: Path) -> None:
    """Write a plan."""
    write_document(document, path)


def read_plan(path: Path) -> PlanDocument:
    """Read a plan.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return read_document(PlanDocument, path, lambda held: held)
