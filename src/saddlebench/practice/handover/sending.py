"""Sending: what was gathered becomes a signed pack, kept in the data folder until it is deleted."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path

from django.utils import timezone

from saddlebench import __version__
from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.packs.document import EnclosedPart, PackDocument, RecipientPart, SenderPart
from saddlebench.exchange.packs.keys import parse_key_line
from saddlebench.exchange.packs.making import Content, make_pack
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.handover.choice import Gathered
from saddlebench.practice.handover.keys import own_key
from saddlebench.practice.models import Partner, Practice, SentPack
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed

_LONGEST_MESSAGE, _LONGEST_QUESTION = 10_000, 2000
CAUTIONS = (
    SCREENING_NOTE,
    "What was measured holds for the day it was measured on: a back changes with work, feed and season.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Enclosed:
    """A drawing, document or kit file that goes with the records."""

    file: str
    words: str
    content: Content


def packs_folder(home: Path) -> Path:
    """Return where packs that were made lie."""
    return home / "packs"


def pack_file(home: Path, uuid: uuids.UUID) -> Path:
    """Return the file of a pack that was made."""
    return packs_folder(home) / f"{uuid}.pack"


def send_pack(
    actor: Actor | None,
    gathered: Gathered,
    home: Path,
    *,
    enclosed: Sequence[Enclosed] = (),
    recipient: uuids.UUID | None = None,
    uuid: uuids.UUID | None = None,
) -> SentPack:
    """Make a pack and keep it; asked again with the same uuid, what was made then is returned.

    Parameters
    ----------
    recipient : uuid, optional
        The partner whose key it is closed to; None: everybody who has it may read it.

    Raises
    ------
    InputProblemsError
        If the words are too long, or the partner's key is no longer trusted.
    NotFoundError
        If the practice knows no such partner.
    KeyMissingError
        If the practice's private key is not in this folder.
    """
    allowed = require(actor, Action.EXPORT)
    chosen = uuid or uuids.uuid4()
    there = SentPack.objects.filter(practice_id=allowed.practice_id, uuid=chosen).first()
    if there is not None:
        return there
    _check_words(gathered)
    partner = _partner(allowed, recipient)
    keys = own_key(actor, home)
    closed_to = parse_key_line(partner.line) if partner else None
    practice = Practice.objects.get(pk=allowed.practice_id)
    document = PackDocument(
        uuid=str(chosen),
        made_at=timezone.now().astimezone(UTC).isoformat(timespec="seconds"),
        program_version=__version__,
        sender=SenderPart(
            practice=str(practice.uuid),
            label=practice.label,
            person=allowed.label[:200] if gathered.choice.names_people else "",
            key=keys.public.line,
        ),
        recipient=RecipientPart(label=partner.label, key=partner.line) if partner else None,
        answers=str(gathered.choice.answers) if gathered.choice.answers else None,
        message=gathered.choice.message.replace("\r\n", "\n").strip(),
        work_done=gathered.work_done,
        questions=gathered.choice.questions,
        horses=gathered.horses,
        saddles=gathered.saddles,
        backs=gathered.backs,
        saddle_records=gathered.saddle_records,
        studies=gathered.studies,
        plans=gathered.plans,
        orders=gathered.orders,
        visits=gathered.visits,
        changes=gathered.changes,
        shortlists=gathered.shortlists,
        photos=gathered.photos,
        films=gathered.films,
        enclosed=tuple(EnclosedPart(file=one.file, words=one.words) for one in enclosed),
        cautions=CAUTIONS,
    )
    files: dict[str, Content] = {**gathered.files, **{one.file: one.content for one in enclosed}}
    packs_folder(home).mkdir(mode=0o700, parents=True, exist_ok=True)
    made = make_pack(document, files, keys, pack_file(home, chosen), recipient=closed_to)
    try:
        with deed(actor, Action.EXPORT, "send_pack", Subject.PRACTICE, chosen) as done:
            return SentPack.objects.create(
                uuid=chosen,
                practice=practice,
                label=gathered.label,
                recipient=partner,
                answers=gathered.choice.answers,
                made_at=done.audit.made_at,
                made_by_id=allowed.user_id,
                sha256=made.sha256,
                size_bytes=made.size_bytes,
                is_sealed=made.is_sealed,
                holds=_holds(gathered, len(enclosed)),
            )
    except BaseException:
        made.path.unlink(missing_ok=True)
        raise


def _check_words(gathered: Gathered) -> None:
    choice = gathered.choice
    if len(choice.message) > _LONGEST_MESSAGE:
        msg = f"the message has more than {_LONGEST_MESSAGE} characters"
        raise input_problem(msg, "Shorten it.", Where(field="Message"))
    told = [*choice.questions, *(one.words for one in choice.work_done)]
    if any(not 1 <= len(one.strip()) <= _LONGEST_QUESTION for one in told):
        msg = f"a question or a piece of work has no words, or more than {_LONGEST_QUESTION} characters"
        raise input_problem(msg, "Shorten it, or leave it out.")


def _partner(actor: Actor, uuid: uuids.UUID | None) -> Partner | None:
    if uuid is None:
        return None
    partner = Partner.objects.filter(practice_id=actor.practice_id, uuid=uuid).first()
    if partner is None:
        raise NotFoundError("key", uuid)
    if partner.ended_at is not None:
        cure = "Trust it again after comparing the fingerprint, or choose another recipient."
        raise input_problem(f"the key of {partner.label} is no longer trusted", cure)  # noqa: EM102
    return partner


def _holds(gathered: Gathered, enclosed: int) -> dict[str, object]:
    return {
        "horses": [one.label for one in gathered.horses],
        "saddles": [one.label for one in gathered.saddles],
        "backs": len(gathered.backs),
        "fit_checks": len(gathered.studies),
        "plans": len(gathered.plans),
        "orders": len(gathered.orders),
        "visits": len(gathered.visits),
        "changes": len(gathered.changes),
        "shortlists": len(gathered.shortlists),
        "photos": len(gathered.photos),
        "films": len(gathered.films),
        "enclosed": enclosed,
    }


def delete_pack(actor: Actor | None, uuid: uuids.UUID, home: Path) -> None:
    """Delete the file of a pack that was made, and end its links; that it was made stays written down.

    Raises
    ------
    NotFoundError
        If the practice made no such pack.
    """
    allowed = require(actor, Action.EXPORT)
    pack = SentPack.objects.filter(practice_id=allowed.practice_id, uuid=uuid).first()
    if pack is None:
        raise NotFoundError("pack", uuid)
    with deed(actor, Action.EXPORT, "delete_pack", Subject.PRACTICE, uuid) as done:
        SentPack.objects.filter(pk=pack.pk, deleted_at=None).update(deleted_at=done.audit.made_at)
        pack.links.filter(ended_at=None).update(ended_at=done.audit.made_at)
    pack_file(home, uuid).unlink(missing_ok=True)
