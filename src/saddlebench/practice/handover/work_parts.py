"""Plans, work orders and visits as a pack holds them."""

import uuid as uuids
from collections.abc import Mapping

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.packs.document import OrderPart, PlanPart, TriedPart, VersionPart, VisitPart
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Field, Value
from saddlebench.practice.catalogue.visit import is_about_people
from saddlebench.practice.handover.sights import Named
from saddlebench.practice.models import Answer, OrderState, Plan, StudyVersion, Visit, WorkOrder
from saddlebench.practice.orders import NOT_SENT


def last_state(order: WorkOrder) -> OrderState:
    """Return a work order as it stands.

    Raises
    ------
    InputProblemsError
        If it was not sent yet, or was withdrawn.
    """
    if order.step in NOT_SENT:
        what = f"the work order {order.number} is {order.step}"
        raise input_problem(what, "Move it on to “sent” first, or leave it out.")
    return order.states.select_related("order", "made_by").order_by("-number")[0]


def run_of(plan: Plan) -> StudyVersion:
    """Return the run of the fit check that a plan was made from."""
    rows = plan.study.versions.select_related("study__saddle", "back_version__back__horse", "saddle_version")
    return rows.get(number=plan.run)


def plan_part(plan: Plan, named: Named, version: VersionPart) -> PlanPart:
    """Return a plan's part of a pack."""
    return PlanPart(
        uuid=named(plan),
        label=plan.label,
        study=named(plan.study),
        study_sha256=run_of(plan).sha256,
        version=version,
    )


def order_part(state: OrderState, name: str, plan: str, version: VersionPart) -> OrderPart:
    """Return a work order's part of a pack."""
    return OrderPart(
        uuid=name,
        label=state.order.label,
        plan=plan,
        said=state.said,
        mended=tuple(state.mended),
        checked_mm=tuple(state.checked_mm),
        version=version,
    )


def visit_part(visit: Visit, named: Named) -> VisitPart:
    """Return a visit's part of a pack: what is about the horse and its saddles."""
    held: dict[uuids.UUID, dict[str, Value]] = {}
    for answer in Answer.objects.filter(visit=visit).order_by("field"):
        held.setdefault(answer.subject_uuid, {})[answer.field] = answer.value
    if visit.horse is None:
        raise input_problem("a visit is of no horse yet", "Say of which, or leave it out.")
    tried = visit.tried.filter(taken_off_at=None).select_related("saddle").order_by("order")
    return VisitPart(
        uuid=named(visit),
        horse=named(visit.horse),
        label=visit.label,
        day=visit.date,
        purpose=visit.purpose,
        answers=_sent(held.get(visit.uuid, {}), VISIT_FIELDS),
        tried=tuple(
            TriedPart(saddle=named(one.saddle), answers=_sent(held.get(one.uuid, {}), VISIT_SADDLE_FIELDS))
            for one in tried
        ),
    )


def _sent(held: Mapping[str, Value], fields: Mapping[str, Field]) -> dict[str, Value]:
    return {
        name: value
        for name, value in held.items()
        if value is not None and name in fields and not is_about_people(fields[name])
    }
