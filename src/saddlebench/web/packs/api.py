"""Handover packs for other programs: made, given, linked to; checked and taken; keys known."""

import uuid as uuids
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from ninja import Query, Router, Status

from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.packs import OpenedPack, opened_pack, parse_key_line
from saddlebench.practice.enums import Action
from saddlebench.practice.handover.choice import PackChoice, WorkDone
from saddlebench.practice.handover.comparing import Comparison, compare
from saddlebench.practice.handover.deciding import TakeChoices
from saddlebench.practice.handover.items import Item
from saddlebench.practice.handover.keys import end_trust, keys_to_open, own_key, trust_key
from saddlebench.practice.handover.links import end_link, make_link
from saddlebench.practice.handover.sending import delete_pack
from saddlebench.practice.handover.taking import take_pack
from saddlebench.practice.queries.jobs import JobPage, job_page
from saddlebench.practice.queries.packs import (
    Origin,
    PartnerShown,
    SentShown,
    TakenShown,
    origins_of,
    partners,
    sent_pack,
    sent_packs,
    taken_pack,
    taken_packs,
)
from saddlebench.web.base.files import part_of
from saddlebench.web.base.instruments import chosen_instrument
from saddlebench.web.base.interface import (
    ByToken,
    actor_of,
    body_of,
    gives,
    takes,
)
from saddlebench.web.base.job_shape import JobShape
from saddlebench.web.packs.api_shapes import (
    Decided,
    KeyShape,
    MadeLinkShape,
    NewLink,
    NewPack,
    OriginShape,
    PackCheckShape,
    PartnerShape,
    SentPackShape,
    TakenPackShape,
    Trusted,
)
from saddlebench.web.packs.asked import Asked, ask_pack
from saddlebench.web.packs.keys import home_folder
from saddlebench.web.packs.sent import MEDIA_TYPES, file_name, there
from saddlebench.web.packs.taking import LARGEST_PACK

router = Router(tags=["handing over"])
_BODY = takes("application/octet-stream", {}, "The pack, byte for byte")


@router.get("practice-key", auth=ByToken(Action.EXPORT), response=KeyShape)
def get_key(request: HttpRequest) -> dict[str, str]:
    """Give the practice's own key; it is made at first need."""
    public = own_key(actor_of(request), home_folder()).public
    return {"line": public.line, "fingerprint": public.fingerprint}


@router.get("partner-keys", auth=ByToken(Action.EXPORT), response=list[PartnerShape])
def get_partners(request: HttpRequest) -> list[PartnerShown]:
    """List the keys that are known."""
    return list(partners(actor_of(request)))


@router.post("partner-keys", auth=ByToken(Action.IMPORT), response={201: PartnerShape})
def post_partner(request: HttpRequest, given: Trusted) -> Status[PartnerShown]:
    """Trust a key whose fingerprint was compared."""
    actor = actor_of(request)
    found = parse_key_line(given.line).fingerprint
    if "".join(given.fingerprint.split()) != "".join(found.split()):
        cure = "Compare them digit by digit."
        raise input_problem("the fingerprint is not that of the line", cure, Where(field="fingerprint"))
    held = trust_key(actor, given.line, given.label)
    return Status(201, next(one for one in partners(actor) if one.uuid == held.uuid))


@router.post("partner-keys/{uuid:uuid}/end", auth=ByToken(Action.IMPORT), response={204: None})
def post_partner_end(request: HttpRequest, uuid: uuids.UUID) -> Status[None]:
    """Trust a key no longer."""
    end_trust(actor_of(request), uuid)
    return Status(204, None)


@router.get("packs", auth=ByToken(Action.EXPORT), response=list[SentPackShape])
def get_packs(request: HttpRequest) -> list[SentShown]:
    """List the packs that were made, the newest first; without their links."""
    return list(sent_packs(actor_of(request)))


@router.post("packs", auth=ByToken(Action.EXPORT), response={202: JobShape})
def post_pack(request: HttpRequest, given: NewPack) -> Status[JobPage]:
    """Ask for a pack; when the work is done it is there under the work's uuid."""
    actor, name = actor_of(request), given.uuid or uuids.uuid4()
    choice = PackChoice(
        horses=given.horses,
        saddles=given.saddles,
        backs=given.backs,
        studies=given.studies,
        plans=given.plans,
        orders=given.orders,
        visits=given.visits,
        changes=given.changes,
        shortlists=given.shortlists,
        photos=given.photos,
        message=given.message,
        work_done=tuple(WorkDone(on=one.on, words=one.words, saddle=one.saddle) for one in given.work_done),
        questions=given.questions,
        answers=given.answers,
        names_people=given.names_people,
    )
    asked = Asked(
        choice=choice,
        recipient=given.recipient,
        drawings=given.drawings,
        reports=given.reports,
        kit=given.kit,
        instrument=given.instrument,
        language=given.language,
        lengths=given.lengths,
    )
    if given.instrument:
        chosen_instrument(actor, given.instrument)
    ask_pack(actor, asked, name)
    return Status(202, job_page(actor, name))


@router.get("packs/{uuid:uuid}", auth=ByToken(Action.EXPORT), response=SentPackShape)
def get_pack(request: HttpRequest, uuid: uuids.UUID) -> SentShown:
    """Give what is known of a pack that was made."""
    return sent_pack(actor_of(request), uuid)


@router.get(
    "packs/{uuid:uuid}/file",
    auth=ByToken(Action.EXPORT),
    openapi_extra=gives("application/zip", "application/octet-stream"),
)
def get_pack_file(request: HttpRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give a pack's bytes, or the part that a Range header asks for."""
    pack = sent_pack(actor_of(request), uuid)
    answer = part_of(there(uuid), request.headers.get("Range", ""), MEDIA_TYPES[pack.is_sealed])
    answer["Content-Disposition"] = f'attachment; filename="{file_name(pack)}"'
    return answer


@router.post("packs/{uuid:uuid}/discard", auth=ByToken(Action.EXPORT), response=SentPackShape)
def post_pack_discard(request: HttpRequest, uuid: uuids.UUID) -> SentShown:
    """Delete a pack's file and end its links; that it was made stays written down."""
    delete_pack(actor_of(request), uuid, home_folder())
    return sent_pack(actor_of(request), uuid)


@router.post("packs/{uuid:uuid}/links", auth=ByToken(Action.EXPORT), response={201: MadeLinkShape})
def post_pack_link(request: HttpRequest, uuid: uuids.UUID, given: NewLink) -> Status[dict[str, Any]]:
    """Make a link to a pack; its address is told this once."""
    made = make_link(actor_of(request), uuid, days=given.days, most_uses=given.most_uses)
    address = request.build_absolute_uri(reverse("packs:landing", args=[made.secret]))
    return Status(201, {"uuid": made.uuid, "address": address, "expires_at": made.expires_at})


@router.post("pack-links/{uuid:uuid}/end", auth=ByToken(Action.EXPORT), response=SentPackShape)
def post_link_end(request: HttpRequest, uuid: uuids.UUID) -> SentShown:
    """End a link."""
    return sent_pack(actor_of(request), end_link(actor_of(request), uuid))


@contextmanager
def _brought(request: HttpRequest) -> Iterator[OpenedPack]:
    """Yield the pack that was sent, verified; its file is gone afterwards."""
    keys = keys_to_open(actor_of(request), home_folder())
    with NamedTemporaryFile(prefix="saddlebench-brought-", suffix=".pack") as held:
        held.write(body_of(request, LARGEST_PACK))
        held.flush()
        with opened_pack(Path(held.name), keys) as pack:
            yield pack


@router.post("taken-packs/check", auth=ByToken(Action.IMPORT), response=PackCheckShape, openapi_extra=_BODY)
def post_check(request: HttpRequest) -> dict[str, Any]:
    """Verify a pack and tell what taking it would change; nothing is written."""
    with _brought(request) as pack:
        return _told(compare(actor_of(request), pack))


def _told(found: Comparison) -> dict[str, Any]:
    document = found.document
    return {
        "uuid": document.uuid,
        "sender": document.sender.label,
        "made_at": document.made_at,
        "key": found.known.standing.value,
        "fingerprint": found.fingerprint,
        "was_sealed": found.was_sealed,
        "answers": document.answers,
        "message": document.message,
        "work_done": [f"{one.on.isoformat()}: {one.words}" for one in document.work_done],
        "questions": list(document.questions),
        "taken_before": found.taken_before is not None,
        "remarks": [str(one) for one in found.remarks],
        "items": [_item(one) for one in found.items],
    }


def _item(item: Item) -> dict[str, Any]:
    return {
        "subject": item.subject,
        "origin": item.origin,
        "label": item.label,
        "fate": item.fate.value,
        "local": item.local,
        "candidates": list(item.candidates),
        "remark": item.remark,
        "differing": [
            {"name": one.name, "mine": str(one.mine), "theirs": str(one.theirs)} for one in item.differing
        ],
    }


@router.post("taken-packs", auth=ByToken(Action.IMPORT), response=TakenPackShape, openapi_extra=_BODY)
def post_taken(
    request: HttpRequest,
    decided: Query[Decided],
) -> dict[str, Any]:
    """Take a pack: all of it or nothing, each record once."""
    choices = TakeChoices(
        trusts_key=decided.trust,
        trusts_changed_key=decided.trust_changed,
        same_as=dict(map(_same, decided.same)),
        further_versions=frozenset(decided.further),
    )
    with _brought(request) as pack:
        taken = take_pack(actor_of(request), pack, choices, home_folder())
    return _taken(taken_pack(actor_of(request), taken.pack.uuid))


def _same(text: str) -> tuple[uuids.UUID, uuids.UUID | None]:
    origin, _, chosen = text.partition(":")
    try:
        return uuids.UUID(origin), None if chosen == "another" else uuids.UUID(chosen)
    except ValueError:
        cure = "Write <uuid in the pack>:<uuid here>, or <uuid in the pack>:another."
        raise input_problem("is no choice", cure, Where(field="same")) from None


def _taken(page: TakenShown) -> dict[str, Any]:
    names = ("uuid", "pack_uuid", "sender", "person", "fingerprint", "sent_at", "taken_at", "by", "message")
    return {
        **{name: getattr(page, name) for name in names},
        "work_done": list(page.work_done),
        "questions": list(page.questions),
        "answers": page.answers,
        "records": [{"subject": kind, "uuid": one.uuid, "label": one.label} for kind, one in page.records],
    }


@router.get("taken-packs", auth=ByToken(Action.EXPORT), response=list[TakenPackShape])
def get_taken_packs(request: HttpRequest) -> list[dict[str, Any]]:
    """List the packs that were taken, the newest first; without their records."""
    return [_taken(one) for one in taken_packs(actor_of(request))]


@router.get("taken-packs/{uuid:uuid}", auth=ByToken(Action.EXPORT), response=TakenPackShape)
def get_taken(request: HttpRequest, uuid: uuids.UUID) -> dict[str, Any]:
    """Give a pack that was taken, with the records that came with it."""
    return _taken(taken_pack(actor_of(request), uuid))


@router.get("origins/{uuid:uuid}", auth=ByToken(Action.SEE_HORSES), response=list[OriginShape])
def get_origins(request: HttpRequest, uuid: uuids.UUID) -> list[Origin]:
    """Tell which packs a record came with; an empty list for one's own."""
    return list(origins_of(actor_of(request), uuid))
