"""A saddle whose underside is measured from a scan or from tracings: asked for, looked at, recorded."""

import uuid as uuids
from collections.abc import Callable, Sequence

from django.http import HttpResponse

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.underside.become import panelled_of
from saddlebench.exchange.records import SaddleDocument, parse_document
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.queries.saddles import SaddlePage
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import PageRequest
from saddlebench.web.base.interface import Shape

Asked = Callable[[PageRequest, SaddlePage, Sequence[Problem], Sequence[Problem]], HttpResponse]
"""Shows the form of a saddle with what is wrong in it, and with what hinders the whole of it."""
Begun = Callable[[PageRequest, SaddlePage], HttpResponse]


class UndersideVersionShape(Shape):
    """The version of a saddle that a scan or tracings of its underside became."""

    saddle: uuids.UUID
    version: int
    is_current: bool


def measured_saddle(actor: Actor, uuid: uuids.UUID) -> SaddleRecord:
    """Return a saddle as it is recorded now.

    Raises
    ------
    InputProblemsError
        If its numbers were not taken yet.
    """
    text = queries.saddle_document(actor, uuid)
    if not text:
        what = "this saddle’s numbers were not taken yet; its underside alone does not show its tree"
        cure = "Measure the saddle first: tree width, depth, angle and rise are enough."
        raise input_problem(what, cure, Where(field="saddle"))
    return parse_document(SaddleDocument, text, "saddle").record()


def refuse_without_panels(actor: Actor, uuid: uuids.UUID) -> None:
    """Refuse a saddle whose underside neither scan nor tracing tells yet.

    Raises
    ------
    InputProblemsError
        If its numbers were not taken, or it is of a family without panels.
    """
    panelled_of(measured_saddle(actor, uuid).numbers)


def asked_or_begun(request: PageRequest, uuid: uuids.UUID, asked: Asked, begun: Begun) -> HttpResponse:
    """Show a form that measures a saddle's underside; where it was sent, begin what it asks for."""
    page = queries.saddle_page(request.actor, uuid)
    try:
        refuse_without_panels(request.actor, uuid)
    except InputProblemsError as error:
        return asked(request, page, (), error.problems)
    if request.method == "POST":
        try:
            return begun(request, page)
        except InputProblemsError as error:
            return asked(request, page, error.problems, ())
    return asked(request, page, (), ())


def underside_recorded(
    actor: Actor, saddle: uuids.UUID, record: str, *, why: str, seen: int
) -> UndersideVersionShape:
    """Record a saddle with a measured underside as a new version; `seen` is the version it was made of."""
    recorded = services.record_saddle(actor, saddle, Document(text=record), why=why, seen=seen)
    return UndersideVersionShape(
        saddle=saddle, version=recorded.version.number, is_current=recorded.is_current
    )
