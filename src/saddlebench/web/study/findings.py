"""Findings as the pages show them: in words, worst first, each with its number, limit, and how sure it is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.utils.translation import gettext, ngettext

from saddlebench.web.base.spoken import told

if TYPE_CHECKING:
    from saddlebench.engine.fit.findings import Finding
    from saddlebench.engine.fit.study import FitStudy, Reading
    from saddlebench.web.study.doubts import DoubtLine


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingShown:
    """One finding."""

    name: str
    title: str
    verdict: str
    number: str
    limits: str
    whose: str
    """Whose limit it is, and where it comes from; empty for the usual, which the page states once."""
    sure: str
    interval: str
    remark: str
    """The doubt and what would help, or the direction."""
    details: tuple[str, ...]
    """Every measure that was judged."""
    works_to: str = ""
    """The number where the saddle works to."""
    doubt: "DoubtLine | None" = None
    """Which reading, taken again, would let it be told; None where it is told, or nothing was tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many findings have one verdict."""

    verdict: str
    count: int


def findings_shown(
    study: "FitStudy", doubts: "Mapping[tuple[str, str], DoubtLine] | None" = None
) -> tuple[FindingShown, ...]:
    """Return a check's findings, the worst first; `doubts` by a finding's name and side."""
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.exchange import phrases  # noqa: PLC0415

    moved = {} if isinstance(study.works_to, Undetermined) else _numbers(study.works_to)
    return tuple(
        _shown(
            finding,
            moved.get((finding.name.value, finding.side.value), ""),
            (doubts or {}).get((finding.name.value, finding.side.value)),
        )
        for finding in phrases.sorted_worst_first(study.findings)
    )


def _numbers(reading: "Reading") -> dict[tuple[str, str], str]:
    from saddlebench.exchange import phrases  # noqa: PLC0415

    return {
        (one.name.value, one.side.value): phrases.number_of(one.decided_by.measure)
        for one in reading.findings
    }


def _shown(finding: "Finding", works_to: str, doubt: "DoubtLine | None") -> FindingShown:
    from saddlebench.engine.fit.verdicts import COMMON_PRACTICE, DEFAULT_OWNER  # noqa: PLC0415
    from saddlebench.exchange import phrases  # noqa: PLC0415

    limit = finding.decided_by.limit
    is_usual = (limit.owner, limit.source) == (DEFAULT_OWNER, COMMON_PRACTICE)
    interval = phrases.interval_of(finding)
    return FindingShown(
        name=finding.name.value,
        title=phrases.title_of(finding),
        verdict=finding.verdict.value,
        number=phrases.number_of(finding.decided_by.measure),
        limits=phrases.limits_of(limit),
        whose="" if is_usual else f"{told(limit.owner)}: {told(limit.source)}",
        sure=phrases.confidence_of(finding),
        interval=f"{gettext('95 of 100 tries')}: {interval}" if interval else "",
        remark=phrases.remark_of(finding),
        details=tuple(phrases.judged_in_words(one) for one in finding.all_judged),
        works_to=works_to,
        doubt=doubt,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingGroup:
    """Findings that are shown together; those with a summary are folded below it."""

    summary: str
    verdict: str
    """Of all of them; empty where they are mixed."""
    findings: tuple[FindingShown, ...]


MOST_WORST = 5
OFF = frozenset({"not right", "borderline"})
"""Verdicts that something has to be done about."""


def grouped(findings: Sequence[FindingShown]) -> tuple[FindingGroup, ...]:
    """Return findings, worst first, in groups: the worst few open, the others folded by their verdict."""
    off = [one for one in findings if one.verdict in OFF]
    groups = [FindingGroup(summary="", verdict="", findings=tuple(off[:MOST_WORST]))]
    if off[MOST_WORST:]:
        more = tuple(off[MOST_WORST:])
        groups.append(
            FindingGroup(
                summary=ngettext("%(n)s more that is not fine", "%(n)s more that are not fine", len(more))
                % {"n": len(more)},
                verdict="",
                findings=more,
            )
        )
    for verdict in ("cannot tell", "fine"):
        some = tuple(one for one in findings if one.verdict == verdict)
        if some:
            groups.append(
                FindingGroup(
                    summary=ngettext("%(n)s finding", "%(n)s findings", len(some)) % {"n": len(some)},
                    verdict=verdict,
                    findings=some,
                )
            )
    return tuple(one for one in groups if one.findings)


def counts_of(findings: Sequence[FindingShown]) -> tuple[Count, ...]:
    """Return how many findings there are of each verdict, the worst first."""
    from saddlebench.exchange import phrases  # noqa: PLC0415

    return tuple(
        Count(verdict=verdict.value, count=sum(one.verdict == verdict.value for one in findings))
        for verdict in phrases.WORST_FIRST
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideRow:
    """One finding before and after, or in two places."""

    title: str
    before: str
    before_verdict: str
    after: str
    after_verdict: str

    @property
    def differs(self) -> bool:
        """Whether number or verdict differ as they are shown."""
        return (self.before, self.before_verdict) != (self.after, self.after_verdict)


def beside(before: Sequence["Finding"], after: Sequence["Finding"]) -> tuple[BesideRow, ...]:
    """Return findings of two checks side by side as computed, those that changed first, then worst first."""
    from saddlebench.exchange import phrases  # noqa: PLC0415

    later = {(one.name, one.side): one for one in after}
    rows = []
    for one in phrases.sorted_worst_first(before):
        other = later.get((one.name, one.side))
        if other is not None:
            rows.append(
                BesideRow(
                    title=phrases.title_of(one),
                    before=phrases.number_of(one.decided_by.measure),
                    before_verdict=one.as_computed.value,
                    after=phrases.number_of(other.decided_by.measure),
                    after_verdict=other.as_computed.value,
                )
            )
    return tuple(sorted(rows, key=lambda row: (row.before_verdict == row.after_verdict, not row.differs)))
