"""The workshop's report: every number with its limit, the drawings, and the plan where there is one."""

from typing import Any

from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange import phrases
from saddlebench.exchange.altering import SHORT_OF_IT, others_of, signed_mm, work_lines
from saddlebench.exchange.doubt_words import DOUBT_HEADING, DOUBT_NOTE, MOST_DOUBTS, told_of_doubts
from saddlebench.exchange.drawings import underside
from saddlebench.exchange.drawings.ink import drawable, shortened
from saddlebench.exchange.plan_words import binding_words
from saddlebench.exchange.readers import read_by
from saddlebench.exchange.records.plan import PlanDocument
from saddlebench.exchange.vocabulary import said
from saddlebench.exchange.working import works_to_of
from saddlebench.report.judged import labels_of, row_of, title_of
from saddlebench.report.pictures import doubt_pictures, workshop_pictures
from saddlebench.report.setting import Setting, drawn, pictures_in, shared_contents, shared_words
from saddlebench.report.typeset import typeset_for_all

TEMPLATE = "workshop.typ"
COMFORTABLE_ROWS = 22
"""With more findings than this the rows of the table stand closer."""
UNDERSIDE_MM = 97.0
LIMITS_NOTE = (
    "Near is the horse's left, off its right. Distances count from the shoulder mark. Heights in the "
    "sections are vertical over the midline; findings take the least distance anywhere. Limits are the "
    "program's defaults (common practice) unless the row names another owner. Pressure ranks and shows "
    "evenness; it never alone makes “not right”."
)
COLUMNS = ("verdict", "finding", "number", "95 of 100", "limit", "agree")
PLAN_COLUMNS = ("place", "on the bench", "bedded in")


def workshop_report(study: FitStudy, setting: Setting, plan: PlanDocument | None = None) -> bytes:
    """Return the workshop's report of a fit check as PDF; equal input gives equal bytes.

    Parameters
    ----------
    study
        The fit check.
    setting
        For whom, on what paper.
    plan
        What is to be altered on this saddle, if that was planned.
    """
    with read_by(setting.reader):
        contents = _contents(study, setting, plan)
    return typeset_for_all(TEMPLATE, [contents], pictures=pictures_in(setting))


def _contents(study: FitStudy, setting: Setting, plan: PlanDocument | None) -> dict[str, Any]:
    _, back = labels_of(study)
    findings = phrases.sorted_worst_first(study.findings)
    drawings = workshop_pictures(study)
    doubts = doubt_pictures(study.put.doubts)
    if plan is not None:
        drawings["underside"] = underside(study.saddle, plan.alteration, width_mm=UNDERSIDE_MM)
    return {
        **shared_contents(
            setting,
            title_of(study, "For the workshop"),
            study.cautions,
            f"saddlebench {study.engine_version} · {back}",
        ),
        "words": {
            **shared_words(),
            "columns": [said(word) for word in COLUMNS],
            "plan_columns": [said(word) for word in PLAN_COLUMNS],
            "plan": said("What is to be altered"),
            "held": said("What holds the plan back"),
            "drawings": said("Drawings"),
            "doubts": said(DOUBT_HEADING),
            "doubts_after": said("What cannot be told of it, and what would help"),
            "doubt_note": said(DOUBT_NOTE),
        },
        "with": _with(study),
        "row_inset": 1.6 if len(findings) > COMFORTABLE_ROWS else 2.4,
        "findings": [row_of(finding) for finding in findings],
        "hand_slide": drawable(phrases.hand_under_panels(study.put.hand_slide)),
        "works_to": drawable(works_to_of(study)),
        "limits_note": said(LIMITS_NOTE),
        "plan": None if plan is None else _plan(plan),
        "doubts": [drawable(line) for line in told_of_doubts(study.put.doubts)[:MOST_DOUBTS]],
        "doubt_pictures": list(doubts),
        "pictures": drawn(drawings | doubts),
    }


def _with(study: FitStudy) -> str:
    versions = [
        f"{said(name)} {shortened(version, 24)}"
        for name, version in (
            ("back record", study.inputs.back_version),
            ("saddle record", study.inputs.saddle_version),
        )
        if version
    ]
    mass = study.horse.mass_kg
    horse = f"horse {mass:.0f} kg" if is_known(mass) else "horse's mass not given"
    rider = f"rider {study.rider.mass_kg:.0f} kg"
    pads = [shortened(pad.name, 40) for pad in study.pads] or [said("without a pad")]
    return drawable(", ".join((said(study.saddle.family), said(rider), said(horse), *pads, *versions)))


def _plan(plan: PlanDocument) -> dict[str, Any]:
    who = "Set by hand" if plan.by_hand else f"Plan, aim “{plan.policy.aim}”"
    work = work_lines(plan.alteration)
    others = others_of(plan.alteration)
    summary = [said(f"{who}.")]
    if not work and not others:
        summary.append(said("Nothing is to be altered."))
    weeks, hours = plan.recheck_weeks, plan.beds_down_hours
    bedding = (
        f"New flock beds down over {hours[0]} to {hours[1]} ridden hours (common practice); look again after "
        f"{weeks[0]} to {weeks[1]} weeks."
    )
    return {
        "summary": summary,
        "work": [
            {
                "place": said(line.place),
                "how": said(line.how),
                "bench": said(f"{signed_mm(line.bench_mm)} ±{line.tolerance_bench_mm:g} mm"),
                "bedded": said(f"{signed_mm(line.wanted_mm)} ±{line.tolerance_bedded_mm:g} mm"),
            }
            for line in work
        ],
        "others": [drawable(said(words)) for words in others],
        "held": [drawable(words) for words in binding_words(plan.binding)],
        "doubts": [drawable(line) for line in told_of_doubts(plan.doubts)[:MOST_DOUBTS]],
        "bedding": [said(bedding)] if work else [],
        "regulating": said(SHORT_OF_IT),
    }
