"""What taking a pack would change, worked out before anything is written."""

import uuid as uuids
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q

from saddlebench.engine.errors import Problem
from saddlebench.exchange.packs.document import HorsePart, PackDocument, SaddlePart
from saddlebench.exchange.packs.opening import OpenedPack
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.handover.comparing_work import work_items
from saddlebench.practice.handover.items import Candidate, Differing, Fate, Here, Item
from saddlebench.practice.handover.keys import KnownAs, known_as
from saddlebench.practice.models import (
    Back,
    BackVersion,
    Horse,
    Saddle,
    SaddleVersion,
    SentPack,
    Study,
    StudyVersion,
    TakenPack,
)
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.rules import Actor, require

HORSE_FACTS = (
    *("label", "registered_name", "microchip", "ueln", "born_in", "breed_type", "breed", "colour"),
    *("height_cm", "work", "discipline", "rider_mass_kg"),
)
SADDLE_FACTS = ("label", "family", "maker", "serial", "seat_size_in", "colour", "made_in")
_VERSIONED: dict[Subject, type[Back] | type[Saddle] | type[Study]] = {
    Subject.BACK: Back,
    Subject.SADDLE: Saddle,
    Subject.STUDY: Study,
}
_VERSIONS: dict[Subject, tuple[type[BackVersion] | type[SaddleVersion] | type[StudyVersion], str]] = {
    Subject.BACK: (BackVersion, "back"),
    Subject.SADDLE: (SaddleVersion, "saddle"),
    Subject.STUDY: (StudyVersion, "study"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A verified pack, set beside what is here."""

    document: PackDocument
    known: KnownAs
    fingerprint: str
    tag_manifest_sha256: str
    items: tuple[Item, ...]
    taken_before: TakenPack | None
    answers: SentPack | None
    """The pack of one's own that it answers."""
    was_sealed: bool
    upgraded_from: int | None
    remarks: tuple[Problem, ...]

    def of(self, subject: Subject) -> tuple[Item, ...]:
        """Return the records of a kind."""
        return tuple(one for one in self.items if one.subject is subject)


def compare(actor: Actor | None, pack: OpenedPack) -> Comparison:
    """Return what taking a verified pack would change; nothing is written."""
    allowed = require(actor, Action.IMPORT)
    document = pack.document
    here = Here(allowed)
    here.load(document)
    items = (
        *_horses(here, document),
        *_saddles(here, document),
        *_documents(here, document),
        *work_items(here, document),
    )
    mine = allowed.practice_id
    before = TakenPack.objects.filter(practice_id=mine, tag_manifest_sha256=pack.tag_manifest_sha256).first()
    answered = SentPack.objects.filter(practice_id=mine, uuid=document.answers) if document.answers else None
    return Comparison(
        document=document,
        known=known_as(allowed, pack.signed_by, document.sender.label, uuids.UUID(document.sender.practice)),
        fingerprint=pack.signed_by.fingerprint,
        tag_manifest_sha256=pack.tag_manifest_sha256,
        items=items,
        taken_before=before,
        answers=answered.first() if answered is not None else None,
        was_sealed=pack.was_sealed,
        upgraded_from=pack.upgraded_from,
        remarks=pack.remarks,
    )


def _differing(
    row: Withdrawable, part: HorsePart | SaddlePart, names: Iterable[str]
) -> tuple[Differing, ...]:
    found = []
    for name in names:
        mine, theirs = getattr(row, name), getattr(part, name)
        if theirs not in ("", None) and mine != theirs:
            found.append(Differing(name=name, mine=mine, theirs=theirs))
    return tuple(found)


def _same_one(
    subject: Subject,
    part: HorsePart | SaddlePart,
    row: Withdrawable,
    facts: Iterable[str],
    fate: Fate = Fate.SAME_ONE,
) -> Item:
    return Item(
        subject=subject,
        origin=uuids.UUID(part.uuid),
        sha256="",
        label=part.label,
        fate=Fate.WITHDRAWN if row.withdrawn_at else fate,
        local=row.uuid,
        differing=_differing(row, part, facts),
    )


def _horses(here: Here, document: PackDocument) -> list[Item]:
    known = here.find(Horse, Subject.HORSE, (one.uuid for one in document.horses))
    rows = list(
        Horse.objects.filter(practice_id=here.actor.practice_id, withdrawn_at=None).filter(
            Q(microchip__in=_given(document.horses, "microchip"))
            | Q(ueln__in=_given(document.horses, "ueln"))
            | Q(label__in=_given(document.horses, "label"))
        )
    )
    chips = {one.microchip: one for one in rows if one.microchip}
    lives = {one.ueln: one for one in rows if one.ueln}
    items = []
    for part in document.horses:
        row = known.get(part.uuid) or chips.get(part.microchip) or lives.get(part.ueln)
        if row is not None:
            items.append(_same_one(Subject.HORSE, part, row, HORSE_FACTS))
            continue
        items.append(_maybe(Subject.HORSE, part, [one for one in rows if one.label == part.label]))
    return items


def _given(parts: Iterable[HorsePart], name: str) -> list[str]:
    return [getattr(one, name) for one in parts if getattr(one, name)]


def _maybe(subject: Subject, part: HorsePart | SaddlePart, like: Iterable[Withdrawable]) -> Item:
    candidates = tuple(Candidate(uuid=one.uuid, label=one.label) for one in like)
    return Item(
        subject=subject,
        origin=uuids.UUID(part.uuid),
        sha256="",
        label=part.label,
        fate=Fate.LIKE if candidates else Fate.NEW,
        candidates=candidates,
    )


def _saddles(here: Here, document: PackDocument) -> list[Item]:
    known = here.find(Saddle, Subject.SADDLE, (one.uuid for one in document.saddles))
    rows = Saddle.objects.of(here.actor.practice_id).standing()
    like = list(rows.filter(label__in=[one.label for one in document.saddles]))
    items = []
    for part in document.saddles:
        row = known.get(part.uuid)
        if row is not None:
            items.append(_same_one(Subject.SADDLE, part, row, SADDLE_FACTS))
            continue
        items.append(_maybe(Subject.SADDLE, part, [one for one in like if one.label == part.label]))
    return items


def _documents(here: Here, document: PackDocument) -> list[Item]:
    saddles = {one.uuid: one.label for one in document.saddles}
    told = {
        Subject.BACK: [(one.uuid, one.version, one.label) for one in document.backs],
        Subject.SADDLE: [(one.saddle, one.version, saddles[one.saddle]) for one in document.saddle_records],
        Subject.STUDY: [(one.uuid, one.version, one.label) for one in document.studies],
    }
    items = []
    for subject, parts in told.items():
        model, owner = _VERSIONS[subject]
        known = here.find(_VERSIONED[subject], subject, (name for name, _, _ in parts))
        rows = model.objects.filter(**{f"{owner}_id__in": [row.pk for row in known.values()]})
        held = set(rows.values_list(f"{owner}_id", "sha256"))
        measured = {owner_id for owner_id, _ in held}
        for name, version, label in parts:
            row = known.get(name)
            items.append(
                Item(
                    subject=subject,
                    origin=uuids.UUID(name),
                    sha256=version.sha256,
                    label=label[:200],
                    fate=_fate_of_version(row, version.sha256, held, measured),
                    local=row.uuid if row else None,
                )
            )
    return items


def _fate_of_version(
    row: Withdrawable | None, sha256: str, held: set[tuple[int, str]], measured: set[int]
) -> Fate:
    if row is None or (row.pk not in measured and not row.withdrawn_at):
        return Fate.NEW
    if row.withdrawn_at:
        return Fate.WITHDRAWN
    return Fate.HERE if (row.pk, sha256) in held else Fate.DIFFERS
