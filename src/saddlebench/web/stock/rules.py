"""By what saddles are chosen: the practice's own weights, sizes and hard limits, seen, set, and as a file."""

from itertools import groupby
from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.choosing_rules import ChoosingPage, choosing_page, own_choosing
from saddlebench.practice.services.choosing_rules import set_choosing
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.fields import text_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say

GROUP_WORDS = {
    "weights": (
        "What weighs how much",
        "0 leaves a finding out. What bears on spine and withers weighs most.",
    ),
    "altering": (
        "What altering counts",
        "Beside the findings, which count up to 3 each before their weight.",
    ),
    "limits": ("What rules a saddle out by a tape", "Beyond this a saddle is not offered."),
    "sizes": ("The rider's size", "Further off than this a saddle is not offered."),
}


@signed_in(Action.SEE_HORSES)
def rules(request: PageRequest) -> HttpResponse:
    """Show what saddles are chosen by."""
    return _page(request, choosing_page(request.actor), {}, ())


@signed_in(Action.MANAGE_PRACTICE, DEED)
def set_rules(request: PageRequest) -> HttpResponse:
    """Set what saddles are chosen by, as a new version."""
    page = choosing_page(request.actor)
    typed = {one.name: request.POST.get(one.name, "") for one in page.numbers}
    try:
        version = set_choosing(request.actor, typed)
    except InputProblemsError as error:
        return _page(request, page, typed, error.problems)
    say(request, f"Version {version} counts from now on; lists made before keep what they were made by.")
    return HttpResponseRedirect(reverse("stock:rules"))


@signed_in(Action.MANAGE_PRACTICE, DEED)
def default_rules(request: PageRequest) -> HttpResponse:
    """Go back to the defaults, as a new version."""
    set_choosing(request.actor, None)
    say(request, "Saddles are chosen by the defaults again.")
    return HttpResponseRedirect(reverse("stock:rules"))


@signed_in(Action.SEE_HORSES)
def rules_file(request: PageRequest) -> HttpResponse:
    """Give what saddles are chosen by as the commands read it."""
    from saddlebench.exchange.shop.rules import ChoosingRules, choosing_text  # noqa: PLC0415

    held, page = own_choosing(request.actor) or ChoosingRules(), choosing_page(request.actor)
    text = choosing_text(held, request.standing.practice, str(max(page.version, 1)))
    response = HttpResponse(text, content_type="application/toml; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="practice-choosing.toml"'
    return response


def _page(
    request: PageRequest, page: ChoosingPage, typed: dict[str, str], problems: tuple[Problem, ...]
) -> HttpResponse:
    groups: list[dict[str, Any]] = []
    for group, numbers in groupby(page.numbers, key=lambda one: one.group):
        title, note = GROUP_WORDS[group]
        fields = [
            {
                "number": one,
                "text": typed.get(one.name, text_of(float(one.value))),
                "default": text_of(float(one.default)),
                "problems": [problem for problem in problems if problem.where.field == one.name],
            }
            for one in numbers
        ]
        groups.append({"title": title, "note": note, "fields": fields})
    return show(
        request,
        "stock/rules.html",
        "What saddles are chosen by",
        page,
        status=422 if problems else 200,
        groups=groups,
    )
