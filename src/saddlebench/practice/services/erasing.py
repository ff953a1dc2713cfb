"""Erasing a person for data protection: one complete act, apart from withdrawing, with a receipt."""

import hashlib
import uuid as uuids
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from django.db import connection

from saddlebench.engine.errors import input_problem
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.keeping.backup import backups_in
from saddlebench.practice.keeping.files import erase
from saddlebench.practice.keeping.made import erase_made
from saddlebench.practice.keeping.scans import erase_scan, erase_scan_work
from saddlebench.practice.models import (
    Client,
    ErasureReceipt,
    OpenErasure,
    Photo,
)
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import Deed, deed, own
from saddlebench.practice.services.erased_records import Erasing
from saddlebench.practice.services.scans import has_scan_file


@dataclass(frozen=True, slots=True, kw_only=True)
class Erasure:
    """What was erased, and where the person still is until rotation reaches it."""

    receipt: ErasureReceipt
    words: str
    """The receipt as text, to be kept or sent; it says nothing about the person."""
    older_backups: tuple[Path, ...]
    """Backups made before, which still hold the person."""


def erase_person(
    actor: Actor | None,
    client_uuid: uuids.UUID,
    home: Path,
    *,
    new_owners: Mapping[uuids.UUID, uuids.UUID] | None = None,
) -> Erasure:
    """Erase a client with their horses, visits, records and photos; sold horses go to their new owner.

    Parameters
    ----------
    client_uuid : uuid
        The client; may be withdrawn already.
    home : Path
        The data folder, whose photo files are erased with them.
    new_owners : mapping, optional
        Horse to the client who owns it now. These horses stay, without a word about the person erased.

    Raises
    ------
    InputProblemsError
        If a new owner is the person to be erased.
    """
    allowed = require(actor, Action.ERASE)
    owners = dict(new_owners or {})
    if client_uuid in owners.values():
        raise input_problem("a horse cannot go to the person who is erased", "Choose its new owner.")
    with deed(actor, Action.ERASE, "erase_person", Subject.CLIENT, client_uuid) as done:
        client = own(Client, allowed, client_uuid, locked=True, withdrawn=True)
        erasing = Erasing(done, client)
        permit = OpenErasure.objects.create(opened_at=done.audit.made_at)
        erasing.run(owners)
        permit.delete()
        receipt, words = _write_receipt(done, client_uuid, erasing.counts)
    _erase_files(home, erasing.files)
    _erase_scans(home, erasing.scans, erasing.scan_files)
    erase_made(home, allowed.practice_id)
    _overwrite_freed_pages()
    older = tuple(backup.path for backup in backups_in(home) if backup.made_at <= receipt.made_at)
    return Erasure(receipt=receipt, words=words, older_backups=older)


def _write_receipt(done: Deed, client_uuid: uuids.UUID, counts: Counter[str]) -> tuple[ErasureReceipt, str]:
    plain = {name: n for name, n in sorted(counts.items()) if n}
    lines = [
        "Receipt: a person was erased from the records.",
        f"When: {done.audit.made_at.isoformat()}",
        f"Record: {client_uuid}",
        *(f"{name}: {n}" for name, n in plain.items()),
        "Backups made before this moment still hold the person until they are taken out.",
    ]
    words = "\n".join(lines) + "\n"
    receipt = ErasureReceipt.objects.create(
        practice_id=done.actor.practice_id,
        made_at=done.audit.made_at,
        made_by_id=done.actor.user_id,
        subject_uuid=client_uuid,
        counts=plain,
        sha256=hashlib.sha256(words.encode()).hexdigest(),
    )
    return receipt, words


def _erase_files(home: Path, files: set[tuple[str, str]]) -> None:
    """Erase files that no photo shows any more."""
    for sha256, media_type in files:
        if not Photo.objects.filter(sha256=sha256).exists():
            erase(home, sha256, media_type)


def _erase_scans(home: Path, scans: set[uuids.UUID], files: set[tuple[str, str]]) -> None:
    """Erase what was worked out from scans, and files that no other scan has."""
    for uuid in scans:
        erase_scan_work(home, uuid)
    for sha256, suffix in files:
        if not has_scan_file(sha256, suffix):
            erase_scan(home, sha256, suffix)


def _overwrite_freed_pages() -> None:
    """Empty the write-ahead log: erased words must not lie in it until it happens to be reused."""
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
