"""Zip files from anybody, looked at before anything is unpacked: as if an enemy had made them."""

import stat
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from saddlebench.engine.errors import InputProblemsError

LARGEST_RATIO = 400
RATIO_FREE_BYTES = 4 << 20
_LONGEST_NAME = 240
_ENCRYPTED = 0x1
Refuse = Callable[[Path, str], InputProblemsError]
"""Returns the error for a file and what is wrong with it; the caller knows the cure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZipLimits:
    """How large an archive may be before it is refused."""

    total_bytes: int = 1 << 40
    entries: int = 500_000


@contextmanager
def opened_zip(path: Path, refuse: Refuse) -> Iterator[zipfile.ZipFile]:
    """Yield an archive; whatever is wrong with it becomes a sentence.

    Raises
    ------
    InputProblemsError
        If it cannot be read.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, EOFError, RuntimeError) as error:
        raise refuse(path, f"is no archive that can be read ({error})") from error
    except (ValueError, OSError) as error:
        if isinstance(error, OSError) and error.filename is not None:
            raise
        raise refuse(path, f"is no archive that can be read ({error})") from error
    except Exception as error:
        # zlib and friends each have an error of their own for damaged streams.
        if type(error).__module__.split(".")[0] in {"zlib", "lzma", "bz2", "struct"}:
            raise refuse(path, f"is no archive that can be read ({error})") from error
        raise


def is_plain_name(name: str) -> bool:
    """Tell whether a name in an archive leads to a place inside the folder it is unpacked to."""
    parts = PurePosixPath(name).parts
    return (
        bool(parts)
        and len(name) <= _LONGEST_NAME
        and "\\" not in name
        and ":" not in name
        and "\x00" not in name
        and not name.startswith("/")
        and ".." not in parts
        and "/".join(parts) == name
    )


def check_entries(path: Path, archive: zipfile.ZipFile, limits: ZipLimits, refuse: Refuse) -> None:
    """Check the list of what an archive holds, before anything of it is unpacked.

    Raises
    ------
    InputProblemsError
        If it holds too much, one name twice, a name that leads elsewhere, or something that is no plain file.
    """
    entries = archive.infolist()
    if len(entries) > limits.entries:
        raise refuse(path, f"holds {len(entries)} files, more than {limits.entries}")
    names = [entry.filename for entry in entries]
    if len(set(names)) != len(names):
        raise refuse(path, "holds two files of one name")
    for entry in entries:
        mode = entry.external_attr >> 16
        if not is_plain_name(entry.filename.removesuffix("/")):
            raise refuse(path, f"holds a file with a name that leads elsewhere: {entry.filename[:60]!r}")
        is_plain = stat.S_ISREG(mode) or (entry.is_dir() and stat.S_ISDIR(mode))
        if stat.S_IFMT(mode) and not is_plain:
            raise refuse(path, f"holds something that is no plain file: {entry.filename[:60]!r}")
        if entry.flag_bits & _ENCRYPTED:
            raise refuse(path, "is locked with a password")
        allowed = entry.compress_size * LARGEST_RATIO + RATIO_FREE_BYTES
        if entry.file_size > allowed:
            raise refuse(path, f"unpacks to absurdly more than it is: {entry.filename[:60]!r}")
    if sum(entry.file_size for entry in entries) > limits.total_bytes:
        raise refuse(path, f"unpacks to more than {limits.total_bytes} bytes")
