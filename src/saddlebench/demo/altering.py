"""The yard's badly flocked saddle: a plan, the work order, the underside drawn."""

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.alter import Alteration, FindingChange, Policy
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.back_job import MeasuredBack
from saddlebench.exchange.drawings import PAGE_WIDTH_MM, Scene, before_and_after, underside, write_drawing
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.plan_words import bedding_words, binding_words, summary_words
from saddlebench.exchange.planning import planned, replica_of, task_of
from saddlebench.exchange.records import PlanDocument, read_saddle, write_order, write_plan, write_study
from saddlebench.exchange.work_orders import Wishes, order_of
from saddlebench.report.work_order import write_order_document

DUE = dt.timedelta(weeks=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTold:
    """What a plan said; the plan itself lies in its file."""

    summary: tuple[str, ...]
    alteration: Alteration
    changes: tuple[FindingChange, ...]
    binding: tuple[str, ...]
    bedding: tuple[str, ...]
    sheet: Path


def plan_for(
    back: MeasuredBack, study: FitStudy, request: StudyRequest, folder: Path, day: dt.date
) -> PlanTold | Undetermined:
    """Plan for the saddle in a horse's folder; write everything there."""
    record = read_saddle(folder / "saddle.json")
    task = task_of(back, record, request, study.inputs)
    if isinstance(task, Undetermined):
        return task
    made = planned(task, Policy())
    if isinstance(made, Undetermined):
        return made
    document = PlanDocument.of(made.plan, made.bedding)
    write_plan(document, folder / "plan.json")
    write_study(made.plan.after, folder / "fit-after.json")
    order = order_of(
        document,
        record,
        replica_of(task, document.alteration),
        Wishes(
            number="1 (invented)",
            written_on=day,
            due_on=day + DUE,
            practice="an invented practice",
            workshop="an invented workshop",
            leave=("front arch",),
            price_limit="to be agreed",
        ),
    )
    write_order(order, folder / "order.json")
    sheet = folder / "order.pdf"
    write_order_document(order, study.saddle, sheet)
    write_drawing(underside(study.saddle, order.alteration), folder / "pictures" / "underside.svg")
    write_drawing(underside(study.saddle, order.alteration), folder / "pictures" / "underside.png")
    before, after = Scene.of_study(made.plan.before), Scene.of_study(made.plan.after)
    if not isinstance(before, Undetermined) and not isinstance(after, Undetermined):
        both = before_and_after(before, after, width_mm=PAGE_WIDTH_MM)
        write_drawing(both, folder / "pictures" / "before-and-after.svg")
    return PlanTold(
        summary=summary_words(made.plan, by_hand=False),
        alteration=made.plan.alteration,
        changes=made.plan.changes,
        binding=binding_words(made.plan.binding),
        bedding=() if isinstance(made.bedding, Undetermined) else bedding_words(made.bedding),
        sheet=sheet,
    )
