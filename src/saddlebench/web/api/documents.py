"""Record documents coming in: read at the door, kept byte for byte, never written over."""

import uuid as uuids
from collections.abc import Callable
from typing import Any

from ninja import Status

from saddlebench.engine.errors import input_problem
from saddlebench.practice import queries
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import Recorded
from saddlebench.web.api.shapes import VersionShape
from saddlebench.web.base.interface import ConflictError

WRITTEN = "It is kept byte for byte. The same document sent again is answered with the version that it is."


def read_document(content: bytes, subject: Subject) -> Document:
    """Return a record document that is one: its numbers make a back or a saddle.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    # The records' readers load the engine: seconds that only this act should cost.
    from saddlebench.exchange.records import BackDocument, SaddleDocument, parse_document  # noqa: PLC0415

    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        raise input_problem("the document is no UTF-8 text", "Write it again as saddlebench does.") from None
    if subject is Subject.BACK:
        parse_document(BackDocument, text, "document").record()
    else:
        parse_document(SaddleDocument, text, "document").record()
    return Document(text=text)


def same_version(actor: Actor, subject: Subject, uuid: uuids.UUID, document: Document) -> VersionShape | None:
    """Return the version of a record that a document already is; None where it is a new one."""
    rows = queries.versions_of(actor, subject, uuid)
    found = next((row for row in rows if row.sha256 == document.sha256), None)
    return None if found is None else VersionShape.model_validate(found)


def recorded(
    actor: Actor,
    subject: Subject,
    uuid: uuids.UUID,
    document: Document,
    record: Callable[[], Recorded[Any]],
) -> Status[Any]:
    """Record a further version unless it is there already.

    Raises
    ------
    ConflictError
        If another version came since the one that was seen: this one is kept beside it, not current.
    """
    there = same_version(actor, subject, uuid, document)
    if there is not None:
        return Status(200, there)
    done = record()
    rows = {row.number: row for row in queries.versions_of(actor, subject, uuid)}
    mine = VersionShape.model_validate(rows[done.version.number])
    if done.is_current:
        return Status(201, mine)
    said = (
        f"Somebody else recorded version {done.current.number} meanwhile. Yours is kept as version "
        f"{mine.number} and is not current: choose between them."
    )
    theirs = VersionShape.model_validate(rows[done.current.number])
    raise ConflictError(
        said, {"mine": mine.model_dump(mode="json"), "theirs": theirs.model_dump(mode="json")}
    )


def refuse_another(actor: Actor, subject: Subject, uuid: uuids.UUID, document: Document) -> VersionShape:
    """Return the version that a record's document already is, where the record is there.

    Raises
    ------
    ConflictError
        If the record holds other documents: its uuid was given to something else.
    """
    there = same_version(actor, subject, uuid, document)
    if there is not None:
        return there
    rows = queries.versions_of(actor, subject, uuid)
    said = "There is a record with this uuid already, and it is another one. Nothing was recorded."
    theirs = [VersionShape.model_validate(row).model_dump(mode="json") for row in rows[:1]]
    raise ConflictError(said, {"mine": {"sha256": document.sha256}, "theirs": theirs[0] if theirs else None})
