"""Versions of a record, what differed between them, and which versions a fit check used."""

import json
import uuid as uuids
from dataclasses import dataclass
from datetime import datetime

from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Back, BackVersion, Saddle, SaddleVersion, Study, StudyVersion
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, own

_MOST_DIFFERENCES = 500
_ABSENT = object()


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionRow:
    """One version of a record."""

    uuid: uuids.UUID
    number: int
    is_current: bool
    made_at: datetime
    made_by: str
    why: str
    schema_id: str
    sha256: str
    engine_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A place in a document where two versions differ; None where one has nothing there."""

    place: str
    before: Value
    after: Value


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyUse:
    """What one run of a fit check was made of: enough to run it again, with the same result."""

    number: int
    engine_version: str
    sha256: str
    back_label: str
    back_version: uuids.UUID
    back_number: int
    back_sha256: str
    saddle_label: str
    saddle_version: uuids.UUID
    saddle_number: int
    saddle_sha256: str
    is_on_current: bool
    """Whether both versions are still the current ones."""


_KINDS: dict[Subject, tuple[type[Back] | type[Saddle] | type[Study], Action]] = {
    Subject.BACK: (Back, Action.SEE_HORSES),
    Subject.SADDLE: (Saddle, Action.SEE_SADDLES),
    Subject.STUDY: (Study, Action.SEE_HORSES),
}


def versions_of(actor: Actor | None, subject: Subject, uuid: uuids.UUID) -> tuple[VersionRow, ...]:
    """Return all versions of a back, a saddle or a fit check, newest first.

    Raises
    ------
    NotFoundError
        If the practice has no such record.
    """
    model, action = _KINDS[subject]
    record = own(model, require(actor, action), uuid)
    rows = record.versions.select_related("made_by").defer("document").order_by("-number")
    return tuple(_row(row, record.current_id) for row in rows)


def _row(row: BackVersion | SaddleVersion | StudyVersion, current_id: int | None) -> VersionRow:
    return VersionRow(
        uuid=row.uuid,
        number=row.number,
        is_current=row.pk == current_id,
        made_at=row.made_at,
        made_by=row.made_by.label,
        why=row.why,
        schema_id=row.schema_id,
        sha256=row.sha256,
        engine_version=row.engine_version,
    )


def document_of(actor: Actor | None, subject: Subject, uuid: uuids.UUID, number: int) -> str:
    """Return the document of one version, byte for byte as it was recorded.

    Raises
    ------
    NotFoundError
        If there is no such version.
    """
    model, action = _KINDS[subject]
    version = own(model, require(actor, action), uuid).versions.filter(number=number).first()
    if version is None:
        raise NotFoundError("version", number)
    return str(version.document)


def differences(
    actor: Actor | None, subject: Subject, uuid: uuids.UUID, before: int, after: int
) -> tuple[Difference, ...]:
    """Return where two versions of a record differ, at most the first 500 places.

    Raises
    ------
    NotFoundError
        If there is no such version.
    """
    old = json.loads(document_of(actor, subject, uuid, before))
    new = json.loads(document_of(actor, subject, uuid, after))
    found: list[Difference] = []
    _compare(old, new, "", found)
    return tuple(found[:_MOST_DIFFERENCES])


def _compare(old: object, new: object, place: str, found: list[Difference]) -> None:
    if len(found) >= _MOST_DIFFERENCES or old == new:
        return
    if old is _ABSENT and isinstance(new, dict | list):
        old = type(new)()
    elif new is _ABSENT and isinstance(old, dict | list):
        new = type(old)()
    if isinstance(old, dict) and isinstance(new, dict):
        for name in dict.fromkeys([*old, *new]):
            _compare(old.get(name, _ABSENT), new.get(name, _ABSENT), f"{place}/{name}", found)
    elif isinstance(old, list) and isinstance(new, list):
        for i in range(max(len(old), len(new))):
            left = old[i] if i < len(old) else _ABSENT
            right = new[i] if i < len(new) else _ABSENT
            _compare(left, right, f"{place}/{i + 1}", found)
    else:
        found.append(Difference(place=place, before=_plain(old), after=_plain(new)))


def _plain(value: object) -> Value:
    return None if value is _ABSENT else value  # type: ignore[return-value]


def study_use(actor: Actor | None, uuid: uuids.UUID) -> tuple[StudyUse, ...]:
    """Return what each run of a fit check was made of, newest first.

    Raises
    ------
    NotFoundError
        If the practice has no such fit check.
    """
    study = own(Study, require(actor, Action.SEE_HORSES), uuid)
    rows = study.versions.select_related("back_version__back", "saddle_version__saddle").order_by("-number")
    heavy = ("document", "back_version__document", "saddle_version__document")
    return tuple(
        StudyUse(
            number=run.number,
            engine_version=run.engine_version,
            sha256=run.sha256,
            back_label=run.back_version.back.label,
            back_version=run.back_version.uuid,
            back_number=run.back_version.number,
            back_sha256=run.back_version.sha256,
            saddle_label=run.saddle_version.saddle.label,
            saddle_version=run.saddle_version.uuid,
            saddle_number=run.saddle_version.number,
            saddle_sha256=run.saddle_version.sha256,
            is_on_current=run.back_version_id == run.back_version.back.current_id
            and run.saddle_version_id == run.saddle_version.saddle.current_id,
        )
        for run in rows.defer(*heavy)
    )
