"""A pack as one file: a zip that is the same bytes for the same content, unpacked in bounds."""

import hashlib
import os
import shutil
import stat
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import pyrage

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.zips import ZipLimits, check_entries, is_plain_name, opened_zip

AGE_BEGIN = b"age-encryption.org/v1\n"
_BLOCK = 1 << 20
_EPOCH = (1980, 1, 1, 0, 0, 0)


class _Taken(Protocol):
    """What bytes can be given to."""

    def write(self, content: Any, /) -> object:
        """Take bytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PackLimits:
    """How large a pack may be before it is refused."""

    file_bytes: int = 2 << 30
    total_bytes: int = 2 << 30
    entries: int = 3000


class _Forward:
    """A stream that cannot go back: what is written to it depends on the content alone."""

    def __init__(self, out: _Taken) -> None:
        self._out = out

    def write(self, content: Any, /) -> int:
        self._out.write(content)
        return len(content)

    def flush(self) -> None:
        """Nothing is held back."""


class _Digest:
    def __init__(self) -> None:
        self.held = hashlib.sha256()

    def write(self, content: Any, /) -> None:
        self.held.update(content)


def write_zip(out: _Taken, folder: Path, names: Iterable[str], base: str) -> None:
    """Write files of a folder as a zip: stored, in the order of their names, without times or rights."""
    with zipfile.ZipFile(_Forward(out), "w", zipfile.ZIP_STORED) as archive:  # type: ignore[call-overload]
        for name in sorted(names):
            info = zipfile.ZipInfo(f"{base}/{name}", date_time=_EPOCH)
            info.create_system, info.external_attr = 3, 0o600 << 16
            with (folder / name).open("rb") as source, archive.open(info, "w") as entry:
                shutil.copyfileobj(source, entry, _BLOCK)


def is_written_by_us(path: Path, folder: Path, names: Iterable[str], base: str) -> bool:
    """Tell whether a zip is, to the byte, what its unpacked files make: no byte beside them was changed."""
    digest = _Digest()
    write_zip(digest, folder, names, base)
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").digest() == digest.held.digest()


def refused(path: Path, what: str) -> InputProblemsError:
    """Return the error of a file that is no pack, or a hostile one."""
    cure = "Do not use it; ask the sender for the pack again, and find out where this one came from."
    return InputProblemsError([Problem(what=what, cure=cure, where=Where(file=path.name))])


@contextmanager
def _plain_zip(path: Path, limits: PackLimits) -> Iterator[zipfile.ZipFile]:
    bounds = ZipLimits(total_bytes=limits.total_bytes, entries=limits.entries)
    with opened_zip(path, refused) as archive:
        check_entries(path, archive, bounds, refused)
        yield archive


def unpack(path: Path, into: Path, limits: PackLimits) -> tuple[str, list[str]]:
    """Unpack a pack's zip, and return its base folder's name and the files in it.

    Raises
    ------
    InputProblemsError
        If it is no zip, breaks a bound, or does not hold exactly one folder.
    """
    names: list[str] = []
    left = limits.total_bytes
    with _plain_zip(path, limits) as archive:
        bases = {entry.filename.partition("/")[0] for entry in archive.infolist()}
        if len(bases) != 1:
            raise refused(path, "is no handover pack: it holds more than one folder, or none")
        base = bases.pop()
        if shutil.disk_usage(into).free < sum(entry.file_size for entry in archive.infolist()):
            raise input_problem("there is no room to unpack it", "Make room on the disk.")
        for entry in archive.infolist():
            name = entry.filename.partition("/")[2]
            # Programs that pack folders write an entry for each folder.
            if entry.is_dir() or not name:
                continue
            with archive.open(entry) as source:
                left -= _copied(source, into / name, left, path)
            names.append(name)
    return base, names


def _copied(source: Any, target: Path, most: int, path: Path) -> int:
    """Copy a stream that may hold more than it says, and return how much it was."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        held = target.open("xb")
    except (FileExistsError, NotADirectoryError):
        raise refused(path, f"holds two things of one name: {target.name[:60]!r}") from None
    size = 0
    with held as out:
        while block := source.read(_BLOCK):
            size += len(block)
            if size > most:
                raise refused(path, "unpacks to more than is taken")
            out.write(block)
    return size


def copy_folder(path: Path, into: Path, limits: PackLimits) -> list[str]:
    """Copy a pack that is a folder, so that nobody changes it while it is read; return its files.

    Raises
    ------
    InputProblemsError
        If it holds links or anything else that is no plain file, or breaks a bound.
    """
    names: list[str] = []
    left = limits.total_bytes
    for folder, folders, files in os.walk(path, followlinks=False):
        here = Path(folder)
        for name in (*folders, *files):
            mode = (here / name).lstat().st_mode
            if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
                raise refused(path, f"holds something that is no plain file: {name[:60]!r}")
        for name in files:
            inside = (here / name).relative_to(path).as_posix()
            names.append(inside)
            if len(names) > limits.entries or not is_plain_name(inside):
                raise refused(path, f"holds more than {limits.entries} files, or a name that leads elsewhere")
            with (here / name).open("rb") as source:
                left -= _copied(source, into / inside, left, path)
    return names


def is_sealed(path: Path) -> bool:
    """Tell whether a file is closed to all but its recipient."""
    if not path.is_file():
        return False
    with path.open("rb") as stream:
        return stream.read(len(AGE_BEGIN)) == AGE_BEGIN


def seal(source: Path, target: Path, recipients: Iterable[str]) -> None:
    """Write a file so that only these age recipients can read it."""
    known = [pyrage.x25519.Recipient.from_str(one) for one in dict.fromkeys(recipients)]
    pyrage.encrypt_file(str(source), str(target), known)


def unseal(path: Path, target: Path, identities: Iterable[str]) -> None:
    """Write what a closed file holds.

    Raises
    ------
    InputProblemsError
        If it is closed to others, or was changed on the way.
    """
    known = [pyrage.x25519.Identity.from_str(one) for one in identities]
    where = Where(file=path.name)
    if not known:
        cure = "Open it with a data folder whose practice has a key."
        raise input_problem("it is closed, and there is no key here to open it with", cure, where)
    try:
        pyrage.decrypt_file(str(path), str(target), known)
    except (pyrage.DecryptError, OSError, ValueError) as error:
        if isinstance(error, OSError) and error.filename:
            raise
        cure = "Send the sender this practice's key line, and ask for the pack again."
        what = "it cannot be opened: it is closed to another key, or was changed on the way"
        raise input_problem(what, cure, where) from error
