"""What a document says: a study put into plain words, as data for the page."""

from collections.abc import Sequence
from typing import Any

from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.findings import Confidence, DoubtKind, Finding
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.settled import Outcome, Position
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import DEFAULT_OWNER, Verdict
from saddlebench.exchange import phrases
from saddlebench.exchange.drawings.findings import VERDICT_COLOURS
from saddlebench.exchange.drawings.ink import drawable, shortened
from saddlebench.exchange.working import works_to_of

MOST_IN_FULL = {Verdict.NOT_RIGHT: 5, Verdict.BORDERLINE: 3, Verdict.CANNOT_TELL: 2}
"""So many findings are written out on the owner's page; the others are named, and all stand in the table."""
LONGEST_LABEL = 70
HEADINGS = {
    Verdict.NOT_RIGHT: "What is not right",
    Verdict.BORDERLINE: "What is borderline",
    Verdict.CANNOT_TELL: "What cannot be told, and what would help",
}
RECHECK = (
    "Have the fit checked again: every 6 months for a steady adult horse, every 6 to 8 weeks for a young or "
    "changing one, 6 to 12 weeks after new flock (common practice)."
)


def contents_of(study: FitStudy) -> dict[str, Any]:
    """Return everything that a document says, as plain data."""
    findings = phrases.sorted_worst_first(study.findings)
    notice, notice_verdict = _notice(study)
    back = shortened(study.inputs.back_label or "this back", LONGEST_LABEL)
    saddle = shortened(study.inputs.saddle_label or study.saddle.label, LONGEST_LABEL)
    return {
        "hues": {str(verdict): colour for verdict, colour in VERDICT_COLOURS.items()},
        "title": f"Fit check: {saddle} on {back}",
        "saddle": saddle,
        "back": back,
        "looked_at": _looked_at(study),
        "notice": notice,
        "notice_verdict": str(notice_verdict),
        "counts": [
            {"verdict": verdict, "symbol": phrases.SYMBOLS[verdict], "count": _count(findings, verdict)}
            for verdict in phrases.WORST_FIRST
        ],
        "sections": _sections(findings),
        "how_sure": _how_sure(study),
        "next": _next_steps(findings),
        "cautions": list(study.cautions),
        "footer": f"saddlebench {study.engine_version} · {back}",
        "workshop_line": _workshop_line(study, back),
        "findings": [_row(finding) for finding in findings],
        "hand_slide": phrases.hand_under_panels(study.put.hand_slide),
        "works_to": drawable(works_to_of(study)),
        "limits_note": (
            "Near is the horse's left, off its right. Distances count from the shoulder mark. Heights in the "
            "sections are vertical over the midline; findings take the least distance anywhere. Limits are "
            "the program's defaults (common practice) unless the row names another owner. Pressure ranks and "
            "shows evenness; it never alone makes “not right”."
        ),
    }


def _looked_at(study: FitStudy) -> str:
    pads = ", ".join(shortened(pad.name, 40) for pad in study.pads) or "no pad"
    return (
        f"The saddle was put on the measured back by calculation, with {pads}: placed, girthed, and with a "
        f"rider of {study.rider.mass_kg:.0f} kg up. This page says what was found; the next one gives every "
        "number."
    )


def _notice(study: FitStudy) -> tuple[str, Verdict]:
    """Return what to say first when the saddle does not simply sit where it is put, and how grave it is."""
    for step in study.settlement.steps:
        if step.position is Position.PUT and step.outcome is not Outcome.SITS:
            why = f": {step.why_not.reason}" if step.why_not is not None else ""
            words = (
                f"{step.case.name[:1].upper()}{step.case.name[1:]}: the saddle {_outcome(step.outcome)}{why}."
            )
            is_open = step.outcome is Outcome.CANNOT_BE_JUDGED
            return words, Verdict.CANNOT_TELL if is_open else Verdict.NOT_RIGHT
    return "", Verdict.FINE


def _outcome(outcome: Outcome) -> str:
    return "cannot be judged" if outcome is Outcome.CANNOT_BE_JUDGED else str(outcome)


def _count(findings: Sequence[Finding], verdict: Verdict) -> int:
    return sum(finding.verdict is verdict for finding in findings)


def _sections(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    sections = []
    for verdict, heading in HEADINGS.items():
        chosen = [finding for finding in findings if finding.verdict is verdict]
        if not chosen:
            continue
        most = MOST_IN_FULL[verdict]
        rest = "; ".join(phrases.title_of(finding) for finding in chosen[most:])
        sections.append(
            {
                "heading": heading,
                "items": [_item(finding) for finding in chosen[:most]],
                "rest": f"Also: {rest}." if rest else "",
            }
        )
    fine = "; ".join(phrases.title_of(finding) for finding in findings if finding.verdict is Verdict.FINE)
    if fine:
        sections.append({"heading": "What is fine", "items": [], "rest": f"{fine}."})
    return sections


def _item(finding: Finding) -> dict[str, Any]:
    if finding.doubt is not None:
        plain = phrases.doubt_of(finding.doubt)
    else:
        number = phrases.number_of(finding.decided_by.measure)
        limit = phrases.limits_of(finding.decided_by.limit)
        words = (f"{number}; {limit}.", phrases.remark_of(finding), _sureness(finding))
        plain = " ".join(word for word in words if word)
    return {
        "verdict": finding.verdict,
        "symbol": phrases.SYMBOLS[finding.verdict],
        "title": phrases.title_of(finding),
        "plain": drawable(plain),
    }


def _sureness(finding: Finding) -> str:
    words = phrases.agreement_of(finding)
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def _how_sure(study: FitStudy) -> str:
    tried = next((f.confidence.tried for f in study.findings if isinstance(f.confidence, Confidence)), 0)
    if not tried:
        return f"How sure the findings are was not computed. {phrases.MODEL_NOTE}"
    return (
        f"Everything uncertain (readings, marks, materials) was varied {tried} times within its error. A "
        f"finding that fewer than 80 of 100 tries share is given as “cannot tell”. {phrases.MODEL_NOTE}"
    )


def _next_steps(findings: Sequence[Finding]) -> list[str]:
    steps = []
    if any(finding.verdict is Verdict.NOT_RIGHT for finding in findings):
        steps.append("Talk the findings that are not right over with your fitter before riding on.")
    stations = sorted(
        {
            station
            for finding in findings
            if finding.doubt is not None
            and finding.doubt.kind in (DoubtKind.NOT_MEASURED, DoubtKind.NOT_MEASURED_WELL_ENOUGH)
            for station in finding.doubt.stations
        }
    )
    if stations:
        words = ", ".join(str(station) for station in stations)
        many = "stations" if len(stations) > 1 else "station"
        steps.append(f"Measure {many} {words} again: that would answer most of what cannot be told.")
    steps.append("A ridden assessment by a qualified fitter completes this check.")
    return [*steps, RECHECK]


def _workshop_line(study: FitStudy, back: str) -> str:
    versions = [
        f"{name} {shortened(version, 24)}"
        for name, version in (
            ("back record", study.inputs.back_version),
            ("saddle record", study.inputs.saddle_version),
        )
        if version
    ]
    mass = study.horse.mass_kg
    horse = f"horse {mass:.0f} kg" if is_known(mass) else "horse's mass not given"
    parts = [f"on {back}", str(study.saddle.family), f"rider {study.rider.mass_kg:.0f} kg", horse, *versions]
    return ", ".join(parts)


def _row(finding: Finding) -> dict[str, str]:
    limit, measure = finding.decided_by.limit, finding.decided_by.measure
    owner = "" if limit.owner == DEFAULT_OWNER else f" ({shortened(limit.owner, 30)})"
    share = ""
    if isinstance(finding.confidence, Confidence):
        share = f"{finding.confidence.agreeing(finding.as_computed) * 100.0:.0f}%"
    remark = phrases.short_remark_of(finding)
    return {
        "verdict": finding.verdict,
        "symbol": phrases.SYMBOLS[finding.verdict],
        "title": phrases.title_of(finding),
        "number": phrases.number_of(measure) if isinstance(measure, Measure) else "–",
        "interval": phrases.interval_of(finding),
        "limit": f"{phrases.limits_of(limit)}{owner}",
        "agree": share,
        "remark": drawable(remark),
    }
