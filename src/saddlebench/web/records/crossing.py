"""Carrying people and horses in and out, as tables and cards."""

from collections.abc import Callable

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.crossing import cards, lists
from saddlebench.practice.enums import Action
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say

LARGEST_BYTES = 20 << 20
_IMPORTS: dict[str, Callable[[Actor | None, bytes, str], lists.Imported]] = {
    "people": lists.import_people,
    "horses": lists.import_horses,
    "cards": cards.import_cards,
}


@signed_in(Action.EXPORT)
def crossing(request: PageRequest) -> HttpResponse:
    """Offer what can be carried in and out."""
    return show(request, "records/crossing.html", "Import and export")


def _file(content: str, name: str, media_type: str) -> HttpResponse:
    response = HttpResponse(content.encode("utf-8"), content_type=f"{media_type}; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


# Giving records out writes an audit row, so it is asked for by a form and never by following a link.
@signed_in(Action.EXPORT, DEED)
def people_table(request: PageRequest) -> HttpResponse:
    """Give the people as CSV."""
    return _file(lists.export_people(request.actor), "people.csv", "text/csv")


@signed_in(Action.EXPORT, DEED)
def horses_table(request: PageRequest) -> HttpResponse:
    """Give the horses as CSV."""
    return _file(lists.export_horses(request.actor), "horses.csv", "text/csv")


@signed_in(Action.EXPORT, DEED)
def people_cards(request: PageRequest) -> HttpResponse:
    """Give the people as vCards."""
    return _file(cards.export_cards(request.actor), "people.vcf", "text/vcard")


@signed_in(Action.IMPORT, DEED)
def take_in(request: PageRequest) -> HttpResponse:
    """Take records in: all of a file, or none of it and every problem by row."""
    problems: tuple[Problem, ...] = ()
    try:
        imported = _take_in(request)
    except InputProblemsError as error:
        problems = error.problems
    else:
        said = f"{imported.taken_on} taken on, {imported.already_here} were here already."
        say(request, said + (f" {imported.yards_made} yards made." if imported.yards_made else ""))
        return HttpResponseRedirect(reverse("records:crossing"))
    return show(request, "records/crossing.html", "Import and export", status=422, problems=problems[:200])


def _take_in(request: PageRequest) -> lists.Imported:
    bring_in = _IMPORTS.get(request.POST.get("what", ""))
    given = request.FILES.get("file")
    if bring_in is None or given is None or isinstance(given, list):
        raise input_problem("there is no file", "Choose what it holds, and the file.", Where(field="File"))
    name = (given.name or "file")[:120]
    if (given.size or 0) > LARGEST_BYTES:
        raise input_problem("is larger than 20 MB", "Split it into several files.", Where(file=name))
    return bring_in(request.actor, given.read(), name)
