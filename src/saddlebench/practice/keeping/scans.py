"""Scans' files on the disk: raw readings, named by what they hold, backed up as photos are.

What is worked out from them lies in a folder of each scan's own and is not backed up: it can be made again.
"""

import hashlib
import os
import secrets
import shutil
import uuid as uuids
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.errors import Where, input_problem
from saddlebench.practice.keeping.backup import files_folder

OTHER_SUFFIX = ".scan"
SUFFIXES = frozenset({".ply", ".obj", ".stl", ".off", ".glb", ".gltf", ".xyz", ".txt", ".csv", ".las"})
_LONGEST_NAME = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredScan:
    """A scan's file in the folder."""

    name: str
    """As it was called, with nothing in it that could lead elsewhere."""
    suffix: str
    sha256: str
    size_bytes: int


def scan_path(home: Path, sha256: str, suffix: str) -> Path:
    """Return where a scan's file lies."""
    return files_folder(home) / sha256[:2] / f"{sha256}{suffix}"


def work_folder(home: Path, uuid: uuids.UUID) -> Path:
    """Return where that lies which was worked out from a scan."""
    return home / "scans" / str(uuid)


def store_scan(home: Path, name: str, chunks: Iterable[bytes], most_bytes: int) -> StoredScan:
    """Keep a scan's file as it comes, chunk by chunk; the same bytes twice are one file.

    Raises
    ------
    InputProblemsError
        If it is empty, or larger than what is read.
    """
    safe = "".join(c if c.isalnum() or c in ".-_ " else "_" for c in Path(name).name)[-_LONGEST_NAME:]
    safe = safe.lstrip(".") or "scan"
    suffix = Path(safe).suffix.lower()
    folder = files_folder(home)
    folder.mkdir(parents=True, exist_ok=True)
    # A name with a dot in front is no kept file: a backup made meanwhile leaves it alone.
    part = folder / f".scan-{secrets.token_hex(8)}.part"
    digest, size = hashlib.sha256(), 0
    try:
        with part.open("wb") as stream:
            for chunk in chunks:
                size += len(chunk)
                if size > most_bytes:
                    what = f"the scan has more than {most_bytes / 1e6:,.0f} MB"
                    cure = "Cut away all but the horse and its ground, and save it again."
                    raise input_problem(what, cure, Where(file=safe))
                digest.update(chunk)
                stream.write(chunk)
            stream.flush()
            os.fsync(stream.fileno())
        if size == 0:
            raise input_problem("the file is empty", "Export the scan again.", Where(file=safe))
        stored = StoredScan(
            name=safe,
            suffix=suffix if suffix in SUFFIXES else OTHER_SUFFIX,
            sha256=digest.hexdigest(),
            size_bytes=size,
        )
        path = scan_path(home, stored.sha256, stored.suffix)
        path.parent.mkdir(parents=True, exist_ok=True)
        part.chmod(0o600)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return stored


def erase_scan(home: Path, sha256: str, suffix: str) -> None:
    """Erase a scan's file."""
    scan_path(home, sha256, suffix).unlink(missing_ok=True)


def erase_scan_work(home: Path, uuid: uuids.UUID) -> None:
    """Erase what was worked out from a scan."""
    shutil.rmtree(work_folder(home, uuid), ignore_errors=True)
