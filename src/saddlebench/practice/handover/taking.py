"""Taking a pack: all of it or nothing, each record once, with where it came from."""

import uuid as uuids
from datetime import datetime
from pathlib import Path

from saddlebench.exchange.packs.films import bare_film
from saddlebench.exchange.packs.opening import OpenedPack
from saddlebench.exchange.packs.photos import bare_picture
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.handover.comparing import (
    compare,
)
from saddlebench.practice.handover.deciding import TakeChoices, refuse_undecided, refuse_untrusted
from saddlebench.practice.handover.keys import KeyStanding, replace_key
from saddlebench.practice.handover.taken_records import Stored, Taken, Taking
from saddlebench.practice.keeping.files import store
from saddlebench.practice.models import (
    Partner,
    TakenPack,
)
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, deed


def take_pack(actor: Actor | None, pack: OpenedPack, choices: TakeChoices, home: Path) -> Taken:
    """Take a verified pack in one transaction; taken again, nothing is doubled.

    Raises
    ------
    NotTrustedError
        If the key is not trusted, and the choices do not say that it is.
    WaitsForAnswerError
        If a horse or saddle might be one that is here.
    InputProblemsError
        If something in it cannot be recorded here; every problem is listed, and nothing was written.
    """
    allowed = require(actor, Action.IMPORT)
    stored = _store_pictures(pack, home)
    name = uuids.UUID(pack.document.uuid)
    with deed(actor, Action.IMPORT, "take_pack", Subject.PRACTICE, name) as done:
        found = compare(actor, pack)
        refuse_untrusted(found, choices)
        refuse_undecided(found, choices)
        partner = found.known.partner
        if found.known.standing not in {KeyStanding.OWN, KeyStanding.KNOWN}:
            partner = replace_key(allowed, found.known, pack.signed_by, _sender(pack))
        elif partner is not None and partner.their_practice is None:
            Partner.objects.filter(pk=partner.pk).update(their_practice=_sender(pack))
        row = found.taken_before or _write_down(done, pack, partner)
        return Taking(done, pack, found, choices, row, stored).run()


def _sender(pack: OpenedPack) -> uuids.UUID:
    return uuids.UUID(pack.document.sender.practice)


def _store_pictures(pack: OpenedPack, home: Path) -> dict[str, Stored]:
    """Keep pictures' and films' bytes before the transaction: a file that nothing names does no harm."""
    kept: dict[str, Stored] = {}
    for photo in pack.document.photos:
        bare = bare_picture(pack.content(photo.file), photo.file)
        kept[photo.file] = (store(home, bare.content), bare.width_px, bare.height_px)
    for film in pack.document.films:
        kept[film.file] = (
            store(home, bare_film(pack.content(film.file), film.file, film.media_type)),
            None,
            None,
        )
    return kept


def _write_down(done: Deed, pack: OpenedPack, partner: Partner | None) -> TakenPack:
    document = pack.document
    return TakenPack.objects.create(
        practice_id=done.actor.practice_id,
        pack_uuid=uuids.UUID(document.uuid),
        partner=partner,
        sender_label=document.sender.label,
        sender_person=document.sender.person,
        fingerprint=pack.signed_by.fingerprint,
        sent_at=datetime.fromisoformat(document.made_at),
        taken_at=done.audit.made_at,
        taken_by_id=done.actor.user_id,
        tag_manifest_sha256=pack.tag_manifest_sha256,
        proof=pack.proof,
        answers=uuids.UUID(document.answers) if document.answers else None,
        message=document.message,
        work_done=[one.model_dump(mode="json", exclude_none=True) for one in document.work_done],
        questions=list(document.questions),
    )
