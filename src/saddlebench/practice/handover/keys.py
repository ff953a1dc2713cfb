"""The practice's own key, made at first need; and other practices' keys, trusted once they were compared."""

import uuid as uuids
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from django.db import transaction

from saddlebench.engine.errors import SaddlebenchError, Where, input_problem
from saddlebench.exchange.packs.keys import KeyPair, PublicKey, made_keys, parse_key_line
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.handover.key_files import all_keys, read_key, write_key
from saddlebench.practice.models import Partner, Practice, PracticeKey
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, SameMomentError, deed

_LONGEST_LABEL = 200


class KeyMissingError(SaddlebenchError):
    """The practice has a key, and its private half is not in this folder."""

    def __init__(self, fingerprint: str) -> None:
        self.fingerprint = fingerprint
        super().__init__(
            f"The private half of this practice's key ({fingerprint}) is not in this data folder. Bring the "
            "folder's “keys” back from a backup, or make a new key and tell everybody who knows the old one."
        )


class KeyStanding(StrEnum):
    """What a practice knows of the key that a pack is signed with."""

    OWN = "own"
    KNOWN = "known"
    NEW = "new"
    CHANGED = "changed"
    """The sender was known with another key."""
    REFUSED = "refused"
    """The key was trusted once, and is no longer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownAs:
    """A key's standing."""

    standing: KeyStanding
    label: str
    """What the sender is called here; what the pack says where it is not known."""
    partner: Partner | None = None
    before: tuple[str, ...] = ()
    """Fingerprints that the sender was known by."""


def own_key(actor: Actor | None, home: Path) -> KeyPair:
    """Return the practice's own key, made now where there is none yet.

    Raises
    ------
    KeyMissingError
        If there is one, and its private half is not here.
    """
    allowed = require(actor, Action.EXPORT)
    held = _standing_key(allowed)
    if held is None:
        try:
            return _make_key(allowed, home)
        except SameMomentError:
            held = _standing_key(allowed)
    if held is None:
        raise SameMomentError
    pair = read_key(home, held.practice.uuid, held.fingerprint)
    if pair is None:
        raise KeyMissingError(held.fingerprint)
    return pair


def keys_to_open(actor: Actor | None, home: Path) -> list[KeyPair]:
    """Return every key here that a pack may be closed to, those of before included."""
    allowed = require(actor, Action.IMPORT)
    return all_keys(home, Practice.objects.get(pk=allowed.practice_id).uuid)


def renew_key(actor: Actor | None, home: Path) -> KeyPair:
    """Make a new key in the place of the practice's own: packs are signed with it from now on."""
    allowed = require(actor, Action.MANAGE_PRACTICE)
    return _make_key(allowed, home)


def _standing_key(actor: Actor) -> PracticeKey | None:
    rows = PracticeKey.objects.filter(practice_id=actor.practice_id, ended_at=None)
    return rows.select_related("practice").first()


def _make_key(actor: Actor, home: Path) -> KeyPair:
    pair, practice = made_keys(), Practice.objects.get(pk=actor.practice_id)
    path = write_key(home, practice.uuid, pair)
    try:
        with deed(actor, Action.EXPORT, "make_key", Subject.PRACTICE, practice.uuid) as done:
            PracticeKey.objects.filter(practice=practice, ended_at=None).filter(
                pk__in=_replaced(actor)
            ).update(ended_at=done.audit.made_at)
            PracticeKey.objects.create(
                practice=practice,
                line=pair.public.line,
                fingerprint=pair.public.fingerprint,
                made_at=done.audit.made_at,
                made_by_id=actor.user_id,
            )
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return pair


def _replaced(actor: Actor) -> list[int]:
    held = _standing_key(actor)
    return [] if held is None else [held.pk]


def trust_key(
    actor: Actor | None, line: str, label: str, *, their_practice: uuids.UUID | None = None
) -> Partner:
    """Trust another practice's key, after its fingerprint was compared; an ended trust is taken up again.

    Raises
    ------
    InputProblemsError
        If the line is no key, is the practice's own, or the practice has no name.
    """
    allowed = require(actor, Action.IMPORT)
    key, name = parse_key_line(line), label.strip()
    if not 1 <= len(name) <= _LONGEST_LABEL:
        cure = f"Say whose key it is, in 1 to {_LONGEST_LABEL} characters."
        raise input_problem("a key needs a name", cure, Where(field="Name"))
    if PracticeKey.objects.filter(practice_id=allowed.practice_id, line=key.line).exists():
        cure = "Take the line that the other practice sent."
        raise input_problem("this is your own key", cure, Where(field="Key line"))
    there = Partner.objects.filter(practice_id=allowed.practice_id, line=key.line).first()
    uuid = there.uuid if there else uuids.uuid4()
    with deed(actor, Action.IMPORT, "trust_key", Subject.PRACTICE, uuid) as done:
        facts = {
            "label": name,
            "trusted_at": done.audit.made_at,
            "trusted_by_id": allowed.user_id,
            "ended_at": None,
        }
        if there is None:
            return Partner.objects.create(
                uuid=uuid,
                practice_id=allowed.practice_id,
                line=key.line,
                fingerprint=key.fingerprint,
                their_practice=their_practice,
                **facts,
            )
        Partner.objects.filter(pk=there.pk).update(
            **facts, their_practice=their_practice or there.their_practice
        )
    there.refresh_from_db()
    return there


def end_trust(actor: Actor | None, uuid: uuids.UUID) -> None:
    """Trust a key no longer: packs signed with it are refused, and none is closed to it.

    Raises
    ------
    NotFoundError
        If the practice knows no such key.
    """
    allowed = require(actor, Action.IMPORT)
    rows = Partner.objects.filter(practice_id=allowed.practice_id, uuid=uuid)
    if not rows.exists():
        raise NotFoundError("key", uuid)
    with deed(actor, Action.IMPORT, "end_trust", Subject.PRACTICE, uuid) as done:
        rows.filter(ended_at=None).update(ended_at=done.audit.made_at)


def known_as(actor: Actor, key: PublicKey, label: str, their_practice: uuids.UUID) -> KnownAs:
    """Return what the practice knows of a key, and of the sender that it speaks for."""
    if PracticeKey.objects.filter(practice_id=actor.practice_id, line=key.line).exists():
        return KnownAs(standing=KeyStanding.OWN, label=label)
    partners = list(Partner.objects.filter(practice_id=actor.practice_id))
    found = next((one for one in partners if one.line == key.line), None)
    if found is not None:
        standing = KeyStanding.KNOWN if found.ended_at is None else KeyStanding.REFUSED
        return KnownAs(standing=standing, label=found.label, partner=found)
    name = " ".join(label.split()).casefold()
    same = [
        one
        for one in partners
        if one.their_practice == their_practice or " ".join(one.label.split()).casefold() == name
    ]
    if same:
        before = tuple(one.fingerprint for one in same)
        return KnownAs(standing=KeyStanding.CHANGED, label=label, before=before)
    return KnownAs(standing=KeyStanding.NEW, label=label)


def replace_key(actor: Actor, known: KnownAs, key: PublicKey, their_practice: uuids.UUID) -> Partner:
    """Trust the key of a pack's sender, and no longer the keys that the same sender was known by."""
    with transaction.atomic():
        if known.standing is KeyStanding.CHANGED:
            for one in Partner.objects.filter(
                practice_id=actor.practice_id, fingerprint__in=known.before, ended_at=None
            ):
                end_trust(actor, one.uuid)
        return trust_key(actor, key.line, known.label, their_practice=their_practice)
