"""First start, signing in and out, one's own account."""

import os
import threading
from pathlib import Path
from zoneinfo import available_timezones

from django.contrib.auth import login, logout, update_session_auth_hash
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice.enums import Action, Vocabulary
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.standing import Standing, standings
from saddlebench.practice.services import found_practice, is_first_start
from saddlebench.practice.services.accounts import choose_vocabulary
from saddlebench.practice.services.passwords import change_password
from saddlebench.web.base.access import DEED, FORM, PageRequest, open_to_all, signed_in
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.signing_in import EMAIL, PASSWORD, try_sign_in
from saddlebench.web.base.spoken import problem_told, spoken, told

_founding = threading.Lock()
ZONES = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/"))


def own_zone() -> str:
    """Return this machine's time zone by its name, where the system tells it; else UTC."""
    named = os.environ.get("TZ", "") or "/".join(Path("/etc/localtime").resolve().parts[-2:])
    return named if named in ZONES else "UTC"


@open_to_all(FORM)
@spoken
def sign_in(request: HttpRequest) -> HttpResponse:
    """Sign in, and go where one was going."""
    if is_first_start():
        return HttpResponseRedirect(reverse("accounts:first_start"))
    onwards = _onwards(request)
    if request.method != "POST":
        if getattr(request, "actor", None) is not None:
            return HttpResponseRedirect(onwards)
        return show(
            request,
            "accounts/sign_in.html",
            gettext("Sign in"),
            next=onwards,
            is_signed_in=_is_signed_in(request),
        )
    tried = try_sign_in(request, request.POST.get(EMAIL, ""), request.POST.get(PASSWORD, ""))
    if tried.is_in:
        return HttpResponseRedirect(onwards)
    more = {"refused": told(tried.said), "email": request.POST.get(EMAIL, ""), "next": onwards}
    return show(request, "accounts/sign_in.html", gettext("Sign in"), status=tried.status, **more)


def _is_signed_in(request: HttpRequest) -> bool:
    """Whether somebody is signed in who belongs to no practice (any more)."""
    return bool(request.user.is_authenticated)


def _onwards(request: HttpRequest) -> str:
    asked = request.POST.get("next") or request.GET.get("next") or ""
    is_ours = url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return asked if is_ours and asked.startswith("/") else reverse("home:today")


@open_to_all(DEED)
@spoken
def sign_in_here(request: HttpRequest) -> HttpResponse:
    """Sign in from the dialog of a page that stays open; answers with the forms' new token."""
    tried = try_sign_in(request, request.POST.get(EMAIL, ""), request.POST.get(PASSWORD, ""))
    if not tried.is_in:
        return JsonResponse({"said": told(tried.said)}, status=tried.status)
    return JsonResponse({"token": get_token(request)})


@open_to_all(DEED)
def sign_out(request: HttpRequest) -> HttpResponse:
    """Sign out."""
    logout(request)
    return HttpResponseRedirect(reverse("accounts:sign_in"))


@open_to_all(FORM)
@spoken
def first_start(request: HttpRequest) -> HttpResponse:
    """Ask for the practice's name and the first account; closed as soon as there is a practice."""
    if not is_first_start():
        return HttpResponseRedirect(reverse("accounts:sign_in"))
    typed = {name: request.POST.get(name, "") for name in ("practice", "label", "email", "zone")}
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            with _founding:
                if not is_first_start():
                    return HttpResponseRedirect(reverse("accounts:sign_in"))
                _, user = found_practice(
                    typed["practice"],
                    typed["label"],
                    typed["email"],
                    request.POST.get("password", ""),
                    zone=typed["zone"] or "UTC",
                )
        except InputProblemsError as error:
            problems = tuple(problem_told(one) for one in error.problems)
        else:
            login(request, user, backend="django.contrib.auth.backends.ModelBackend")
            return HttpResponseRedirect(reverse("home:today"))
    typed["zone"] = typed["zone"] or own_zone()
    more = {"typed": typed, "problems": problems, "zones": ZONES}
    return show(
        request, "accounts/first_start.html", gettext("First start"), status=422 if problems else 200, **more
    )


@signed_in(Action.SEE_SADDLES, FORM)
def mine(request: PageRequest) -> HttpResponse:
    """Show one's own account, and change its password."""
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            user = change_password(request.actor, request.POST.get("old", ""), request.POST.get("new", ""))
        except InputProblemsError as error:
            problems = error.problems
        else:
            update_session_auth_hash(request, user)
            say(request, "Your password is changed. Other devices have to sign in again.")
            return HttpResponseRedirect(reverse("accounts:mine"))
    practices = standings(request.actor.user_id)
    status = 422 if problems else 200
    more = {"problems": problems, "vocabularies": _vocabularies(request.standing)}
    return show(request, "accounts/mine.html", "My account", practices, status=status, **more)


def _vocabularies(standing: Standing) -> list[tuple[str, str, bool]]:
    """Return the choices of words: value, words, whether it holds."""
    usual = f"As the practice: {words_of(standing.practice_vocabulary)}"
    choices = [("", usual), *((one.value, str(words_of(one))) for one in Vocabulary)]
    return [(value, said, value == (standing.own_vocabulary or "")) for value, said in choices]


@signed_in(Action.SEE_SADDLES, DEED)
def words(request: PageRequest) -> HttpResponse:
    """Choose which English one reads, whatever the practice speaks."""
    choose_vocabulary(request.actor, request.POST.get("vocabulary", ""))
    say(request, "Pages, drawings and documents speak to you in these words now.")
    return HttpResponseRedirect(reverse("accounts:mine"))


@signed_in(Action.SEE_SADDLES, DEED)
def work_for(request: PageRequest) -> HttpResponse:
    """Go on in another practice that one is a member of."""
    held = standings(request.actor.user_id)
    at = whole_of(request.POST.get("at", ""), len(held))
    if at < len(held):
        request.session["practice"] = str(held[at].practice_uuid)
    return HttpResponseRedirect(reverse("home:today"))
