"""Taking change studies and shortlists from a pack: as they were found there, of what is here."""

import uuid as uuids
from collections.abc import Mapping, Sequence
from typing import Any

from saddlebench.exchange.packs.document import ChangePart, ShortlistPart
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action, ChoiceKind, ComparisonKind, Subject
from saddlebench.practice.handover.found_parts import renamed
from saddlebench.practice.models import BackVersion, Comparison, Horse
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed, own
from saddlebench.practice.services.measured_backs import hash_of
from saddlebench.practice.services.plans import record_choice


def take_change(
    actor: Actor,
    part: ChangePart,
    document: Document,
    horse: uuids.UUID,
    versions: Sequence[uuids.UUID],
    sender: str,
) -> uuids.UUID:
    """Take a change study on, as it was found there, of the versions of backs that are here.

    Parameters
    ----------
    horse : the one here
    versions : those here, in the order of the study
    sender : who found it
    """
    from saddlebench.exchange.change_words import headline  # noqa: PLC0415
    from saddlebench.exchange.records import ChangeDocument, parse_document  # noqa: PLC0415

    allowed, uuid = require(actor, Action.IMPORT), uuids.uuid4()
    held = parse_document(ChangeDocument, document.text, "change study")
    study = held.study()
    rows = {one.uuid: one for one in BackVersion.objects.filter(uuid__in=versions).select_related("back")}
    made: dict[str, Any] = {
        "backs": [_used(rows[one]) for one in versions],
        "figures": [None for _ in versions],
        "engine": held.engine_version,
        "from": {"sender": sender, "uuid": part.uuid, "sha256": document.sha256},
    }
    with deed(actor, Action.IMPORT, "take_change", Subject.COMPARISON, uuid) as done:
        return Comparison.objects.create(
            uuid=uuid,
            practice_id=allowed.practice_id,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
            horse=own(Horse, allowed, horse),
            kind=ComparisonKind.CHANGE.value,
            label=f"{sender}: {part.label}"[:200],
            asked=hash_of(made),
            made_of=made,
            told={"headline": headline(study), "names": sorted({one.label for one in study.visits})},
            schema_id="saddlebench change study 1",
            document=document.text,
            sha256=document.sha256,
            engine_version=held.engine_version[:40],
        ).uuid


def _used(version: BackVersion) -> dict[str, Any]:
    back = version.back
    return {
        "version": str(version.uuid),
        "back": str(back.uuid),
        "number": version.number,
        "sha256": version.sha256,
        "label": back.label,
        "day": back.measured_on.isoformat(),
    }


def take_shortlist(
    actor: Actor,
    part: ShortlistPart,
    document: Document,
    horse: uuids.UUID,
    saddles: Mapping[str, str],
    sender: str,
) -> uuids.UUID:
    """Take a shortlist on as it came out there; saddles of it that are here are called as here.

    Parameters
    ----------
    horse : the one here
    saddles : uuids here, by the pack's names
    sender : who made it
    """
    from saddlebench.exchange.records import parse_document  # noqa: PLC0415
    from saddlebench.exchange.records.shortlist import ShortlistDocument  # noqa: PLC0415

    held = parse_document(ShortlistDocument, document.text, "shortlist")
    return record_choice(
        actor,
        ChoiceKind.SHORTLIST,
        renamed(held.told(), saddles),
        label=f"{sender}: {part.label}"[:200],
        asked={"from": sender},
        horse_uuid=horse,
    ).uuid
