"""A fit check's reports."""

import hashlib
import uuid as uuids

from django.http import HttpResponse

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.letterhead import letterhead_of
from saddlebench.practice.queries.plans import PlanPage, plan_page
from saddlebench.practice.queries.report_facts import study_facts
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.checks.loading import Drawn, compressed, drawings
from saddlebench.web.base.checks.pictures import sent
from saddlebench.web.base.checks.plans import document_of_plan
from saddlebench.web.base.report_choices import WORKSHOP, chosen
from saddlebench.web.study.views import seen


@signed_in(Action.SEE_HORSES)
def report(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Send a run's report for owner or workshop, in the language, lengths and paper that were chosen."""
    from saddlebench.report import owner_report, workshop_report  # noqa: PLC0415
    from saddlebench.report.facts import facts_of_study  # noqa: PLC0415

    one = seen(request, uuid, number)
    choices = chosen(request.GET)
    plan = _plan(request, uuid, number) if choices.whom == WORKSHOP else None
    head = letterhead_of(request.actor)
    facts = facts_of_study(study_facts(request.actor, uuid, number), choices.reader())
    setting = choices.setting(head, facts)

    def make() -> Drawn:
        if choices.whom != WORKSHOP:
            return compressed(owner_report(one.study, setting), "application/pdf")
        held = document_of_plan(plan) if plan is not None else None
        return compressed(workshop_report(one.study, setting, held), "application/pdf")

    planned = plan.row.sha256 if plan is not None else ""
    key = (one.page.run.sha256, "report", choices.query, head.digest, repr(facts), planned)
    name = f"fit-check-{choices.whom}-{one.page.run.sha256[:8]}.pdf"
    tag = hashlib.sha256(repr(key).encode()).hexdigest()[:20]
    return sent(request, drawings.get(key, make), tag, file_name=name)


def _plan(request: PageRequest, uuid: uuids.UUID, number: int) -> PlanPage | None:
    """Return the plan that is to stand in the report, if one was chosen.

    Raises
    ------
    NotFoundError
        If it is no plan for this run.
    """
    given = request.GET.get("plan", "")
    if not given:
        return None
    try:
        page = plan_page(request.actor, uuids.UUID(given))
    except ValueError:
        raise NotFoundError("plan", given[:40]) from None
    if (page.row.study, page.row.run) != (uuid, number):
        raise NotFoundError("plan of this run", page.uuid)
    return page
