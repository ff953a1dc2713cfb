"""Findings as machines read them; docs/reference/json-output.md describes the fields."""

import csv
import io
import json
from typing import Any

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.findings import Confidence, Finding
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.own_errors import errors_words
from saddlebench.exchange.phrases import limits_of, remark_of, sorted_worst_first, title_of
from saddlebench.exchange.working import creeps_back_mm

WORKS_TO_FIELDS = ("finding", "side", "title", "as_computed", "number", "unit", "no_number_because")
"""Of a finding where the saddle works to: no confidence is computed there."""


def finding_as_json(finding: Finding) -> dict[str, Any]:
    """Return one finding for machines."""
    measure = finding.decided_by.measure
    limit = finding.decided_by.limit
    return {
        "finding": finding.name.value,
        "side": finding.side.value,
        "title": title_of(finding),
        "verdict": finding.verdict.value,
        "as_computed": finding.as_computed.value,
        "number": measure.shown if isinstance(measure, Measure) else None,
        "unit": measure.unit.symbol if isinstance(measure, Measure) else limit.measure.unit.symbol,
        "no_number_because": None if isinstance(measure, Measure) else measure.reason,
        "limit": limits_of(limit),
        "whose_limit": str(limit.owner),
        "source": str(limit.source),
        "confidence": _confidence(finding.confidence),
        "remark": remark_of(finding),
    }


def _confidence(confidence: Confidence | Undetermined) -> dict[str, Any]:
    if isinstance(confidence, Undetermined):
        return {"not_computed": confidence.reason}
    interval = confidence.interval
    return {
        "tries": confidence.tried,
        "shares": {verdict.value: share for verdict, share in confidence.shares.items()},
        "interval_95": None if isinstance(interval, NotMeasured | Undetermined) else list(interval),
        "driver": getattr(confidence.driver, "source", None),
    }


def study_as_json(study: FitStudy) -> dict[str, Any]:
    """Return a fit check in short for machines; the record file holds all of it."""
    return {
        "back": study.inputs.back_label,
        "saddle": study.saddle.label,
        "states": [
            {
                "case": step.case.name,
                "load": step.case.force_multiple,
                "load_source": step.case.source,
                "position": step.position.value,
                "outcome": step.outcome.value,
                "why_not": None if step.why_not is None else step.why_not.reason,
            }
            for step in study.settlement.steps
        ],
        "findings": [finding_as_json(finding) for finding in sorted_worst_first(study.findings)],
        "works_to": _works_to(study),
        "hand_slide": _hand_slide(study),
        "measuring_errors": errors_words(study.inputs.own_errors),
        "cautions": list(study.cautions),
    }


def _works_to(study: FitStudy) -> dict[str, Any]:
    moved = creeps_back_mm(study)
    if isinstance(moved, Undetermined):
        return {"cannot_be_told": moved.reason}
    if isinstance(study.works_to, Undetermined):
        return {"cannot_be_told": study.works_to.reason}
    findings = sorted_worst_first(study.works_to.findings)
    return {
        "further_back_mm": moved,
        "findings": [
            {name: value for name, value in finding_as_json(finding).items() if name in WORKS_TO_FIELDS}
            for finding in findings
        ],
    }


def _hand_slide(study: FitStudy) -> dict[str, Any]:
    slides = study.put.hand_slide
    if isinstance(slides, Undetermined):
        return {"cannot_be_told": slides.reason}
    return {
        slide.side.value: [
            {"feels": stretch.feel.value, "from_mm": stretch.from_mm, "to_mm": stretch.to_mm}
            for stretch in slide.stretches
        ]
        for slide in slides
    }


def study_json(study: FitStudy) -> str:
    """Return that as text."""
    return json.dumps(study_as_json(study), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


COLUMNS = ("title", "side", "verdict", "number", "unit", "limit", "whose_limit", "source", "remark")


def findings_csv(study: FitStudy) -> str:
    """Return the findings as a table, the cautions as comments below it."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, COLUMNS, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(finding_as_json(finding) for finding in sorted_worst_first(study.findings))
    return stream.getvalue() + "".join(f"# {caution}\n" for caution in study.cautions)
