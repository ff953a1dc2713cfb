"""Findings as owner's and workshop's reports show them."""

from collections.abc import Sequence
from typing import Any

from saddlebench.engine.fit.findings import Confidence, Finding
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.fit.verdicts import DEFAULT_OWNER, Verdict
from saddlebench.exchange import phrases
from saddlebench.exchange.drawings.ink import drawable, shortened
from saddlebench.exchange.vocabulary import said
from saddlebench.report.setting import LONGEST_LABEL


def badge_of(verdict: Verdict) -> dict[str, str]:
    """Return a verdict as the templates take it: the word beside its symbol."""
    return {"verdict": verdict, "symbol": phrases.SYMBOLS[verdict], "said": said(verdict)}


def labels_of(study: FitStudy) -> tuple[str, str]:
    """Return saddle and back as people named them."""
    back = shortened(study.inputs.back_label or said("this back"), LONGEST_LABEL)
    return shortened(study.inputs.saddle_label or study.saddle.label, LONGEST_LABEL), back


def title_of(study: FitStudy, what: str) -> str:
    """Return a report's title: what it is, of which saddle, on which back."""
    saddle, back = labels_of(study)
    return f"{said(what)}: {saddle} {said('on')} {back}"


def count(findings: Sequence[Finding], verdict: Verdict) -> int:
    """Return how many findings have a verdict."""
    return sum(finding.verdict is verdict for finding in findings)


def row_of(finding: Finding) -> dict[str, Any]:
    """Return a finding as a row of the table."""
    limit, measure = finding.decided_by.limit, finding.decided_by.measure
    owner = "" if limit.owner == DEFAULT_OWNER else f" ({shortened(limit.owner, 30)})"
    share = ""
    if isinstance(finding.confidence, Confidence):
        share = said(f"{finding.confidence.agreeing(finding.as_computed) * 100.0:.0f}%")
    return {
        **badge_of(finding.verdict),
        "title": phrases.title_of(finding),
        "number": phrases.number_of(measure) if isinstance(measure, Measure) else "–",
        "interval": phrases.interval_of(finding),
        "limit": f"{phrases.limits_of(limit)}{owner}",
        "agree": share,
        "remark": drawable(phrases.short_remark_of(finding)),
    }
