"""Who may call a view, and how. Every view of a slice is declared with `signed_in` or `open_to_all`."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Concatenate, ParamSpec, cast
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django_htmx.middleware import HtmxDetails

from saddlebench.practice.enums import Action
from saddlebench.practice.queries.standing import Standing
from saddlebench.practice.rules import Actor, require
from saddlebench.web.base import middleware
from saddlebench.web.base.signing_in import EMAIL, PASSWORD, kept_fields, try_sign_in

READ, FORM, DEED = ("GET", "HEAD"), ("GET", "HEAD", "POST"), ("POST",)
_Given = ParamSpec("_Given")


class PageRequest(HttpRequest):
    """A request by somebody who is signed in and belongs to a practice."""

    actor: Actor
    standing: Standing
    htmx: HtmxDetails


View = Callable[Concatenate[PageRequest, _Given], HttpResponse]
Served = Callable[Concatenate[HttpRequest, _Given], HttpResponse]


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """What a view asks of its callers; a test reads it off every view."""

    action: Action | None
    """None: open to all."""
    methods: tuple[str, ...]


def access_of(view: object) -> Access | None:
    """Return what a view declares; None where it declares nothing, which a test refuses."""
    return getattr(view, "access", None)


def signed_in(action: Action, methods: tuple[str, ...] = READ) -> Callable[[View[_Given]], Served[_Given]]:
    """Let in those whose role includes the action; ask others to sign in, without losing what they typed."""

    def declare(view: View[_Given]) -> Served[_Given]:
        @wraps(view)
        def served(request: HttpRequest, *args: _Given.args, **kwargs: _Given.kwargs) -> HttpResponse:
            if request.method not in methods:
                return HttpResponseNotAllowed(methods)
            refused = _signed_out(request)
            if refused is not None:
                return refused
            require(request.actor, action)  # type: ignore[attr-defined]
            return view(request, *args, **kwargs)  # type: ignore[arg-type]

        served.access = Access(action=action, methods=methods)  # type: ignore[attr-defined]
        return cast("Served[_Given]", served)

    return declare


def open_to_all(methods: tuple[str, ...] = READ) -> Callable[[Served[_Given]], Served[_Given]]:
    """Let everybody in: signing in, health, and little else."""

    def declare(view: Served[_Given]) -> Served[_Given]:
        @wraps(view)
        def served(request: HttpRequest, *args: _Given.args, **kwargs: _Given.kwargs) -> HttpResponse:
            if request.method not in methods:
                return HttpResponseNotAllowed(methods)
            return view(request, *args, **kwargs)

        served.access = Access(action=None, methods=methods)  # type: ignore[attr-defined]
        return cast("Served[_Given]", served)

    return declare


def _signed_out(request: HttpRequest) -> HttpResponse | None:
    """Return None for somebody signed in, else the answer that lets them sign in and go on."""
    if getattr(request, "actor", None) is not None:
        return None
    said, status = "", 401
    if request.method == "POST" and PASSWORD in request.POST:
        tried = try_sign_in(request, request.POST.get(EMAIL, ""), request.POST[PASSWORD])
        if tried.is_in:
            return _come_back(request)
        said, status = tried.said, tried.status
    if getattr(request, "htmx", False):
        return HttpResponse(status=401)
    if request.method != "POST":
        query = urlencode({"next": request.get_full_path()})
        return HttpResponseRedirect(f"{reverse('accounts:sign_in')}?{query}")
    more = {"said": said, "kept": kept_fields(request), "has_files": bool(request.FILES)}
    return render(request, "base/sign_in_and_go_on.html", more, status=status)


def _come_back(request: HttpRequest) -> HttpResponse | None:
    """Give the request the standing of whoever signed in with it; one without a practice goes no further."""
    standing = middleware.standing_of(request)
    if standing is None:
        return HttpResponseRedirect(reverse("accounts:sign_in"))
    request.standing = standing  # type: ignore[attr-defined]
    request.actor = standing.actor  # type: ignore[attr-defined]
    return None
