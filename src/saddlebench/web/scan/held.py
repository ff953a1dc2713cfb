"""A scan between its arrival and the record: its files, what was seen in it, what people said of its marks.

The files are raw readings and lie among the kept files for good. What was seen in them lies in a folder of
the scan's own for two months; after that, and after a backup was restored, the scan is looked at again.
"""

import json
import shutil
import time
import uuid as uuids
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.scans import LookedAt
from saddlebench.exchange.scans.held_look import look_of_plain, plain_of_look
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice.keeping.scans import work_folder
from saddlebench.practice.queries.scans import ScanPage, scan_page
from saddlebench.practice.rules import Actor
from saddlebench.web.base.scan_files import home, put_under

_LOOK = "look.json"
_KEPT_S = 60 * 86_400


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldScan:
    """A scan that was looked at and waits for a person."""

    page: ScanPage
    looked: LookedAt

    @property
    def moved(self) -> dict[ScanMark, FloatArray]:
        """Marks that people set, (3,) float each, instrument frame, the scan's unit."""
        return {mark: np.array(one.at) for mark, one in self.page.said.items() if one.at is not None}

    @property
    def felt(self) -> frozenset[ScanMark]:
        """Marks that were felt for on the horse."""
        return frozenset(mark for mark, one in self.page.said.items() if one.felt)

    @property
    def marks(self) -> dict[ScanMark, FloatArray]:
        """Every mark that has a place, (3,) float each, instrument frame, the scan's unit."""
        return {**self.looked.marks, **self.moved}


def folder_of(uuid: uuids.UUID) -> Path:
    """Return where what was worked out from a scan lies."""
    return work_folder(home(), uuid)


def files_here(page: ScanPage) -> list[Path]:
    """Return a scan's files under the names they came with.

    Raises
    ------
    InputProblemsError
        If one is not among the kept files.
    """
    out = []
    names = [one.name for one in page.files]
    for k, one in enumerate(page.files):
        # Phones call every scan the same; pieces are told apart by their names.
        name = one.name if names.count(one.name) == 1 else f"{k + 1}-{one.name}"
        path = folder_of(page.row.uuid) / f"file-{k}" / name
        put_under(one, path)
        out.append(path)
    return out


def keep_look(uuid: uuids.UUID, looked: LookedAt) -> None:
    """Write what was seen in a scan."""
    write_whole(folder_of(uuid) / _LOOK, json.dumps(plain_of_look(looked)).encode())


def look_kept(page: ScanPage) -> LookedAt | None:
    """Return what was seen in a scan; None where it has to be looked at (again)."""
    path = folder_of(page.row.uuid) / _LOOK
    try:
        return look_of_plain(json.loads(path.read_text(encoding="utf-8")))
    except (FileNotFoundError, KeyError, TypeError, ValueError):
        # Not there after a backup was restored, or written by a program that saw other things.
        return None


def held_scan(actor: Actor, uuid: uuids.UUID) -> HeldScan:
    """Return a scan of the actor's practice that was looked at.

    Raises
    ------
    NotFoundError
        If there is none, or it is another practice's.
    InputProblemsError
        If it was not looked at, or what was seen is not there any more.
    """
    page = scan_page(actor, uuid)
    looked = look_kept(page)
    if looked is None:
        raise input_problem(
            "the scan has to be looked at first", "Open its page: it says how far it is.", Where(field="scan")
        )
    return HeldScan(page=page, looked=looked)


def take_out_old_looks() -> None:
    """Take out what was seen in scans long ago; their files stay."""
    for folder in (home() / "scans").glob("*"):
        if time.time() - folder.stat().st_mtime > _KEPT_S:
            shutil.rmtree(folder, ignore_errors=True)
