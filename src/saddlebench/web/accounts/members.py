"""The practice's own facts, and who works in it."""

import uuid as uuids

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Role, Vocabulary
from saddlebench.practice.phrases import words_of
from saddlebench.practice.services.passwords import set_member_password
from saddlebench.web.accounts.views import ZONES
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.errors import gone_on_without
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say

ROLE_MEANS = {
    Role.OWNER: "everything, members and backups included",
    Role.FITTER: "people, horses, saddles, visits, backs, fit checks",
    Role.WORKSHOP: "sees horses and saddles, edits saddles; no people",
    Role.READER: "sees, and changes nothing",
}


@signed_in(Action.MANAGE_PRACTICE, FORM)
def practice(request: PageRequest) -> HttpResponse:
    """Show and change name, time zone and vocabulary."""
    standing = request.standing
    typed = {
        "label": standing.practice,
        "zone": standing.zone,
        "vocabulary": standing.practice_vocabulary.value,
    }
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        typed = {name: request.POST.get(name, "") for name in typed}
        try:
            services.change_practice(request.actor, **typed)
        except InputProblemsError as error:
            problems = error.problems
        else:
            say(request, "The practice is changed.")
            return HttpResponseRedirect(reverse("accounts:practice"))
    vocabularies = [(one.value, words_of(one)) for one in Vocabulary]
    more = {"typed": typed, "problems": problems, "zones": ZONES, "vocabularies": vocabularies}
    return show(request, "accounts/practice.html", "Practice", status=422 if problems else 200, **more)


@signed_in(Action.MANAGE_MEMBERS, FORM)
def members(request: PageRequest) -> HttpResponse:
    """List the members, and add one."""
    typed = {name: request.POST.get(name, "") for name in ("label", "email", "role")}
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            role = _role_of(typed["role"])
            password = request.POST.get("password", "")
            services.add_member(request.actor, typed["label"], typed["email"], password, role)
        except InputProblemsError as error:
            problems = error.problems
        else:
            say(request, f"{typed['label']} is a member now.")
            return HttpResponseRedirect(reverse("accounts:members"))
    roles = [(one.value, words_of(one), ROLE_MEANS[one]) for one in Role]
    more = {"typed": typed, "problems": problems, "roles": roles}
    listed = queries.members(request.actor)
    return show(request, "accounts/members.html", "Members", listed, status=422 if problems else 200, **more)


def _role_of(text: str) -> Role:
    try:
        return Role(text)
    except ValueError:
        raise InputProblemsError([Problem(what="no role was chosen", cure="Choose one.")]) from None


def _back(request: PageRequest, words: str) -> HttpResponse:
    say(request, words)
    return HttpResponseRedirect(reverse("accounts:members"))


@signed_in(Action.MANAGE_MEMBERS, DEED)
def role(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give a member another role."""
    services.change_role(request.actor, uuid, _role_of(request.POST.get("role", "")))
    return _back(request, "The role is changed.")


@signed_in(Action.MANAGE_MEMBERS, DEED)
def password(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Set a member's password anew."""
    set_member_password(request.actor, uuid, request.POST.get("new", ""))
    return _back(request, "The password is set. Tell it to them, and ask them to change it.")


@signed_in(Action.MANAGE_MEMBERS, DEED)
def end(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """End a membership; asked twice, as it shuts somebody out."""
    if request.POST.get("sure") != "yes":
        return gone_on_without(request, "Nothing was done.", "Tick “yes, end it” first.", 422)
    services.end_membership(request.actor, uuid)
    return _back(request, "The membership is ended. What they entered stays, with their name.")
