"""A plan's page and its pictures."""

import uuid as uuids

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.plans import PlanPage, plan_page
from saddlebench.practice.queries.studies import study_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.planning import at_hand
from saddlebench.web.alter.drawing import DOUBT, UNDERSIDE, drawn, drawn_doubt
from saddlebench.web.alter.shown import bedding_shown, changes_shown, lines_of
from saddlebench.web.alter.trying import look, percent
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.checks.loading import study_of_run
from saddlebench.web.base.checks.pictures import sent
from saddlebench.web.base.checks.plans import document_of_plan
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import told, wholly_spoken


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def plan(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a plan: what to do, what it wins, what holds it back, what comes later."""
    from saddlebench.engine.alter import Turn  # noqa: PLC0415
    from saddlebench.exchange.altering import SHORT_OF_IT, needs_panel_off, others_of  # noqa: PLC0415
    from saddlebench.exchange.doubt_words import DOUBT_NOTE, told_of_doubts  # noqa: PLC0415
    from saddlebench.exchange.own_errors import errors_words  # noqa: PLC0415
    from saddlebench.exchange.plan_words import binding_words  # noqa: PLC0415

    page = plan_page(request.actor, uuid)
    held = document_of_plan(page)
    changes = held.found()
    rows = changes_shown(changes)
    return show(
        request,
        "alter/plan.html",
        f"{gettext('Plan')}: {page.row.label}",
        page,
        plan=held,
        lines=lines_of(held.alteration),
        others=[told(one) for one in others_of(held.alteration)],
        panel_off=needs_panel_off(held.alteration),
        rows=rows,
        better=sum(one.turn is Turn.BETTER for one in changes),
        worse=sum(one.turn is Turn.WORSE for one in changes),
        still_off=sum(one.is_still_off for one in changes),
        untold=sum(one.after_verdict == "cannot tell" and not one.is_off for one in rows),
        even=(percent(held.misfit_before), percent(held.misfit_after), percent(held.misfit_free)),
        binding=binding_words(held.binding),
        bedding=bedding_shown(held),
        doubts=told_of_doubts(held.doubts),
        doubt_note=told(DOUBT_NOTE),
        short_of_it=told(SHORT_OF_IT),
        errors=errors_words(held.inputs.own_errors),
        cautions=held.cautions,
    )


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def picture(request: PageRequest, uuid: uuids.UUID, name: str) -> HttpResponse:
    """Send a picture of a plan."""
    return picture_of(request, request.actor, plan_page(request.actor, uuid), name)


def picture_of(request: HttpRequest, actor: Actor, page: PlanPage, name: str) -> HttpResponse:
    """Answer with a picture of a plan.

    Raises
    ------
    InputProblemsError
        If there is no such picture.
    """
    held = document_of_plan(page)
    width = request.GET.get("width", "")
    if name == DOUBT:
        made = drawn_doubt(page.row.sha256, held, width)
    else:
        run = study_page(actor, page.row.study, page.row.run)
        before = study_of_run(actor, run)
        after = before
        if name != UNDERSIDE:
            trial = at_hand(actor, run.uuid, run.run.number, before)
            after = look(run, trial, held.alteration).after
        made = drawn((run.run.sha256, page.row.sha256), before, after, held.alteration, name, width)
    return sent(request, made, f"{page.row.sha256[:20]}-{name}-{width}")
