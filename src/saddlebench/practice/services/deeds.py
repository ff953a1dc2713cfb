"""What every service shares: permission, one transaction, one audit row; and finding one's own records."""

import uuid as uuids
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TypeVar, cast

from django.db import IntegrityError, transaction
from django.utils import timezone

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import AuditRow
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.rules import Actor, require

_Row = TypeVar("_Row", bound=Withdrawable)


class SameMomentError(SaddlebenchError):
    """Somebody else wrote something at the same moment that this cannot stand beside."""

    def __init__(self) -> None:
        super().__init__("Somebody else changed this at the same moment. Nothing was saved: try again.")


class NotFoundError(SaddlebenchError):
    """There is no such record in this practice; whether another practice has it is nobody's business here."""

    def __init__(self, what: str, uuid: object) -> None:
        self.what = what
        self.uuid = uuid
        super().__init__(
            f"There is no {what} {uuid} here. It may have been withdrawn, or the address is wrong."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """A service being carried out: who, since when, and its audit row."""

    actor: Actor
    audit: AuditRow


@contextmanager
def deed(
    actor: Actor | None, action: Action, name: str, subject: Subject, subject_uuid: uuids.UUID
) -> Iterator[Deed]:
    """Open one transaction with one audit row, for an actor who may; all of it happens or nothing.

    Raises
    ------
    NotAllowedError
        If the actor may not.
    SameMomentError
        If the database refuses what another person's act made impossible meanwhile.
    """
    allowed = require(actor, action)
    try:
        with transaction.atomic():
            audit = AuditRow.objects.create(
                practice_id=allowed.practice_id,
                made_at=timezone.now(),
                made_by_id=allowed.user_id,
                action=action.value,
                deed=name,
                subject=subject.value,
                subject_uuid=subject_uuid,
            )
            yield Deed(actor=allowed, audit=audit)
    except IntegrityError as error:
        raise SameMomentError from error


def own(
    model: type[_Row], actor: Actor, uuid: uuids.UUID, *, locked: bool = False, withdrawn: bool = False
) -> _Row:
    """Return a record of the actor's practice; `locked` holds it until the transaction ends.

    Raises
    ------
    NotFoundError
        If the practice has none with this uuid, or it is withdrawn and `withdrawn` ones are not wanted.
    """
    rows = model._default_manager.filter(practice_id=actor.practice_id, uuid=uuid)  # noqa: SLF001
    if not withdrawn:
        rows = rows.filter(withdrawn_at=None)
    row = (rows.select_for_update(of=("self",)) if locked else rows).first()
    if row is None:
        raise NotFoundError(model.__name__.lower(), uuid)
    return cast("_Row", row)
