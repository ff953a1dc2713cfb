"""Taking a pack: brought, looked at, and only then taken."""

import time
import uuid as uuids
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.errors import InputProblemsError, Problem, SaddlebenchError, Where, input_problem
from saddlebench.exchange.packs import OpenedPack, PackLimits, opened_pack
from saddlebench.exchange.packs.fetching import fetch_pack
from saddlebench.practice.enums import Action
from saddlebench.practice.handover.comparing import Comparison, compare
from saddlebench.practice.handover.deciding import TakeChoices
from saddlebench.practice.handover.keys import KeyStanding, keys_to_open
from saddlebench.practice.handover.sending import packs_folder
from saddlebench.practice.handover.taking import take_pack
from saddlebench.practice.queries.packs import taken_pack
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.packs.keys import home_folder
from saddlebench.web.packs.preview import visit_seen
from saddlebench.web.packs.words import (
    FATE_WORDS,
    KIND_WORDS,
    STANDING_WORDS,
    field_words,
    kind_of,
    told,
)

LARGEST_PACK = 500 << 20
LARGEST_FETCHED = 200 << 20
"""What one waits for while a page loads."""
_KEPT_S = 7 * 24 * 3600


def _waiting(actor: Actor) -> Path:
    """Return where the packs lie that this practice brought and did not decide on yet."""
    return packs_folder(home_folder()) / "brought" / str(actor.practice_id)


@signed_in(Action.IMPORT, DEED)
def bring(request: PageRequest) -> HttpResponse:
    """Keep a pack that was brought, and show what it is."""
    given = request.FILES.get("file")
    if not isinstance(given, UploadedFile):
        raise input_problem("there is no file", "Choose the pack.", Where(field="File"))
    if (given.size or 0) > LARGEST_PACK:
        what = f"the pack is larger than {LARGEST_PACK >> 20} MB"
        raise input_problem(what, "Take it by command: saddlebench pack take.", Where(field="File"))
    uuid, path = _place(request.actor)
    with path.open("xb") as out:
        path.chmod(0o600)
        for block in given.chunks():
            out.write(block)
    return _shown_if_right(request, uuid, path)


@signed_in(Action.IMPORT, DEED)
def fetch(request: PageRequest) -> HttpResponse:
    """Fetch a pack by the link that another practice's server gave, and show what it is."""
    uuid, path = _place(request.actor)
    try:
        fetch_pack(request.POST.get("link", "").strip(), path, limits=PackLimits(file_bytes=LARGEST_FETCHED))
    except InputProblemsError as error:
        title = "The pack was not fetched"
        return show(request, "packs/refused.html", title, status=422, problems=error.problems)
    return _shown_if_right(request, uuid, path)


def _place(actor: Actor) -> tuple[uuids.UUID, Path]:
    folder, uuid = _waiting(actor), uuids.uuid4()
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    _forget_old(folder)
    return uuid, folder / f"{uuid}.pack"


def _shown_if_right(request: PageRequest, uuid: uuids.UUID, path: Path) -> HttpResponse:
    try:
        with _opened(request.actor, uuid):
            pass
    except InputProblemsError as error:
        path.unlink(missing_ok=True)
        title = "Not a pack that can be taken"
        return show(request, "packs/refused.html", title, status=422, problems=error.problems)
    return HttpResponseRedirect(reverse("packs:look", args=[uuid]))


def _forget_old(folder: Path) -> None:
    """Delete what was brought long ago and never decided on."""
    for path in folder.glob("*.pack"):
        if path.stat().st_mtime < time.time() - _KEPT_S:
            path.unlink(missing_ok=True)


@contextmanager
def _opened(actor: Actor, uuid: uuids.UUID) -> Iterator[OpenedPack]:
    path = _waiting(actor) / f"{uuid}.pack"
    if not path.is_file():
        raise NotFoundError("pack that was brought", uuid)
    with opened_pack(path, keys_to_open(actor, home_folder())) as pack:
        yield pack


@signed_in(Action.IMPORT, FORM)
def look(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show what taking a pack would change; on a second word take it."""
    with _opened(request.actor, uuid) as pack:
        if request.method != "POST":
            return _look(request, uuid, compare(request.actor, pack))
        try:
            taken_now = take_pack(request.actor, pack, choices_of(request), home_folder())
        except NotFoundError:
            raise
        except InputProblemsError as error:
            return _look(request, uuid, compare(request.actor, pack), error.problems)
        except SaddlebenchError as error:
            what, _, cure = str(error).partition(". ")
            return _look(request, uuid, compare(request.actor, pack), (Problem(what=what, cure=cure),))
    (_waiting(request.actor) / f"{uuid}.pack").unlink(missing_ok=True)
    n = len(taken_now.made)
    say(request, f"Taken: {n} {'record' if n == 1 else 'records'} new, {len(taken_now.left)} as they were.")
    return HttpResponseRedirect(reverse("packs:taken", args=[taken_now.pack.uuid]))


def choices_of(request: PageRequest) -> TakeChoices:
    """Return what was decided: `same-<uuid>` is a uuid here or `another`, `further` a tick."""
    given = request.POST
    same: dict[uuids.UUID, uuids.UUID | None] = {}
    for name, value in given.items():
        origin = _uuid(name.removeprefix("same-")) if name.startswith("same-") else None
        if origin is not None and (value == "another" or _uuid(str(value))):
            same[origin] = None if value == "another" else _uuid(str(value))
    further = {_uuid(one) for one in given.getlist("further")}
    return TakeChoices(
        trusts_key=given.get("trust") == "yes",
        trusts_changed_key=given.get("trust_changed") == "yes",
        same_as=same,
        further_versions=frozenset(one for one in further if one is not None),
    )


def _uuid(text: str) -> uuids.UUID | None:
    try:
        return uuids.UUID(text)
    except ValueError:
        return None


def _look(
    request: PageRequest, uuid: uuids.UUID, found: Comparison, problems: tuple[Problem, ...] = ()
) -> HttpResponse:
    saddles = {one.uuid: one.label for one in found.document.saddles}
    answers = {one.uuid: visit_seen(one, saddles) for one in found.document.visits}
    rows = [
        {
            "kind": kind_of(one),
            "seen": answers.get(str(one.origin), ()),
            "item": one,
            "sign": FATE_WORDS[one.fate][0],
            "fate": FATE_WORDS[one.fate][1],
            "differing": [(field_words(d.name), told(d.mine), told(d.theirs)) for d in one.differing],
        }
        for one in found.items
    ]
    standing = found.known.standing
    return show(
        request,
        "packs/look.html",
        f"Pack from {found.document.sender.label}",
        found,
        status=422 if problems else 200,
        problems=problems,
        uuid=uuid,
        rows=rows,
        key_standing=standing.value,
        standing_words=STANDING_WORDS[standing],
        may_take=standing is not KeyStanding.REFUSED,
    )


@signed_in(Action.EXPORT)
def taken(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a pack that was taken, with what came with it."""
    page = taken_pack(request.actor, uuid)
    records = [(KIND_WORDS[kind], kind.value, one) for kind, one in page.records]
    return show(request, "packs/taken.html", f"Taken from {page.sender}", page, records=records)
