"""A scan between its arrival and the record: its file, what was seen in it, and the marks a person moved.

All of it lies in a folder of its own under the practice's data, and is taken out once the back is recorded:
the record keeps the sections, the marks and the file's hash. What nobody recorded goes after two months.
"""

import json
import shutil
import time
import uuid as uuids
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from django.conf import settings

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.scans import LookedAt
from saddlebench.exchange.scans.held_look import look_of_plain, plain_of_look
from saddlebench.exchange.scans.limits import MAX_BYTES
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice.queries.jobs import job_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError

_LONGEST_NAME = 120
_KEPT_S = 60 * 86_400


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldScan:
    """A scan that was looked at and waits for a person."""

    uuid: uuids.UUID
    horse: uuids.UUID
    horse_label: str
    day: date
    looked: LookedAt
    moved: dict[ScanMark, FloatArray]
    """(3,) float each, instrument frame, the scan's unit."""


def folder_of(uuid: uuids.UUID) -> Path:
    """Return where a scan lies."""
    return Path(settings.SADDLEBENCH_HOME) / "scans" / str(uuid)


def scan_file(uuid: uuids.UUID) -> Path:
    """Return the scan's file, under the name it came with.

    Raises
    ------
    NotFoundError
        If it is not there any more.
    """
    found = sorted((folder_of(uuid) / "file").glob("*"))
    if not found:
        raise NotFoundError("scan", uuid)
    return found[0]


def keep_file(actor: Actor, uuid: uuids.UUID, name: str, chunks: Iterable[bytes]) -> None:
    """Write a scan's file as it comes; sent again under one name, the first stays.

    Raises
    ------
    InputProblemsError
        If it is larger than what is read.
    NotFoundError
        If the name is taken by another practice's scan.
    """
    _take_out_old()
    if folder_of(uuid).exists():
        job_page(actor, uuid)
        return
    folder = folder_of(uuid) / "file"
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    safe = "".join(c if c.isalnum() or c in ".-_ " else "_" for c in Path(name).name)[-_LONGEST_NAME:]
    size = 0
    part = folder_of(uuid) / "part"
    with part.open("wb") as stream:
        for chunk in chunks:
            size += len(chunk)
            if size > MAX_BYTES:
                break
            stream.write(chunk)
    if size > MAX_BYTES:
        take_out(uuid)
        what = f"the scan has more than {MAX_BYTES / 1e6:,.0f} MB"
        raise input_problem(what, "Cut away all but the horse and its ground, and save it again.")
    part.replace(folder / (safe.lstrip(".") or "scan"))


def keep_look(uuid: uuids.UUID, horse: uuids.UUID, horse_label: str, day: date, looked: LookedAt) -> None:
    """Write what was seen in a scan."""
    plain = {
        "horse": str(horse),
        "horse_label": horse_label,
        "day": day.isoformat(),
        "looked": plain_of_look(looked),
    }
    write_whole(folder_of(uuid) / "look.json", json.dumps(plain).encode())


def keep_moved(uuid: uuids.UUID, moved: dict[ScanMark, FloatArray]) -> None:
    """Write where a person set marks."""
    plain = {mark.name: point.tolist() for mark, point in moved.items()}
    write_whole(folder_of(uuid) / "moved.json", json.dumps(plain).encode())


def held_scan(actor: Actor, uuid: uuids.UUID) -> HeldScan:
    """Return a scan of the actor's practice that was looked at.

    Raises
    ------
    NotFoundError
        If there is none, it is another practice's, or it was recorded and taken out.
    """
    job_page(actor, uuid)  # whose work it was says whose scan it is
    path = folder_of(uuid) / "look.json"
    if not path.is_file():
        raise NotFoundError("scan", uuid)
    plain = json.loads(path.read_text())
    other = folder_of(uuid) / "moved.json"
    moved = json.loads(other.read_text()) if other.is_file() else {}
    return HeldScan(
        uuid=uuid,
        horse=uuids.UUID(plain["horse"]),
        horse_label=plain["horse_label"],
        day=date.fromisoformat(plain["day"]),
        looked=look_of_plain(plain["looked"]),
        moved={ScanMark[name]: np.array(point) for name, point in moved.items()},
    )


def _take_out_old() -> None:
    root = Path(settings.SADDLEBENCH_HOME) / "scans"
    for folder in root.glob("*"):
        if time.time() - folder.stat().st_mtime > _KEPT_S:
            shutil.rmtree(folder, ignore_errors=True)


def take_out(uuid: uuids.UUID) -> None:
    """Take a scan's folder out."""
    shutil.rmtree(folder_of(uuid), ignore_errors=True)
