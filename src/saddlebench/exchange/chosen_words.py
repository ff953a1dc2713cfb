"""A shortlist in words: what speaks for a saddle and against it, how sure that is, what was done for it."""

from collections import Counter

from saddlebench.engine.choose import Entry, HowSure, Shortlist
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.study import CAUTIONS
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.doubt_words import deed_of, title_of_doubt, worth_telling
from saddlebench.exchange.own_errors import errors_words
from saddlebench.exchange.phrases import limits_of, number_of, remark_of, title_of

LIST_CAUTIONS = (
    "The list orders saddles by one sum; look at the findings, and try more than one on the horse.",
    *CAUTIONS,
)
MOST_HELPS = 3
_ZONES = ("front", "waist", "seat", "rear")
SIZE_CAUTION = "Rider's sizes and hard limits are common practice, from memory; change them to your own."


def reason_of(finding: Finding) -> str:
    """Return one finding as a reason: what, how it came out, the number and its limit."""
    what = f"{title_of(finding)}: {finding.verdict}, {number_of(finding.decided_by.measure)}"
    remark = remark_of(finding) if finding.verdict is not Verdict.FINE else ""
    words = f"{what} ({limits_of(finding.decided_by.limit)})"
    return f"{words}. {remark}".rstrip() if remark else words


def against_of(finding: Finding) -> str:
    """Return what speaks against a saddle; where nothing is off, that it has least room there."""
    return f"{reason_of(finding)}; least room here" if finding.verdict is Verdict.FINE else reason_of(finding)


def change_of(entry: Entry) -> str:
    """Return what is to be done to the saddle first; empty for nothing."""
    parts = []
    if entry.arch_by_mm:
        way = "wider" if entry.arch_by_mm > 0.0 else "narrower"
        parts.append(f"set the front arch {abs(entry.arch_by_mm):g} mm {way}")
    if entry.fill is not None:
        sides = (("near", entry.fill.fill_left), ("off", entry.fill.fill_right))
        changes = [change for side, filling in sides for change in _fill_changes(side, filling)]
        parts.append(f"change the fill ({', '.join(changes)})")
    return "; ".join(parts)


def _fill_changes(side: str, filling: Filling) -> list[str]:
    changes = []
    for zone, inner, outer in zip(_ZONES, filling.inner_mm, filling.outer_mm, strict=True):
        if inner == outer and inner:
            changes.append(f"{side} {zone} {inner:+g} mm")
        elif inner or outer:
            parts = [f"{mm:+g} mm {where}" for mm, where in ((inner, "inside"), (outer, "outside")) if mm]
            changes.append(f"{side} {zone} {', '.join(parts)}")
    return changes


def sure_of(entry: Entry, length: int) -> str:
    """Return how sure its place is, in one sentence."""
    how_sure: HowSure | Undetermined = entry.how_sure
    if isinstance(how_sure, Undetermined):
        return "How sure this is was not computed."
    return (
        f"In {100.0 * how_sure.stays:.0f} of 100 tries within the measuring errors it is among the best "
        f"{length}; {100.0 * how_sure.verdicts_hold:.0f} of 100 verdicts hold, if the model holds."
    )


def doubt_of(entry: Entry) -> str:
    """Return which of its findings one repeat would most likely let be told; empty where none would."""
    doubts = () if entry.study is None else worth_telling(entry.study.put.doubts)
    first = next((one for one in doubts if one.would_settle), None)
    if first is None or isinstance(first.best, Undetermined):
        return ""
    return f"Cannot be told: {title_of_doubt(first)}. {deed_of(first.best)}, and it likely can."


def would_help(found: Shortlist) -> tuple[str, ...]:
    """Return which repeats would let most findings of the list's saddles be told, the most helpful first."""
    told: Counter[str] = Counter()
    saddles: dict[str, set[str]] = {}
    for entry in found.entries:
        for doubt in () if entry.study is None else worth_telling(entry.study.put.doubts):
            if doubt.would_settle and not isinstance(doubt.best, Undetermined):
                deed = deed_of(doubt.best)
                told[deed] += 1
                saddles.setdefault(deed, set()).add(entry.key)
    return tuple(
        f"{deed}: {_counted(n, 'finding')} of {_counted(len(saddles[deed]), 'saddle')} could likely be told."
        for deed, n in told.most_common(MOST_HELPS)
    )


def level_of(entry: Entry, found: Shortlist) -> str:
    """Return with which entries it stands level; empty for none."""
    if not entry.level_with:
        return ""
    ranks = {one.key: one.rank for one in found.entries}
    places = ", ".join(str(ranks[key]) for key in entry.level_with if key in ranks)
    return f"Cannot tell which is better: this or place {places}."


def _counted(n: int, one: str) -> str:
    return f"{n} {one}" if n == 1 else f"{n} {one}s"


def work_of(found: Shortlist) -> tuple[str, ...]:
    """Return what was done for a list, what was shared and what was left out."""
    work, out = found.work, len(found.ruled_out)
    judged = work.candidates - out - len(found.not_judged)
    candidates, shapes, first = (
        _counted(work.candidates, "saddle"),
        _counted(work.shapes, "shape"),
        _counted(work.first, "shape"),
    )
    lines = [
        f"{candidates}: {out} ruled out by a tape, {len(found.not_judged)} not to be judged.",
        f"{judged} tried on the back, in {shapes}: saddles with equal numbers share one.",
        f"{first} at a first look, {work.quick} in a quick pass, {work.in_full} in full.",
    ]
    if work.quick:
        lines.append(
            f"The quick pass may err by {work.margin:.2g} before a saddle could be lost; "
            f"here it erred by {work.largest_error:.2g} at most."
        )
    if any(isinstance(entry.how_sure, HowSure) for entry in found.entries):
        lines.append(errors_words(found.own_errors))
    if not found.is_complete:
        lines.insert(0, "Stopped early: this list is partial, and better saddles may be missing from it.")
    return tuple(lines)
