"""Leaving is easy: one archive with everything a practice has, in formats that need no program of ours."""

import json
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time
from pathlib import Path
from typing import Any
from uuid import UUID

from django.db import models
from django.utils import timezone

from saddlebench import __version__
from saddlebench.practice.catalogue import Value
from saddlebench.practice.crossing.cards import card_of
from saddlebench.practice.crossing.lists import practice_uuid
from saddlebench.practice.crossing.tables import write_table
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.keeping import archive
from saddlebench.practice.keeping.files import stored_path
from saddlebench.practice.keeping.scans import scan_path
from saddlebench.practice.models import (
    Advice,
    Answer,
    AuditRow,
    Back,
    BackNumbers,
    BackVersion,
    Capture,
    Choice,
    Client,
    Comparison,
    Entry,
    ErasureReceipt,
    Horse,
    Instrument,
    Job,
    Membership,
    Opinion,
    OrderState,
    OwnLimit,
    PackLink,
    Partner,
    Photo,
    Plan,
    Practice,
    PracticeKey,
    Rebuild,
    RebuildCheck,
    Recheck,
    Saddle,
    SaddleDraft,
    SaddleScan,
    SaddleVersion,
    Scan,
    ScanFile,
    SentPack,
    StockState,
    Study,
    StudyVersion,
    TakenPack,
    TakenRecord,
    Token,
    User,
    Visit,
    VisitSaddle,
    WorkOrder,
    Yard,
)
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed

FORMAT = "saddlebench-archive"
_HIDDEN = {"id", "password", "digest", "last_login", "document", "found_by", "found_by_people"}

# Where the practice stands, seen from each table.
TABLES: tuple[tuple[type[models.Model], str], ...] = (
    (Practice, "pk"),
    (User, "memberships__practice"),
    (Membership, "practice"),
    (Client, "practice"),
    (Yard, "practice"),
    (Horse, "practice"),
    (Saddle, "practice"),
    (Visit, "practice"),
    (VisitSaddle, "visit__practice"),
    (Answer, "visit__practice"),
    (Advice, "visit__practice"),
    (Photo, "practice"),
    (Recheck, "practice"),
    (Instrument, "practice"),
    (Capture, "practice"),
    (Scan, "practice"),
    (ScanFile, "scan__practice"),
    (SaddleScan, "saddle__practice"),
    (Back, "practice"),
    (BackVersion, "back__practice"),
    (SaddleVersion, "saddle__practice"),
    (Study, "practice"),
    (StudyVersion, "study__practice"),
    (BackNumbers, "horse__practice"),
    (Comparison, "practice"),
    (Rebuild, "practice"),
    (RebuildCheck, "practice"),
    (Opinion, "practice"),
    (OwnLimit, "practice"),
    (SaddleDraft, "practice"),
    (StockState, "saddle__practice"),
    (Plan, "practice"),
    (WorkOrder, "practice"),
    (OrderState, "order__practice"),
    (Choice, "practice"),
    (Token, "practice"),
    (Job, "practice"),
    (PracticeKey, "practice"),
    (Partner, "practice"),
    (SentPack, "practice"),
    (TakenPack, "practice"),
    (TakenRecord, "practice"),
    (PackLink, "practice"),
    (Entry, "practice"),
    (AuditRow, "practice"),
    (ErasureReceipt, "practice"),
)
_VERSIONS: tuple[tuple[type[Any], str, str], ...] = (
    (BackVersion, "back", "backs"),
    (SaddleVersion, "saddle", "saddles"),
    (StudyVersion, "study", "fit-checks"),
)

_READ_ME = """\
Everything that this practice kept in saddlebench {version}, taken out on {day}.

tables/*.csv     one table per kind of record, to be opened in any spreadsheet
json/*.json      the same with nothing left out, one list per kind of record
backs/           each version of each back record as it was recorded (JSON)
saddles/         the same of saddles
fit-checks/      the same of fit checks
comparisons/     what was worked out from several records: changes, hands checked, saddles then and now (JSON)
plans/           alteration plans (JSON)
orders/          each state of each work order (JSON)
choices/         shortlists, horses for a saddle, seasons (JSON)
scans/           scans as they came; tables/scanfile.csv and saddlescan.csv say what each was called
photos/          pictures and films; tables/photo.csv says what each is
people.vcf       people as vCards
manifest.json    every file's length and SHA-256

Records refer to one another by uuid. Times are UTC; the date of a visit is the day where the horse stood.
"""


def leave(actor: Actor | None, path: Path, home: Path) -> archive.Manifest:
    """Write everything the actor's practice has, withdrawn records included, and return the list of files.

    Raises
    ------
    InputProblemsError
        If what was written does not read back as it should; then there is no archive.
    """
    allowed = require(actor, Action.KEEP)
    now = timezone.now()
    facts = {"format": FORMAT, "format_version": 1, "made_at": now, "program_version": __version__}
    with (
        deed(actor, Action.KEEP, "leave", Subject.PRACTICE, practice_uuid(allowed)),
        archive.written(path, facts) as writer,
    ):
        writer.add_bytes("READ-ME.txt", _READ_ME.format(version=__version__, day=now.date()).encode())
        for model, where in TABLES:
            rows = [_plain_row(row) for row in _rows(model, where, allowed.practice_id)]
            name = model.__name__.lower()
            columns = [column for column, _ in _columns(model)]
            writer.add_bytes(f"json/{name}.json", _as_json(rows))
            writer.add_bytes(f"tables/{name}.csv", write_table(columns, map(_flat, rows)).encode("utf-8-sig"))
        for model, owner, folder in _VERSIONS:
            for version in _rows(model, f"{owner}__practice", allowed.practice_id):
                name = f"{folder}/{getattr(version, owner).uuid}/{version.number}.json"
                writer.add_bytes(name, version.document.encode("utf-8"))
        for one in _rows(Comparison, "practice", allowed.practice_id):
            writer.add_bytes(f"comparisons/{one.kind}/{one.uuid}.json", one.document.encode("utf-8"))
        for plan in _rows(Plan, "practice", allowed.practice_id):
            writer.add_bytes(f"plans/{plan.uuid}.json", plan.document.encode("utf-8"))
        for state in _rows(OrderState, "order__practice", allowed.practice_id):
            name = f"orders/{state.order.uuid}/{state.number}.json"
            writer.add_bytes(name, state.document.encode("utf-8"))
        for choice in _rows(Choice, "practice", allowed.practice_id):
            writer.add_bytes(f"choices/{choice.uuid}.json", choice.document.encode("utf-8"))
        clients = Client.objects.of(allowed.practice_id).order_by("label", "id")
        writer.add_bytes("people.vcf", "".join(map(card_of, clients)).encode("utf-8"))
        for folder, stored in (*_photos(home, allowed.practice_id), *_scans(home, allowed.practice_id)):
            if stored.is_file():
                writer.add_file(f"{folder}/{stored.name}", stored)
    return archive.read_manifest(path)


def _photos(home: Path, practice_id: int) -> list[tuple[str, Path]]:
    pairs = Photo.objects.of(practice_id).values_list("sha256", "media_type").distinct()
    return [("photos", stored_path(home, *pair)) for pair in sorted(pairs)]


def _scans(home: Path, practice_id: int) -> list[tuple[str, Path]]:
    of_horses = ScanFile.objects.filter(scan__practice_id=practice_id)
    of_saddles = SaddleScan.objects.filter(saddle__practice_id=practice_id)
    pairs = {pair for rows in (of_horses, of_saddles) for pair in rows.values_list("sha256", "suffix")}
    return [("scans", scan_path(home, *pair)) for pair in sorted(pairs)]


def _rows(model: type[models.Model], where: str, practice_id: int) -> Iterator[Any]:
    links = [field.name for _, field in _columns(model) if isinstance(field, models.ForeignKey)]
    rows = model._default_manager.filter(**{where: practice_id}).distinct()  # noqa: SLF001
    many = [field.name for field in model._meta.many_to_many]  # noqa: SLF001
    return iter(rows.select_related(*links).prefetch_related(*many).order_by("pk"))


def _columns(model: type[models.Model]) -> "list[tuple[str, models.Field[Any, Any]]]":
    meta = model._meta  # noqa: SLF001
    return [(f.name, f) for f in (*meta.fields, *meta.many_to_many) if f.name not in _HIDDEN]


def _plain_row(row: models.Model) -> dict[str, Value]:
    return {name: _plain(row, field) for name, field in _columns(type(row))}


def _plain(row: models.Model, field: "models.Field[Any, Any]") -> Value:
    held = getattr(row, field.name)
    if isinstance(field, models.ManyToManyField):
        return [str(target.uuid) for target in held.all()]
    if isinstance(field, models.ForeignKey):
        return None if held is None else str(held.uuid)
    if isinstance(held, UUID):
        return str(held)
    if isinstance(held, datetime | date | time):
        return held.isoformat()
    plain: Value = held
    return plain


def _flat(row: dict[str, Value]) -> dict[str, Value]:
    return {
        name: json.dumps(value, ensure_ascii=False) if isinstance(value, list | dict) else value
        for name, value in row.items()
    }


def _as_json(rows: Iterable[dict[str, Value]]) -> bytes:
    return json.dumps(list(rows), ensure_ascii=False, indent=1, allow_nan=False).encode("utf-8")
