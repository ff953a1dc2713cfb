"""Keeping what somebody typed of a saddle's measures, to be taken up on another device."""

import uuid as uuids
from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from saddlebench.engine.errors import input_problem
from saddlebench.practice.enums import Action
from saddlebench.practice.models import Saddle, SaddleDraft
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own

_LONGEST = 20_000
_MOST_FIELDS = 200


def enter_in_saddle_draft(
    actor: Actor | None, saddle_uuid: uuids.UUID, family: str, changed: Mapping[str, str], *, seen: int
) -> SaddleDraft:
    """Keep some fields of the actor's draft of a saddle, and leave the others as they stand.

    Parameters
    ----------
    family : str
        As a saddle file calls it; a draft of another family is begun anew.
    changed : mapping
        What stands in each field now, as typed; empty takes it back.
    seen : int
        The number of the version that a new draft begins from.

    Raises
    ------
    InputProblemsError
        If it becomes more than a form can hold.
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.RECORD_SADDLE)
    with transaction.atomic():
        # The saddle is held, so that two fields sent at one moment do not lose each other.
        saddle = own(Saddle, allowed, saddle_uuid, locked=True)
        mine = SaddleDraft.objects.filter(saddle=saddle, made_by_id=allowed.user_id).first()
        goes_on = mine is not None and mine.family == family
        texts = {**(mine.texts if mine and goes_on else {}), **changed}
        kept = {name: text for name, text in texts.items() if text.strip()}
        begun = mine.seen if mine and goes_on else seen
        return keep_saddle_draft(actor, saddle_uuid, family, kept, seen=begun)


def keep_saddle_draft(
    actor: Actor | None, saddle_uuid: uuids.UUID, family: str, texts: Mapping[str, str], *, seen: int
) -> SaddleDraft:
    """Keep the actor's unrecorded numbers of a saddle; nobody else's are touched.

    Parameters
    ----------
    texts : mapping
        What stands in each field, as typed.
    seen : int
        The number of the version that the form began from.

    Raises
    ------
    InputProblemsError
        If it is more than a form can hold.
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.RECORD_SADDLE)
    if len(texts) > _MOST_FIELDS or sum(len(text) for text in texts.values()) > _LONGEST:
        raise input_problem("these are more words than a form of numbers holds", "Shorten the notes.")
    saddle = own(Saddle, allowed, saddle_uuid)
    with transaction.atomic():
        draft, _ = SaddleDraft.objects.update_or_create(
            saddle=saddle,
            made_by_id=allowed.user_id,
            defaults={
                "practice_id": allowed.practice_id,
                "saved_at": timezone.now(),
                "family": family[:24],
                "seen": seen,
                "texts": dict(texts),
            },
        )
    return draft


def leave_saddle_draft(actor: Actor | None, saddle_uuid: uuids.UUID) -> None:
    """Let the actor's unrecorded numbers of a saddle go: they were recorded, or are not wanted.

    Raises
    ------
    NotFoundError
        If the practice has no such saddle.
    """
    allowed = require(actor, Action.RECORD_SADDLE)
    saddle = own(Saddle, allowed, saddle_uuid)
    SaddleDraft.objects.filter(saddle=saddle, made_by_id=allowed.user_id).delete()
