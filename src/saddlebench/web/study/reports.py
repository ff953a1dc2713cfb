"""A fit check's reports."""

import uuid as uuids

from django.http import HttpResponse

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.letterhead import letterhead_of
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.checks.loading import compressed, drawings
from saddlebench.web.base.checks.pictures import sent
from saddlebench.web.base.report_choices import WORKSHOP, chosen
from saddlebench.web.study.views import seen


@signed_in(Action.SEE_HORSES)
def report(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Send a run's report for owner or workshop, in the language, lengths and paper that were chosen."""
    from saddlebench.report import owner_report, workshop_report  # noqa: PLC0415

    one = seen(request, uuid, number)
    choices = chosen(request.GET)
    head = letterhead_of(request.actor)
    setting = choices.setting(head)
    make = workshop_report if choices.whom == WORKSHOP else owner_report
    drawn = drawings.get(
        (one.page.run.sha256, "report", choices.query, head.digest),
        lambda: compressed(make(one.study, setting), "application/pdf"),
    )
    name = f"fit-check-{choices.whom}-{one.page.run.sha256[:8]}.pdf"
    tag = f"{one.page.run.sha256[:20]}-report-{choices.query}-{head.digest}"
    return sent(request, drawn, tag, file_name=name)
