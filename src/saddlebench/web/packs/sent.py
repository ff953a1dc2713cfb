"""Packs that were made: their files, and links by which others fetch them."""

import re
import uuid as uuids
from pathlib import Path

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.cache import add_never_cache_headers

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.practice.enums import Action
from saddlebench.practice.handover.links import end_link, make_link
from saddlebench.practice.handover.sending import delete_pack, pack_file
from saddlebench.practice.queries.packs import (
    SentShown,
    own_key_shown,
    partners,
    sent_pack,
    sent_packs,
    taken_packs,
)
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.files import part_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.packs.keys import home_folder
from saddlebench.web.packs.words import counted

MEDIA_TYPES = {False: "application/zip", True: "application/octet-stream"}


@signed_in(Action.EXPORT)
def home(request: PageRequest) -> HttpResponse:
    """Show what was sent and taken, and whose keys are known."""
    return show(
        request,
        "packs/home.html",
        "Handing over",
        sent=sent_packs(request.actor),
        taken=taken_packs(request.actor),
        partners=partners(request.actor),
        key=own_key_shown(request.actor),
    )


def file_name(pack: SentShown) -> str:
    """Return what a pack's file is called."""
    slug = re.sub(r"[^a-z0-9]+", "-", pack.label.casefold()).strip("-")[:40] or "pack"
    return f"{slug}-{pack.made_at:%Y-%m-%d}.zip{'.age' if pack.is_sealed else ''}"


def there(uuid: uuids.UUID) -> Path:
    """Return a pack's file.

    Raises
    ------
    NotFoundError
        If it is gone.
    """
    path = pack_file(home_folder(), uuid)
    if not path.is_file():
        raise NotFoundError("file of this pack", uuid)
    return path


@signed_in(Action.EXPORT)
def sent(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a pack, its links, and what answered it."""
    return _sent(request, sent_pack(request.actor, uuid))


def _sent(
    request: PageRequest, page: SentShown, problems: tuple[Problem, ...] = (), address: str = ""
) -> HttpResponse:
    response = show(
        request,
        "packs/sent.html",
        f"Pack: {page.label}",
        page,
        status=422 if problems else 200,
        problems=problems,
        address=address,
        file_name=file_name(page),
        counted=counted(page.holds),
    )
    if address:
        add_never_cache_headers(response)
    return response


@signed_in(Action.EXPORT)
def file(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give a pack's file, or the part of it that was asked for."""
    pack = sent_pack(request.actor, uuid)
    answer = part_of(there(uuid), request.headers.get("Range", ""), MEDIA_TYPES[pack.is_sealed])
    answer["Content-Disposition"] = f'attachment; filename="{file_name(pack)}"'
    return answer


@signed_in(Action.EXPORT, DEED)
def link(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Make a link to a pack; it is shown on this answer and never again."""
    try:
        made = make_link(
            request.actor,
            uuid,
            days=_whole(request.POST.get("days", ""), "Days"),
            most_uses=_whole(request.POST.get("times", ""), "Times"),
        )
    except InputProblemsError as error:
        return _sent(request, sent_pack(request.actor, uuid), error.problems)
    address = request.build_absolute_uri(reverse("packs:landing", args=[made.secret]))
    return _sent(request, sent_pack(request.actor, uuid), address=address)


def _whole(text: str, field: str) -> int:
    if not text.strip().isdecimal() or len(text) > 6:
        raise input_problem("is no whole number", "Write it in digits, such as 7.", Where(field=field))
    return int(text)


@signed_in(Action.EXPORT, DEED)
def end(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """End a link."""
    pack = end_link(request.actor, uuid)
    say(request, "The link is ended: nobody fetches the pack by it any more.")
    return HttpResponseRedirect(reverse("packs:sent", args=[pack]))


@signed_in(Action.EXPORT, DEED)
def delete(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Delete a pack's file; that it was made stays written down."""
    delete_pack(request.actor, uuid, home_folder())
    say(request, "The pack’s file is deleted, and its links are ended.")
    return HttpResponseRedirect(reverse("packs:sent", args=[uuid]))
