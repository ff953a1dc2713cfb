"""The page that lists the interface's addresses, its description, and what answers beside them."""

import json
from dataclasses import dataclass
from functools import cache

from django.http import HttpRequest, HttpResponse
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import conditional_page

from saddlebench.practice.enums import Action
from saddlebench.practice.phrases import words_of
from saddlebench.web.api.interface import PREFIX, description, nothing_here, signed
from saddlebench.web.api.problems import KINDS
from saddlebench.web.base.access import PageRequest, open_to_all, signed_in
from saddlebench.web.base.render import show

_ANY = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationShown:
    """One operation as the page lists it."""

    method: str
    path: str
    words: str
    needs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupShown:
    """The operations of one part of the interface."""

    name: str
    operations: tuple[OperationShown, ...]


@cache
def groups() -> tuple[GroupShown, ...]:
    """Return the operations, group by group."""
    found: dict[str, list[OperationShown]] = {}
    for path, methods in description()["paths"].items():
        for method, one in methods.items():
            shown = OperationShown(
                method=method.upper(),
                path=path,
                words=one.get("description", one["summary"]),
                needs=str(words_of(Action(one["x-action"]))),
            )
            found.setdefault(one["tags"][0], []).append(shown)
    return tuple(GroupShown(name=name, operations=tuple(rows)) for name, rows in found.items())


@signed_in(Action.SEE_SADDLES)
def listing(request: PageRequest) -> HttpResponse:
    """List what other programs can do here, and what they are told when it cannot be done."""
    return show(request, "api/listing.html", "For other programs", groups(), kinds=KINDS, prefix=PREFIX)


@open_to_all()
@conditional_page
def openapi(_request: HttpRequest) -> HttpResponse:
    """Give the description; it says nothing of any practice, so it needs no token."""
    text = json.dumps(description(), ensure_ascii=False)
    return signed(HttpResponse(text, content_type="application/json"))  # type: ignore[return-value]


@csrf_exempt
@open_to_all(_ANY)
def elsewhere(request: HttpRequest) -> HttpResponse:
    """Answer an address below the interface's that there is not."""
    return signed(nothing_here(request))  # type: ignore[return-value]
