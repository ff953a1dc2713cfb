"""A plan as pages show it: what to do place by place, every finding before and after, what comes later."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration, FindingChange
    from saddlebench.engine.fit.findings import Finding
    from saddlebench.exchange.records import PlanDocument


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShown:
    """One thing to do in one place."""

    place: str
    bench: str
    bench_tolerance: str
    wanted: str
    wanted_tolerance: str
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeShown:
    """One finding before and after."""

    title: str
    turn: str
    sign: str
    before: str
    before_verdict: str
    before_sure: str
    after: str
    after_verdict: str
    after_sure: str

    is_off: bool
    """Whether it is off afterwards, as computed."""

    @property
    def stands_out(self) -> bool:
        """Whether it turns, or stays off: what one looks at first."""
        return self.turn != "the same" or self.is_off


@dataclass(frozen=True, slots=True, kw_only=True)
class BeddingShown:
    """One measure as it leaves the bench, and after bedding in."""

    what: str
    new: str
    later: str


def lines_of(alteration: "Alteration") -> tuple[LineShown, ...]:
    """Return what is done by zones, with the tolerance that a saddler can be held to."""
    from saddlebench.exchange.altering import signed_mm, work_lines  # noqa: PLC0415

    return tuple(
        LineShown(
            place=said(line.place),
            bench=said(signed_mm(line.bench_mm)),
            bench_tolerance=reader().number(f"±{line.tolerance_bench_mm:g}"),
            wanted=said(signed_mm(line.wanted_mm)),
            wanted_tolerance=reader().number(f"±{line.tolerance_bedded_mm:g}"),
            how=said(line.how),
        )
        for line in work_lines(alteration)
    )


def changes_shown(changes: "Sequence[FindingChange]", *, computed: bool = False) -> tuple[ChangeShown, ...]:
    """Return findings before and after: what turns first, then what stays off, then the rest.

    Parameters
    ----------
    changes : every finding of both
    computed : show verdicts as computed, where one of the two does not know how sure it is
    """
    from saddlebench.engine.alter import Turn  # noqa: PLC0415
    from saddlebench.exchange import phrases  # noqa: PLC0415
    from saddlebench.exchange.altering import TURN_SYMBOLS  # noqa: PLC0415

    order = {Turn.WORSE: 0, Turn.BETTER: 1, Turn.CANNOT_TELL: 2, Turn.SAME: 3}
    ranked = sorted(changes, key=lambda one: (order[one.turn], not one.is_still_off))

    def verdict(finding: "Finding") -> str:
        return finding.as_computed.value if computed else finding.verdict.value

    return tuple(
        ChangeShown(
            title=phrases.title_of(one.after),
            turn=one.turn.value,
            sign=TURN_SYMBOLS[one.turn],
            is_off=one.is_still_off,
            before=phrases.number_of(one.before.decided_by.measure),
            before_verdict=verdict(one.before),
            before_sure="" if computed else phrases.confidence_of(one.before),
            after=phrases.number_of(one.after.decided_by.measure),
            after_verdict=verdict(one.after),
            after_sure="" if computed else phrases.confidence_of(one.after),
        )
        for one in ranked
    )


def bedding_shown(document: "PlanDocument") -> tuple[BeddingShown, ...]:
    """Return how the watched measures go while new flock beds down."""
    from saddlebench.exchange.phrases import amount, place_of  # noqa: PLC0415

    shown = []
    for one in document.bedding:
        if one.new is None or one.most_lost is None:
            continue
        key = one.of.key()
        least = one.most_lost if one.least_lost is None else one.least_lost
        ends = list(dict.fromkeys(amount(value, key.unit) for value in (least, one.most_lost)))
        new = amount(one.new, key.unit)
        if ends != [new]:
            shown.append(BeddingShown(what=place_of(key), new=new, later=said(" to ".join(ends))))
    return tuple(shown)
