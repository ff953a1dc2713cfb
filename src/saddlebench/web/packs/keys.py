"""The practice's own key, and the keys of others."""

import uuid as uuids
from pathlib import Path

import segno
from django.conf import settings
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.packs import parse_key_line
from saddlebench.practice.enums import Action
from saddlebench.practice.handover.keys import KeyMissingError, end_trust, own_key, renew_key, trust_key
from saddlebench.practice.queries.packs import own_key_shown
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say

_LONGEST = 1000


def home_folder() -> Path:
    """Return the data folder."""
    return Path(settings.SADDLEBENCH_HOME)


@signed_in(Action.EXPORT)
def key(request: PageRequest) -> HttpResponse:
    """Show the practice's key: its line, its code, and the fingerprint to read out."""
    missing = ""
    try:
        own_key(request.actor, home_folder())
    except KeyMissingError as error:
        missing = str(error)
    held = own_key_shown(request.actor)
    code = ""
    if held is not None:
        code = segno.make(held.line, error="m").svg_data_uri(scale=4, border=4, light="#fff", dark="#000")
    return show(
        request, "packs/key.html", "Your practice’s key", held, status=409 if missing else 200, code=code,
        missing=missing,
    )  # fmt: skip


@signed_in(Action.MANAGE_PRACTICE, DEED)
def renew(request: PageRequest) -> HttpResponse:
    """Make a new key: everybody who knows the old one will be warned, until they compare the new one."""
    if request.POST.get("sure") != "yes":
        cure = "Tick that you want it, and that you will tell everybody."
        raise input_problem("a new key was not confirmed", cure, Where(field="Sure"))
    renew_key(request.actor, home_folder())
    say(request, "A new key is made. Tell its fingerprint to everybody who knew the old one.")
    return HttpResponseRedirect(reverse("packs:key"))


@signed_in(Action.IMPORT, FORM)
def add(request: PageRequest) -> HttpResponse:
    """Trust another practice's key, whose fingerprint was read out."""
    typed = {name: request.POST.get(name, "")[:_LONGEST] for name in ("label", "line", "fingerprint")}
    problems: tuple[Problem, ...] = ()
    if request.method == "POST":
        try:
            found = parse_key_line(typed["line"]).fingerprint
            if "".join(typed["fingerprint"].split()) != "".join(found.split()):
                cure = "Compare them digit by digit. If they differ, ask for the line again, by another way."
                what = "the fingerprint that was read out is not that of this line"
                raise input_problem(what, cure, Where(field="Fingerprint"))
            held = trust_key(request.actor, typed["line"], typed["label"])
        except InputProblemsError as error:
            problems = error.problems
        else:
            say(request, f"{held.label} is trusted.")
            return HttpResponseRedirect(reverse("packs:home"))
    status = 422 if problems else 200
    return show(
        request, "packs/add_key.html", "Another practice’s key", status=status, typed=typed, problems=problems
    )


@signed_in(Action.IMPORT, DEED)
def end(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Trust a key no longer."""
    end_trust(request.actor, uuid)
    say(request, "The key is no longer trusted.")
    return HttpResponseRedirect(reverse("packs:home"))
