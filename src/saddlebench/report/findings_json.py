"""A finding as machines read it; docs/reference/json-output.md describes the fields."""

from typing import Any

from saddlebench.engine.errors import NotMeasured, Undetermined
from saddlebench.engine.fit.findings import Confidence, Finding
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.exchange.phrases import limits_of, remark_of, title_of


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
