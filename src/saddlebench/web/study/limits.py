"""A practice's limits: all of them, one to be changed, and as a file for the commands."""

from typing import TYPE_CHECKING, Any

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import text_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import problem_told, told, wholly_spoken

if TYPE_CHECKING:
    from saddlebench.practice.queries import LimitShown

END_WORDS = {
    "fine_from": _("Fine from"),
    "fine_to": _("Fine up to"),
    "borderline_from": _("Borderline from; below it not right"),
    "borderline_to": _("Borderline up to; above it not right"),
}


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def limits(request: PageRequest) -> HttpResponse:
    """Show every limit, and whose it is."""
    page = queries.limits_page(request.actor)
    n_own = sum(one.is_own for one in page)
    only_own = request.GET.get("own") == "1"
    shown = [one for one in page if one.is_own] if only_own else page
    return show(
        request,
        "study/limits.html",
        gettext("Limits"),
        shown,
        n_own=n_own,
        total=len(page),
        only_own=only_own,
    )


@signed_in(Action.MANAGE_PRACTICE, FORM)
@wholly_spoken
def limit(request: PageRequest, slug: str) -> HttpResponse:
    """Show one limit with its history, or set it."""
    page = queries.limit_page(request.actor, slug)
    typed = {name: text_of(float(page.ends[name])) for name in page.default}
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        typed = {name: request.POST.get(name, "") for name in page.default}
        try:
            services.set_own_limit(request.actor, slug, typed)
        except InputProblemsError as error:
            problems = error.problems
        else:
            done = gettext("%(finding)s: the limit is your own now. Checks from here on are held against it.")
            say(request, done % {"finding": told(page.title)})
            return HttpResponseRedirect(reverse("study:limits"))
    return show(
        request,
        "study/limit.html",
        told(page.title),
        page,
        status=422 if problems else 200,
        ends=[_end(page, name, text, problems) for name, text in typed.items()],
        problems=[problem_told(one) for one in problems if one.where.field not in typed],
    )


def _end(page: "LimitShown", name: str, text: str, problems: tuple[Problem, ...]) -> dict[str, Any]:
    return {
        "name": name,
        "words": END_WORDS[name],
        "text": text,
        "default": text_of(float(page.default[name])),
        "problems": [one for one in problems if one.where.field == name],
    }


@signed_in(Action.MANAGE_PRACTICE, DEED)
@wholly_spoken
def default_limit(request: PageRequest, slug: str) -> HttpResponse:
    """Go back to a limit's default."""
    services.set_own_limit(request.actor, slug, None)
    say(request, gettext("The limit is the default again."))
    return HttpResponseRedirect(reverse("study:limits"))


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def limits_file(request: PageRequest) -> HttpResponse:
    """Give the practice's own limits as the commands read them."""
    from saddlebench.exchange.limits import OwnLimits, limits_text  # noqa: PLC0415

    own = queries.own_limits(request.actor) or OwnLimits(owner=request.standing.practice, levels={})
    response = HttpResponse(limits_text(own), content_type="application/toml; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="practice-limits.toml"'
    return response
