"""The owner's report: plain words and a picture on one page."""

from collections.abc import Mapping, Sequence
from typing import Any

from saddlebench.engine.fit.findings import Confidence, DoubtKind, Finding
from saddlebench.engine.fit.settled import Outcome, Position
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.exchange import phrases
from saddlebench.exchange.doubt_words import repeats_of, worth_telling
from saddlebench.exchange.drawings.ink import drawable, shortened
from saddlebench.exchange.own_errors import errors_words
from saddlebench.exchange.readers import read_by
from saddlebench.exchange.vocabulary import said
from saddlebench.report.judged import badge_of, count, labels_of, title_of
from saddlebench.report.pictures import back_of
from saddlebench.report.setting import Setting, drawn, pictures_in, shared_contents, shared_words
from saddlebench.report.typeset import typeset_for_all

TEMPLATE = "owner.typ"
MOST_IN_FULL = {Verdict.NOT_RIGHT: 5, Verdict.BORDERLINE: 3, Verdict.CANNOT_TELL: 2}
"""So many findings are written out; the others are named."""
TERSER = (
    (10.0, MOST_IN_FULL),
    (9.5, {Verdict.NOT_RIGHT: 4, Verdict.BORDERLINE: 2, Verdict.CANNOT_TELL: 1}),
    (9.0, {Verdict.NOT_RIGHT: 3, Verdict.BORDERLINE: 1, Verdict.CANNOT_TELL: 1}),
    (8.5, {Verdict.NOT_RIGHT: 2, Verdict.BORDERLINE: 0, Verdict.CANNOT_TELL: 0}),
    (8.0, {Verdict.NOT_RIGHT: 1, Verdict.BORDERLINE: 0, Verdict.CANNOT_TELL: 0}),
)
"""Size of the text [pt] and findings in full, until it all fits one page with a picture."""
MOST_REPEATS = 2
_TO_MEASURE = (DoubtKind.NOT_MEASURED, DoubtKind.NOT_MEASURED_WELL_ENOUGH)
HEADINGS = {
    Verdict.NOT_RIGHT: "What is not right",
    Verdict.BORDERLINE: "What is borderline",
    Verdict.CANNOT_TELL: "What cannot be told, and what would help",
}
RECHECK = (
    "Have the fit checked again: every 6 months for a steady adult horse, every 6 to 8 weeks for a young or "
    "changing one, 6 to 12 weeks after new flock (common practice)."
)


def owner_report(study: FitStudy, setting: Setting) -> bytes:
    """Return the owner's report of a fit check as PDF, one page; equal studies give equal bytes."""
    with read_by(setting.reader):
        shared = _shared(study, setting)
        choices = [
            {**shared, "text_pt": size, "sections": _sections(study.findings, most)} for size, most in TERSER
        ]
    return typeset_for_all(TEMPLATE, choices, pictures=pictures_in(setting), on_one_page=True)


def _shared(study: FitStudy, setting: Setting) -> dict[str, Any]:
    _, back = labels_of(study)
    return {
        **shared_contents(
            setting,
            title_of(study, "Fit check"),
            study.cautions,
            f"saddlebench {study.engine_version} · {back}",
        ),
        "words": {**shared_words(), "how_sure": said("How sure"), "next": said("What next")},
        "looked_at": _looked_at(study),
        "notice": _notice(study),
        "counts": [
            {**badge_of(verdict), "count": count(study.findings, verdict)} for verdict in phrases.WORST_FIRST
        ],
        "how_sure": _how_sure(study),
        "next": _next_steps(study),
        "pictures": drawn({"back": back_of(study)}),
    }


def _looked_at(study: FitStudy) -> str:
    pads = ", ".join(shortened(pad.name, 40) for pad in study.pads)
    put = f"with {pads}" if pads else "without a pad"
    return said(
        f"The saddle was put on the measured back by calculation, {put}: placed, girthed, and with a rider "
        f"of {study.rider.mass_kg:.0f} kg up."
    )


def _notice(study: FitStudy) -> dict[str, str] | None:
    """Return what to say first when the saddle does not simply sit where it is put, and how grave it is."""
    for step in study.settlement.steps:
        if step.position is Position.PUT and step.outcome is not Outcome.SITS:
            why = f": {step.why_not.reason}" if step.why_not is not None else ""
            words = said(f"{_capital(step.case.name)}: the saddle {step.outcome}{why}.")
            is_open = step.outcome is Outcome.CANNOT_BE_JUDGED
            return {
                "words": words,
                "verdict": Verdict.CANNOT_TELL if is_open else Verdict.NOT_RIGHT,
            }
    return None


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _sections(findings: Sequence[Finding], most_in_full: Mapping[Verdict, int]) -> list[dict[str, Any]]:
    sections = []
    for verdict, heading in HEADINGS.items():
        chosen = [finding for finding in findings if finding.verdict is verdict]
        if not chosen:
            continue
        most = most_in_full[verdict]
        rest = "; ".join(phrases.title_of(finding) for finding in chosen[most:])
        also = f"{said('Also')}: {rest}." if most else f"{rest}."
        sections.append(
            {
                "heading": said(heading),
                "items": [_item(finding) for finding in chosen[:most]],
                "rest": also if rest else "",
            }
        )
    fine = "; ".join(phrases.title_of(finding) for finding in findings if finding.verdict is Verdict.FINE)
    if fine:
        sections.append({"heading": said("What is fine"), "items": [], "rest": f"{fine}."})
    return sections


def _item(finding: Finding) -> dict[str, Any]:
    if finding.doubt is not None:
        plain = phrases.doubt_of(finding.doubt)
    else:
        number = phrases.number_of(finding.decided_by.measure)
        limit = phrases.limits_of(finding.decided_by.limit)
        sureness = _capital(phrases.agreement_of(finding))
        words = (f"{number}; {limit}.", phrases.remark_of(finding), f"{sureness}." if sureness else "")
        plain = " ".join(word for word in words if word)
    return {**badge_of(finding.verdict), "title": phrases.title_of(finding), "plain": drawable(plain)}


def _how_sure(study: FitStudy) -> str:
    tried = next((f.confidence.tried for f in study.findings if isinstance(f.confidence, Confidence)), 0)
    if not tried:
        return f"{said('How sure the findings are was not computed.')} {said(phrases.MODEL_NOTE)}"
    varied = said(
        f"Everything uncertain (readings, marks, materials) was varied {tried} times within its error. A "
        "finding that fewer than 80 of 100 tries share is given as “cannot tell”."
    )
    return f"{varied} {errors_words(study.inputs.own_errors)} {said(phrases.MODEL_NOTE)}"


def _next_steps(study: FitStudy) -> list[str]:
    findings, doubts = study.findings, study.put.doubts
    steps = []
    if any(finding.verdict is Verdict.NOT_RIGHT for finding in findings):
        steps.append(said("Talk the findings that are not right over with your fitter before riding on."))
    steps += repeats_of(doubts)[:MOST_REPEATS]
    if worth_telling(doubts) and not repeats_of(doubts):
        steps.append(said("No single reading, taken again, would likely settle what cannot be told."))
    stations = _stations_to_measure(findings, is_parted=bool(doubts))
    if stations:
        words = ", ".join(str(station) for station in stations)
        many = "stations" if len(stations) > 1 else "station"
        steps.append(said(f"Measure {many} {words} again: that would answer some of what cannot be told."))
    steps.append(said("A ridden assessment by a qualified fitter completes this check."))
    return [*steps, said(RECHECK)]


def _stations_to_measure(findings: Sequence[Finding], *, is_parted: bool) -> list[int]:
    """Return the stations not measured; those measured too coarsely as well where doubts were not parted."""
    kinds = {DoubtKind.NOT_MEASURED} if is_parted else {*_TO_MEASURE}
    return sorted(
        {
            station
            for finding in findings
            if finding.doubt is not None and finding.doubt.kind in kinds
            for station in finding.doubt.stations
        }
    )
