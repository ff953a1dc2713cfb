"""A plan and a work order as the JSON output states them."""

from typing import Any

from saddlebench.engine.alter import FindingChange
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.exchange.altering import others_of, work_lines
from saddlebench.exchange.doubt_json import doubts_as_json
from saddlebench.exchange.doubt_words import worth_telling
from saddlebench.exchange.phrases import title_of
from saddlebench.exchange.records.document import plain
from saddlebench.exchange.records.order import OrderDocument
from saddlebench.exchange.records.plan import PlanDocument


def agreeing(finding: Finding) -> float | None:
    """Return the share of tries that agree with what is computed; None where none were made."""
    if isinstance(finding.confidence, Undetermined):
        return None
    return finding.confidence.agreeing(finding.as_computed)


def plan_as_json(document: PlanDocument) -> dict[str, Any]:
    """Return a plan for machines: what to do, every finding before and after, what holds it back."""
    return {
        "saddle": document.inputs.saddle_label,
        "back": document.inputs.back_label,
        "aim": document.policy.aim.value,
        "by_hand": document.by_hand,
        "tries": document.tries,
        "misfit": {
            "before": document.misfit_before,
            "after": document.misfit_after,
            "best_within_limits": document.misfit_free,
        },
        "work": [
            {
                "place": line.place,
                "bench_mm": line.bench_mm,
                "wanted_mm": line.wanted_mm,
                "tolerance_bench_mm": line.tolerance_bench_mm,
                "tolerance_bedded_mm": line.tolerance_bedded_mm,
                "how": line.how,
            }
            for line in work_lines(document.alteration)
        ],
        "others": list(others_of(document.alteration)),
        "findings": [change_as_json(change) for change in document.found()],
        "doubts": doubts_as_json(worth_telling(document.doubts)),
        "held_back_by": [{"what": one.what, "limit": one.limit} for one in document.binding],
        "beds_down": [plain(one.model_dump(exclude_none=True)) for one in document.bedding],
        "recheck_weeks": list(document.recheck_weeks),
        "cautions": list(document.cautions),
    }


def change_as_json(change: FindingChange) -> dict[str, Any]:
    """Return one finding before and after for machines."""
    return {
        "finding": str(change.after.name),
        "title": title_of(change.after),
        "turn": str(change.turn),
        "before": _side(change.before),
        "after": _side(change.after),
    }


def _side(finding: Finding) -> dict[str, Any]:
    measure = finding.decided_by.measure
    number = {"value": measure.shown, "unit": measure.unit.symbol} if isinstance(measure, Measure) else None
    return {
        "verdict": str(finding.verdict),
        "as_computed": str(finding.as_computed),
        "number": number,
        "agreeing": agreeing(finding),
    }


def order_as_json(document: OrderDocument) -> dict[str, Any]:
    """Return a work order for machines: the record's own fields."""
    held: dict[str, Any] = plain(document.model_dump(exclude_none=True))
    return held
