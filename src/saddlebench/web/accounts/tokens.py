"""Tokens for other programs: made here, shown once, withdrawn at any time."""

import uuid as uuids
from datetime import date, timedelta

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import add_never_cache_headers

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.enums import Action, Role
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.tokens import tokens as token_rows
from saddlebench.practice.rules import is_within
from saddlebench.practice.services.tokens import end_token, make_token
from saddlebench.web.accounts.members import ROLE_MEANS
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say

_DAYS = {"30": "30 days", "90": "90 days", "365": "a year", "": "until it is withdrawn"}


@signed_in(Action.SEE_HORSES, FORM)
def tokens(request: PageRequest) -> HttpResponse:
    """List tokens, and make one; its secret is shown on this answer and never again."""
    typed = {name: request.POST.get(name, "") for name in ("label", "role", "days")}
    if request.method != "POST":
        typed["days"] = "90"
    problems: tuple[Problem, ...] = ()
    made = None
    if request.method == "POST":
        try:
            made = make_token(
                request.actor, typed["label"], _role_of(typed["role"]), expires_on=_until(typed["days"])
            )
        except InputProblemsError as error:
            problems = error.problems
    roles = [
        (one.value, words_of(one), ROLE_MEANS[one]) for one in Role if is_within(one, request.actor.role)
    ]
    more = {
        "typed": {"days": "90"} if made else typed,
        "problems": problems,
        "roles": roles,
        "made": made,
        "periods": list(_DAYS.items()),
        "address": request.build_absolute_uri("/"),
    }
    status = 422 if problems else 200
    response = show(
        request, "accounts/tokens.html", "Tokens", token_rows(request.actor), status=status, **more
    )
    if made:
        add_never_cache_headers(response)
    return response


def _role_of(text: str) -> Role:
    try:
        return Role(text)
    except ValueError:
        problem = Problem(what="no role was chosen", cure="Choose one.", where=Where(field="Role"))
        raise InputProblemsError([problem]) from None


def _until(days: str) -> date | None:
    if days not in _DAYS:
        problem = Problem(what="no period was chosen", cure="Choose one.", where=Where(field="Until"))
        raise InputProblemsError([problem])
    return timezone.now().date() + timedelta(days=int(days)) if days else None


@signed_in(Action.SEE_HORSES, DEED)
def withdraw(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Withdraw a token: from now on nothing is answered to whoever sends it."""
    end_token(request.actor, uuid)
    say(request, "The token is withdrawn.")
    return HttpResponseRedirect(reverse("accounts:tokens"))
