"""Lists, each with one box that searches it."""

from django.http import Http404, HttpResponse
from django.utils.translation import gettext

from saddlebench.practice import queries
from saddlebench.practice.enums import Action, Holding
from saddlebench.practice.queries.yards import find_yards
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import wholly_spoken
from saddlebench.web.records.choosing import WORDS, chosen_of, show_choice

_LONGEST_QUESTION = 200


def _asked(request: PageRequest) -> tuple[str, int]:
    return request.GET.get("q", "")[:_LONGEST_QUESTION].strip(), whole_of(request.GET.get("page", ""), 1)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def horses(request: PageRequest) -> HttpResponse:
    """Find horses by any part of anything."""
    text, page = _asked(request)
    listed = queries.find_horses(request.actor, text, page=page)
    return show(request, "records/horses.html", gettext("Horses"), listed, asked=text)


@signed_in(Action.SEE_PEOPLE)
def clients(request: PageRequest) -> HttpResponse:
    """Find clients."""
    text, page = _asked(request)
    return show(
        request, "records/clients.html", "People", queries.find_clients(request.actor, text, page=page)
    )


@signed_in(Action.SEE_PEOPLE)
def yards(request: PageRequest) -> HttpResponse:
    """Find yards."""
    text, page = _asked(request)
    return show(request, "records/yards.html", "Yards", find_yards(request.actor, text, page=page))


@signed_in(Action.SEE_SADDLES)
def saddles(request: PageRequest) -> HttpResponse:
    """Find saddles: all, clients' or stock."""
    text, page = _asked(request)
    named = request.GET.get("holding", "")
    holding = next((one for one in Holding if one.value == named), None)
    listed = queries.find_saddles(request.actor, text, holding=holding, page=page)
    return show(request, "records/saddles.html", "Saddles", listed, holding=named if holding else "")


@signed_in(Action.SEE_PEOPLE)
def choose(request: PageRequest, what: str) -> HttpResponse:
    """Give the choices that match what is being typed, for a form that is open."""
    if what not in WORDS:
        raise Http404
    held = chosen_of(request.actor, what, request.GET.get(what, ""))
    choice = show_choice(request.actor, what, held, posted=request.GET)
    return show(request, "records/choices.html", "", choice=choice)
