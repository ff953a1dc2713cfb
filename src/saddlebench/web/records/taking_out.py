"""Withdrawing with undo; and erasing a person, a separate and complete act with a receipt."""

import uuid as uuids
from pathlib import Path

from django.conf import settings
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.phrases import words_of
from saddlebench.practice.queries.withdrawn import receipts
from saddlebench.practice.queries.withdrawn import withdrawn as withdrawn_rows
from saddlebench.practice.services.withdrawing import WITHDRAWABLE
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.links import page_address
from saddlebench.web.records.kinds import subject_of

_LISTS = {
    Subject.CLIENT: "records:clients",
    Subject.YARD: "records:yards",
    Subject.HORSE: "records:horses",
    Subject.SADDLE: "records:saddles",
}


@signed_in(Action.WITHDRAW, DEED)
def withdraw(request: PageRequest, subject: str, uuid: uuids.UUID) -> HttpResponse:
    """Withdraw a record; the next page offers to put it back."""
    of = subject_of(subject, WITHDRAWABLE)
    row = services.withdraw(request.actor, of, uuid)
    named = row.label or str(words_of(of))
    say(request, f"{named} is withdrawn.", undo=reverse("records:put_back", args=[subject, uuid]))
    return HttpResponseRedirect(_next(request) or reverse(_LISTS.get(of, "home:today")))


@signed_in(Action.WITHDRAW, DEED)
def put_back(request: PageRequest, subject: str, uuid: uuids.UUID) -> HttpResponse:
    """Put a withdrawn record back."""
    of = subject_of(subject, WITHDRAWABLE)
    row = services.put_back(request.actor, of, uuid)
    say(request, f"{row.label or words_of(of)} is back.")
    onwards = _next(request) or page_address(of, uuid) or reverse("records:withdrawn")
    return HttpResponseRedirect(onwards)


def _next(request: PageRequest) -> str:
    asked = request.POST.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return asked if asked.startswith("/") and is_ours else ""


@signed_in(Action.SEE_HORSES)
def withdrawn(request: PageRequest) -> HttpResponse:
    """List what was withdrawn, each with a way back."""
    return show(request, "records/withdrawn.html", "Withdrawn", withdrawn_rows(request.actor))


@signed_in(Action.ERASE)
def erasures(request: PageRequest) -> HttpResponse:
    """List the receipts of erasures."""
    return show(request, "records/erasures.html", "Erasures", receipts(request.actor))


@signed_in(Action.ERASE, FORM)
def erase(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Erase a person with everything that is theirs; their name has to be typed first."""
    page = queries.client_page(request.actor, uuid)
    refused = ""
    if request.method == "POST":
        if request.POST.get("name", "").strip() == page.label:
            home = Path(settings.SADDLEBENCH_HOME)
            erasure = services.erase_person(request.actor, uuid, home)
            return show(request, "records/erased.html", "Erased", erasure)
        refused = "The name is not the same. Nothing was erased."
    status = 422 if refused else 200
    return show(request, "records/erase.html", f"Erase {page.label}", page, status=status, refused=refused)
