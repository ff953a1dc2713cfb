"""Trying an alteration by hand: the result follows at once, nothing is recorded until it is saved."""

import hashlib
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.plans import plan_page
from saddlebench.practice.queries.studies import StudyPage, study_page
from saddlebench.practice.services import CannotBeJudgedError
from saddlebench.practice.services.planning import AtHand, try_by_hand
from saddlebench.web.alter.asking import held_of, page_of_run
from saddlebench.web.alter.drawing import drawn
from saddlebench.web.alter.hand import alteration_of, fields_of, form_of, query_of
from saddlebench.web.alter.shown import changes_shown, lines_of
from saddlebench.web.alter.work import ask_plan
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import Shelf
from saddlebench.web.base.checks.pictures import sent
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, told, wholly_spoken

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration, AlterationPlan

_MOST_TRIED = 24
tried: "Shelf[AlterationPlan]" = Shelf(_MOST_TRIED)


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedShown:
    """What came of an alteration set by hand."""

    better: int
    worse: int
    still_off: int
    even_before: str
    even_after: str


def look(page: StudyPage, held: AtHand, wanted: "Alteration") -> "AlterationPlan":
    """Return what comes of an alteration set by hand, computed once."""
    return tried.get((page.run.sha256, wanted), lambda: try_by_hand(held, wanted))


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def by_hand(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show the steppers and what comes of them; to a partial request only what comes of them."""
    page = page_of_run(request, uuid)
    held = held_of(request, page)
    given = _given(request, page)
    problems: tuple[Problem, ...] = ()
    more: dict[str, Any] = {}
    try:
        wanted = alteration_of(held.record, given)
        if not wanted.is_nothing:
            more = _tried(page, held, wanted)
    except InputProblemsError as error:
        problems = error.problems
    except CannotBeJudgedError as error:
        problems = (Problem(what=error.reason.rstrip("."), cure="Change something else."),)
    query = query_of(held.record, given)
    return show(
        request,
        "alter/tried.html" if request.htmx else "alter/by_hand.html",
        f"{gettext('Try it by hand')}: {page.label}",
        page,
        # htmx swaps in what comes with a problem as well: the page's own configuration says so
        status=422 if problems else 200,
        run=page.run,
        form=form_of(held.record, given),
        problems=tuple(problem_told(one) for one in problems),
        query=urlencode({**query, "run": page.run.number}),
        passed_on=list(query.items()),
        form_key=str(key_of("")),
        cautions=held.study.cautions,
        **more,
    )


def texts_of(given: QueryDict) -> dict[str, str]:
    """Return what was typed, the last of each name."""
    return {name: str(value) for name, value in given.items()}


def _given(request: PageRequest, page: StudyPage) -> Mapping[str, str]:
    """Return what was set; a plan that is named fills the fields first."""
    named = request.GET.get("plan", "")
    if not named:
        return texts_of(request.GET)
    from saddlebench.exchange.records import PlanDocument, parse_document  # noqa: PLC0415

    text = plan_page(request.actor, key_of(named)).document
    return fields_of(parse_document(PlanDocument, text, page.label).alteration)


def _tried(page: StudyPage, held: AtHand, wanted: "Alteration") -> dict[str, Any]:
    from saddlebench.engine.alter import Turn  # noqa: PLC0415
    from saddlebench.exchange.altering import others_of  # noqa: PLC0415

    plan = look(page, held, wanted)
    shown = TriedShown(
        better=sum(one.turn is Turn.BETTER for one in plan.changes),
        worse=sum(one.turn is Turn.WORSE for one in plan.changes),
        still_off=len(plan.not_reached),
        even_before=percent(plan.misfit_before),
        even_after=percent(plan.misfit_after),
    )
    return {
        "result": shown,
        "rows": changes_shown(plan.changes, computed=True),
        "lines": lines_of(wanted),
        "others": [told(one) for one in others_of(wanted)],
    }


def percent(misfit: float) -> str:
    """Return how uneven a saddle lies, in words."""
    return said(f"{100.0 * misfit**0.5:.0f} %" if misfit < float("inf") else "it does not sit")


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def picture(request: PageRequest, uuid: uuids.UUID, number: int, name: str) -> HttpResponse:
    """Send a picture of a run with what was set by hand."""
    page = study_page(request.actor, uuid, number)
    held = held_of(request, page)
    wanted = alteration_of(held.record, texts_of(request.GET))
    plan = look(page, held, wanted)
    made = drawn(
        (page.run.sha256, wanted), plan.before, plan.after, wanted, name, request.GET.get("width", "")
    )
    asked = hashlib.sha256(request.META.get("QUERY_STRING", "").encode()).hexdigest()[:16]
    return sent(request, made, f"{page.run.sha256[:20]}-{asked}-{name}")


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def save(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Look closely at what was set by hand, with how sure it is, and keep it as a plan."""
    from saddlebench.engine.alter import Policy  # noqa: PLC0415

    page = page_of_run(request, uuid)
    wanted = alteration_of(held_of(request, page).record, texts_of(request.POST))
    key = key_of(request.POST.get("form", ""))
    run = ask_plan(request.actor, uuid, page.run.number, Policy(), wanted, uuid=key)
    return HttpResponseRedirect(reverse("job", args=[run]))
