"""A scan read, and recorded, beside the pages."""

import uuid as uuids
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from django.urls import reverse

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.back_job import scan_record
from saddlebench.exchange.records import write_back
from saddlebench.exchange.scans import LookedAt, ScanPiece, look_at_pieces, look_at_scan
from saddlebench.exchange.scans.marks import Axis, axis_vector
from saddlebench.exchange.scans.piece_shape import piece_shape
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.scans import APART, RECORDS, SCAN, ScanPage, scan_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.practice.services.scans import scan_became
from saddlebench.web.scan.held import files_here, folder_of, keep_look

PIECE_SHAPE = "piece-{}.bin"
AXES: tuple[Axis, ...] = ("+x", "-x", "+y", "-y", "+z", "-z")


def ask_look(actor: Actor, uuid: uuids.UUID, key: uuids.UUID) -> None:
    """Queue the reading of a scan that was brought; asked twice with one key, it is done once."""
    row = scan_page(actor, uuid).row
    ask_job(
        actor,
        find_horse,
        {SCAN: str(uuid)},
        action=Action.RECORD_BACK,
        words=f"Scan of {row.horse.label}",
        uuid=key,
        leads_to=reverse("scan:look", args=[uuid]),
        back_to=reverse("scan:look", args=[uuid]),
    )


def ask_pieces(actor: Actor, uuid: uuids.UUID, key: uuids.UUID) -> None:
    """Queue the reading of each piece by itself, for a person to mark places on."""
    row = scan_page(actor, uuid).row
    ask_job(
        actor,
        show_pieces,
        {SCAN: str(uuid), APART: True},
        action=Action.RECORD_BACK,
        words=f"Pieces of the scan of {row.horse.label}",
        uuid=key,
        leads_to=reverse("scan:pieces", args=[uuid]),
        back_to=reverse("scan:look", args=[uuid]),
    )


def ask_record(actor: Actor, page: ScanPage, marks: str) -> uuids.UUID:
    """Queue the recording of a scan with its marks file's text; return the work's name."""
    uuid = page.row.uuid
    key = uuids.uuid5(uuid, marks)
    back = page.row.back or key
    ask_job(
        actor,
        cut_scan,
        {SCAN: str(uuid), RECORDS: str(back), "marks": marks},
        action=Action.RECORD_BACK,
        words=f"Back of {page.row.horse.label} from its scan",
        uuid=key,
        leads_to=reverse("capture:back", args=[back]),
        back_to=reverse("scan:look", args=[uuid]),
    )
    return key


@long_work
def find_horse(run: Run, *, scan: str) -> Outcome:
    """Read the scan and find the horse in it, for a person to look at."""
    page = scan_page(run.actor, uuids.UUID(scan))
    keep_look(page.row.uuid, _looked_at(run, page))
    return Outcome()


@long_work
def show_pieces(run: Run, *, scan: str, apart: bool) -> Outcome:
    """Read each piece by itself, and keep what is shown of it."""
    del apart
    page = scan_page(run.actor, uuids.UUID(scan))
    paths = files_here(page)
    for k, path in enumerate(paths):
        run.tell(k, len(paths), f"reading {path.name}")
        write_whole(
            folder_of(page.row.uuid) / PIECE_SHAPE.format(k), piece_shape(path, up=_direction(page.up))
        )
    return Outcome()


def _looked_at(run: Run, page: ScanPage) -> LookedAt:
    paths, up, forward = files_here(page), _direction(page.up), _direction(page.head)
    if page.unit is None or len(paths) == 1:
        return look_at_scan(paths[0], up=up, forward=forward, level_by=page.level_by, tell=run.tell)
    common = page.common or ((),) * len(paths)
    pieces = [
        ScanPiece(path=path, unit=page.unit, up=up, common=tuple(np.array(place) for place in places))
        for path, places in zip(paths, common, strict=True)
    ]
    return look_at_pieces(pieces, forward=forward, level_by=page.level_by, tell=run.tell)


@long_work
def cut_scan(run: Run, *, scan: str, records: str, marks: str) -> Outcome:
    """Cut the scan and record the back, or a corrected version of the one that it became before."""
    page = scan_page(run.actor, uuids.UUID(scan))
    marks_path = folder_of(page.row.uuid) / f"{run.uuid}.marks.toml"
    paths = files_here(page)
    marks_path.write_text(marks, encoding="utf-8")
    made = scan_record(paths[0], marks_path, more=paths[1:], tell=run.tell)
    with TemporaryDirectory(prefix="saddlebench-scan-") as folder:
        out = Path(folder) / "back.json"
        write_back(made.record, out, scan_file=made.scan_file)
        document = Document(text=out.read_text(encoding="utf-8"))
    _record(run.actor, page, uuids.UUID(records), document, made.record.label)
    return Outcome(said=" ".join(str(one) for one in made.remarks))


def _record(actor: Actor, page: ScanPage, back: uuids.UUID, document: Document, label: str) -> None:
    if page.row.back is None:
        services.record_back(
            actor,
            page.row.horse.uuid,
            document,
            measured_on=page.row.day,
            label=label,
            visit_uuid=page.row.visit.uuid if page.row.visit else None,
            uuid=back,
        )
        scan_became(actor, page.row.uuid, back)
        return
    kept = queries.back_page(actor, back)
    if kept.document != document.text:
        why = "Marks set again on the scan"
        services.correct_back(actor, back, document, why=why, seen=kept.number or 0)


def _direction(axis: str) -> FloatArray | None:
    return next((np.array(axis_vector(one)) for one in AXES if one == axis), None)
