"""Zip archives: written with a manifest of hashes, read as if an enemy had made them."""

import hashlib
import json
import os
import shutil
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.zips import ZipLimits, check_entries, is_plain_name, opened_zip

MANIFEST = "manifest.json"
_BLOCK = 1 << 20
_LARGEST_MANIFEST = 256 << 20
_PACKED = frozenset({".jpg", ".png", ".webp", ".mp4", ".webm"})
_AS_THEY_CAME = ("files/", "scans/")
"""Folders of what people brought: packed, a file of hardly anything but zeros would look like a bomb."""


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class FileEntry(_Strict):
    """One file of an archive."""

    size: int = Field(ge=0, le=1 << 42)
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")


class TableEntry(_Strict):
    """One table of an archive."""

    rows: int = Field(ge=0, le=1 << 40)
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")


class Manifest(_Strict):
    """What an archive holds."""

    format: str = Field(pattern=r"^saddlebench-[a-z]+$")
    format_version: int = Field(ge=1, le=1)
    made_at: datetime
    program_version: str = Field(max_length=80)
    tables: dict[str, TableEntry] = Field(default_factory=dict)
    files: dict[str, FileEntry] = Field(default_factory=dict)
    beside: dict[str, FileEntry] = Field(default_factory=dict)
    """Files that belong to it and are not in it."""


class Writer:
    """Adds files to an archive and remembers their hashes."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        self.files: dict[str, FileEntry] = {}

    def add_file(self, name: str, path: Path) -> None:
        """Add a file of the disk."""
        with path.open("rb") as stream:
            self._add(name, iter(lambda: stream.read(_BLOCK), b""))

    def add_bytes(self, name: str, content: bytes) -> None:
        """Add bytes."""
        self._add(name, [content])

    def _add(self, name: str, blocks: Iterable[bytes]) -> None:
        digest, size = hashlib.sha256(), 0
        info = zipfile.ZipInfo(name)
        # Pictures and films are packed already: packing them again takes hours and gains nothing.
        is_packed = PurePosixPath(name).suffix in _PACKED or name.startswith(_AS_THEY_CAME)
        info.compress_type = zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED
        info.external_attr = 0o600 << 16
        with self._archive.open(info, "w", force_zip64=True) as out:
            for block in blocks:
                digest.update(block)
                size += len(block)
                out.write(block)
        self.files[name] = FileEntry(size=size, sha256=digest.hexdigest())


@contextmanager
def written(path: Path, manifest: dict[str, Any]) -> Iterator[Writer]:
    """Yield a writer; the manifest is added and the archive given its name only when all went well."""
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.part")
    try:
        with draft.open("wb") as stream:
            draft.chmod(0o600)
            with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as archive:
                writer = Writer(archive)
                yield writer
                whole = Manifest(files=writer.files, **manifest)
                archive.writestr(MANIFEST, whole.model_dump_json(indent=1))
            stream.flush()
            os.fsync(stream.fileno())
        verify(draft)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def _refuse(path: Path, what: str) -> InputProblemsError:
    cure = "Do not use this file; take another backup, and find out where this one came from."
    return InputProblemsError([Problem(what=what, cure=cure, where=Where(file=path.name))])


def _read_manifest(path: Path, archive: zipfile.ZipFile) -> Manifest:
    try:
        info = archive.getinfo(MANIFEST)
    except KeyError:
        raise _refuse(path, "has no manifest") from None
    if info.file_size > _LARGEST_MANIFEST:
        raise _refuse(path, "has an absurdly large manifest")
    with archive.open(info) as stream:
        text = stream.read(_LARGEST_MANIFEST + 1)
    try:
        manifest = Manifest.model_validate_json(text)
    except (ValidationError, json.JSONDecodeError) as error:
        raise _refuse(path, f"has a manifest that cannot be read ({type(error).__name__})") from error
    named, held = set(manifest.files), set(archive.namelist()) - {MANIFEST}
    if named != held:
        odd = sorted(named ^ held)[0]
        raise _refuse(path, f"does not hold what its manifest says: {odd[:60]!r}")
    astray = [name for name in manifest.beside if not is_plain_name(name) or name in named]
    if astray:
        raise _refuse(path, f"counts on a file with a name that leads elsewhere: {astray[0][:60]!r}")
    return manifest


def _copy(path: Path, stream: IO[bytes], entry: FileEntry, name: str, out: IO[bytes] | None) -> None:
    digest, size = hashlib.sha256(), 0
    while block := stream.read(_BLOCK):
        size += len(block)
        # The size that the archive states is its maker's word: what really comes out is what counts.
        if size > entry.size:
            raise _refuse(path, f"holds a file longer than its manifest says: {name[:60]!r}")
        digest.update(block)
        if out is not None:
            out.write(block)
    if size != entry.size or digest.hexdigest() != entry.sha256:
        raise _refuse(path, f"holds a file that is not what its manifest says: {name[:60]!r}")


def read_manifest(path: Path, limits: ZipLimits | None = None) -> Manifest:
    """Return an archive's manifest after checking its list of files.

    Raises
    ------
    InputProblemsError
        If it is no archive of ours, or a hostile one.
    """
    with opened_zip(path, _refuse) as archive:
        check_entries(path, archive, limits or ZipLimits(), _refuse)
        return _read_manifest(path, archive)


def verify(path: Path, limits: ZipLimits | None = None) -> Manifest:
    """Read everything in an archive and compare it with the manifest; nothing is written.

    Raises
    ------
    InputProblemsError
        If anything differs.
    """
    return _walk(path, limits, into=None)


def unpack(path: Path, into: Path, limits: ZipLimits | None = None) -> Manifest:
    """Unpack an archive into a folder that is not there yet, checking every byte against the manifest.

    Raises
    ------
    InputProblemsError
        If anything differs; the folder may then hold a part, and must not be used.
    """
    with opened_zip(path, _refuse) as packed:
        needed = sum(entry.file_size for entry in packed.infolist())
    into.mkdir(parents=True)
    free = shutil.disk_usage(into).free
    if needed > free:
        what = f"needs {needed >> 20} MB, and there are {free >> 20} MB free"
        raise input_problem(what, "Make room, or name a folder on another disk.", Where(file=path.name))
    return _walk(path, limits, into=into)


def _walk(path: Path, limits: ZipLimits | None, into: Path | None) -> Manifest:
    with opened_zip(path, _refuse) as archive:
        check_entries(path, archive, limits or ZipLimits(), _refuse)
        manifest = _read_manifest(path, archive)
        for name, entry in manifest.files.items():
            with archive.open(name) as stream:
                if into is None:
                    _copy(path, stream, entry, name, None)
                    continue
                target = into / name
                target.parent.mkdir(parents=True, exist_ok=True)
                with target.open("xb") as out:
                    _copy(path, stream, entry, name, out)
        return manifest
