"""Errors in words, on pages of our own: what happened, and what to do."""

import logging
import uuid as uuids
from dataclasses import dataclass

from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from saddlebench.engine.errors import InputProblemsError, Problem, SaddlebenchError
from saddlebench.practice.phrases import words_of
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import NotFoundError, SameMomentError, StoppedError

_log = logging.getLogger("django.saddlebench")


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What an error page says."""

    title: str
    what: str
    cure: str
    problems: tuple[Problem, ...] = ()
    number: str = ""
    """By which a fault is found in the window where the program runs."""


def error_page(request: HttpRequest, said: Said, status: int) -> HttpResponse:
    """Return an error page, or its inside alone where only a part of a page was asked for."""
    inside = bool(getattr(request, "htmx", False))
    template = "errors/part.html" if inside else "errors/page.html"
    response = render(request, template, {"said": said}, status=status)
    if inside:
        response["HX-Retarget"], response["HX-Reswap"] = "#said", "innerHTML"
    return response


def worded(request: HttpRequest, exception: Exception) -> HttpResponse | None:
    """Return the page for an error that was raised on purpose; None for a fault of the program."""
    if isinstance(exception, NotFoundError):
        return not_found(request)
    if isinstance(exception, NotAllowedError):
        return forbidden(request, exception)
    if isinstance(exception, InputProblemsError):
        said = Said(
            title="Not saved",
            what="Something that was given cannot be right.",
            cure="Go back: what you typed is still there.",
            problems=exception.problems,
        )
        return error_page(request, said, 422)
    if isinstance(exception, SameMomentError | StoppedError):
        said = Said(title="Not now", what=str(exception), cure="Go back to the record.")
        return error_page(request, said, 409)
    if isinstance(exception, SaddlebenchError):
        return error_page(
            request, Said(title="Not done", what=str(exception), cure="Go back, and try again."), 409
        )
    return None


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Answer an address that leads nowhere, or to something of another practice."""
    del exception
    said = Said(
        title="Not here",
        what="There is nothing at this address. It may have been withdrawn, or the address is wrong.",
        cure="Look for it by name; withdrawn records can be put back.",
    )
    return error_page(request, said, 404)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Answer what the reader's role does not include."""
    what = "Your role in this practice does not include this."
    if isinstance(exception, NotAllowedError) and exception.actor is not None:
        role = words_of(exception.actor.role)
        what = f"This needs another role: “{words_of(exception.action)}” is not open to: {role}."
    return error_page(
        request, Said(title="Not yours to do", what=what, cure="Ask the practice's owner."), 403
    )


def forged(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Answer a form that was not sent from one of our own pages, or from one too old."""
    del reason
    said = Said(
        title="The page was too old",
        what="Nothing was saved: the form did not come from a page of this program that is still good.",
        cure="Go back, load the page again, and save again. What you typed is kept in this browser.",
    )
    return error_page(request, said, 403)


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Answer a request that cannot be understood, or is too large."""
    if isinstance(exception, RequestDataTooBig | TooManyFieldsSent | TooManyFilesSent):
        said = Said(
            title="Too large",
            what="What was sent is larger than is taken at once. Nothing was saved.",
            cure="Send less at a time: fewer pictures, or a shorter text.",
        )
        return error_page(request, said, 413)
    said = Said(
        title="Not understood",
        what="This request cannot be read. Nothing was saved.",
        cure="Go back, load the page again, and try again.",
    )
    return error_page(request, said, 400)


def failed(request: HttpRequest) -> HttpResponse:
    """Answer after a fault of the program; asks nothing of the records, which may be the fault."""
    number = uuids.uuid4().hex[:8]
    _log.error("fault %s at %s %s", number, request.method, request.path)
    said = Said(
        title="The program failed",
        what="This is its fault, not yours. What pages said was saved is saved.",
        cure="Go back and try again; if it fails again, send the makers what stands in the program's window.",
        number=number,
    )
    return HttpResponse(render_to_string("errors/bare.html", {"said": said}), status=500)


def gone_on_without(request: HttpRequest, what: str, cure: str, status: int = 409) -> HttpResponse:
    """Answer with a plain statement and what to do next."""
    return error_page(request, Said(title="Not done", what=what, cure=cure), status)
