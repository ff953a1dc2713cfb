"""Photos and films on the disk: named by what they hold, never by what a phone called them."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice.keeping.backup import files_folder

LARGEST_BYTES = 512 << 20
_SUFFIXES = {
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/webp": ".webp",
    "video/mp4": ".mp4",
    "video/quicktime": ".mov",
    "video/webm": ".webm",
}
_FILM_BRANDS = {
    *(b"isom", b"iso2", b"iso4", b"iso5", b"iso6", b"mp41", b"mp42", b"avc1"),
    *(b"M4V ", b"3gp4", b"3gp5"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFile:
    """A file in the folder."""

    sha256: str
    media_type: str
    size_bytes: int


def sniff(content: bytes) -> str:
    """Return what a file is by its first bytes, whatever its name says.

    Raises
    ------
    InputProblemsError
        If it is none of the kinds that are kept.
    """
    if content[:3] == b"\xff\xd8\xff":
        return "image/jpeg"
    if content[:8] == b"\x89PNG\r\n\x1a\n":
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    if content[4:8] == b"ftyp" and content[8:12] in _FILM_BRANDS:
        return "video/mp4"
    if content[4:12] == b"ftypqt  ":
        return "video/quicktime"
    if content[:4] == b"\x1aE\xdf\xa3":
        return "video/webm"
    raise input_problem("is no picture or film that can be kept", "Give JPEG, PNG, WebP, MP4, MOV or WebM.")


def stored_path(home: Path, sha256: str, media_type: str) -> Path:
    """Return where a file lies."""
    return files_folder(home) / sha256[:2] / f"{sha256}{_SUFFIXES[media_type]}"


def thumbnail_path(home: Path, sha256: str) -> Path:
    """Return where a picture's small copy lies: outside the kept files, since it can be made again."""
    return home / "thumbnails" / sha256[:2] / f"{sha256}.jpg"


def erase(home: Path, sha256: str, media_type: str) -> None:
    """Erase a file and its small copy."""
    stored_path(home, sha256, media_type).unlink(missing_ok=True)
    thumbnail_path(home, sha256).unlink(missing_ok=True)


def store(home: Path, content: bytes) -> StoredFile:
    """Keep a file; the same bytes twice are one file.

    Raises
    ------
    InputProblemsError
        If it is too large, or of no kind that is kept.
    """
    if len(content) > LARGEST_BYTES:
        msg = f"is larger than {LARGEST_BYTES >> 20} MB"
        raise input_problem(msg, "Cut the film shorter.")
    media_type = sniff(content)
    sha256 = hashlib.sha256(content).hexdigest()
    path = stored_path(home, sha256, media_type)
    if not path.exists():
        write_whole(path, content)
        path.chmod(0o600)
    return StoredFile(sha256=sha256, media_type=media_type, size_bytes=len(content))
