"""What there is to compare of a horse, and asking for it."""

import uuid as uuids

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import ComparablePage, comparable_page
from saddlebench.practice.services.comparing import compare_backs
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import load_engine, warm_up
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, wholly_spoken
from saddlebench.web.change.work import ask_change

AT_ONCE = 2
"""So many records are compared while the page loads; more are long work."""
ADDRESSES = {
    ComparisonKind.CHANGE: "change:change",
    ComparisonKind.THEN_AND_NOW: "change:then_and_now",
    ComparisonKind.HAND: "change:hand",
}


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def changed(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a horse's records, to be compared, and what was compared before."""
    warm_up()
    return _page(request, comparable_page(request.actor, uuid))


def _page(request: PageRequest, page: ComparablePage, problems: tuple[Problem, ...] = ()) -> HttpResponse:
    posted = request.POST.getlist("version") if problems else []
    chosen = set(posted) or {str(one.version) for one in (*page.backs[:1], *page.backs[-1:])}
    return show(
        request,
        "change/changed.html",
        gettext("What changed: %(horse)s") % {"horse": page.label},
        page,
        status=422 if problems else 200,
        problems=tuple(problem_told(one) for one in problems),
        backs=[(one, str(one.version) in chosen) for one in page.backs],
        comparisons=[(one, reverse(ADDRESSES[one.kind], args=[one.uuid])) for one in page.comparisons],
        other_device=bool(problems) and request.POST.get("other_device") == "yes",
        key=uuids.uuid4(),
    )


def uuids_of(texts: list[str]) -> list[uuids.UUID]:
    """Return the uuids among texts that a form sent; what is none is left out."""
    found = []
    for text in texts:
        try:
            found.append(uuids.UUID(text))
        except ValueError:
            continue
    return found


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def compare(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Compare the records chosen: two at once, more beside the pages."""
    versions = uuids_of(request.POST.getlist("version"))
    other_device = request.POST.get("other_device") == "yes"
    try:
        if len(versions) > AT_ONCE:
            comparable_page(request.actor, uuid)
            job = ask_change(
                request.actor,
                uuid,
                versions,
                other_device=other_device,
                key=key_of(request.POST.get("key", "")),
            )
            return HttpResponseRedirect(reverse("job", args=[job]))
        load_engine()
        made = compare_backs(request.actor, uuid, versions, other_device=other_device)
    except InputProblemsError as error:
        return _page(request, comparable_page(request.actor, uuid), error.problems)
    return HttpResponseRedirect(reverse("change:change", args=[made.uuid]))
