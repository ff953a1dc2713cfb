"""Opening a pack: nothing of it is believed before every byte is checked against the signature."""

import hashlib
import json
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from pydantic_core import from_json

from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where
from saddlebench.exchange.films.limits import LARGEST_FILM_BYTES
from saddlebench.exchange.packs.bag import DATA, MANIFEST, SIGNATURE, TAG_MANIFEST, check_bag, damaged
from saddlebench.exchange.packs.container import (
    PackLimits,
    copy_folder,
    is_sealed,
    is_written_by_us,
    refused,
    unpack,
    unseal,
)
from saddlebench.exchange.packs.document import PackDocument, upgraded
from saddlebench.exchange.packs.films import bare_film
from saddlebench.exchange.packs.keys import KeyPair, PublicKey, parse_key_line
from saddlebench.exchange.packs.leading import links_of
from saddlebench.exchange.packs.page import NOTES, PAGES
from saddlebench.exchange.packs.photos import bare_picture
from saddlebench.exchange.records import (
    BackDocument,
    ChangeDocument,
    OrderDocument,
    PlanDocument,
    SaddleDocument,
    StudyDocument,
    parse_document,
)
from saddlebench.exchange.records.document import MAX_RECORD_BYTES, Document
from saddlebench.exchange.records.shortlist import ShortlistDocument

__all__ = ["FREE_FILES", "PACK", "OpenedPack", "PackLimits", "is_sealed", "opened_pack"]
PACK = "pack.json"
FREE_FILES = frozenset({PACK, *PAGES.values(), *NOTES.values()})
_SCHEMAS = "schemas/"
_LARGEST_PACK_JSON = 8 << 20
_LARGEST_PHOTO = 40 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedPack:
    """A pack that was verified; its files lie in a folder of their own until it is closed."""

    folder: Path
    document: PackDocument
    signed_by: PublicKey
    was_sealed: bool
    tag_manifest_sha256: str
    """Names what was signed, however it was packed."""
    proof: dict[str, str]
    """The signature, and the two lists that it holds over every file: kept with what is taken from a pack."""
    upgraded_from: int | None
    """The version of the pack, where it is an older one."""
    remarks: tuple[Problem, ...]
    """Warnings only."""

    def content(self, file: str) -> bytes:
        """Return a file that the document names."""
        return (self.folder / DATA / file).read_bytes()

    def text(self, file: str) -> str:
        """Return a record's document, byte for byte."""
        return self.content(file).decode("utf-8")


@contextmanager
def opened_pack(
    path: Path, keys: Sequence[KeyPair] = (), limits: PackLimits | None = None, *, scratch: Path | None = None
) -> Iterator[OpenedPack]:
    """Verify a pack, a file or a folder, and yield what is in it.

    Parameters
    ----------
    path : the pack
    keys : the reader's own, for a pack that is closed
    limits : how large it may be
    scratch : where it is unpacked; by default with the system's temporary files

    Raises
    ------
    InputProblemsError
        If it is no pack, a hostile one, damaged, not signed as it says, or of a newer version.
    OSError
        If it cannot be opened.
    """
    bounds = limits or PackLimits()
    with tempfile.TemporaryDirectory(prefix="saddlebench-pack-", dir=scratch) as temporary:
        folder = Path(temporary) / "bag"
        folder.mkdir()
        closed = is_sealed(path)
        names, remarks = _laid_out(path, folder, keys, bounds, Path(temporary) / "zip")
        signed_by = check_bag(folder)
        document, older = _read_document(folder)
        _check_agrees(document, signed_by, names)
        _check_files(folder, document)
        yield OpenedPack(
            folder=folder,
            document=document,
            signed_by=signed_by,
            was_sealed=closed,
            tag_manifest_sha256=hashlib.sha256((folder / TAG_MANIFEST).read_bytes()).hexdigest(),
            proof={name: (folder / name).read_text("utf-8") for name in (SIGNATURE, TAG_MANIFEST, MANIFEST)},
            upgraded_from=older,
            remarks=(*remarks, *_addressed_elsewhere(document, keys)),
        )


def _laid_out(
    path: Path, folder: Path, keys: Sequence[KeyPair], limits: PackLimits, plain: Path
) -> tuple[list[str], list[Problem]]:
    if path.is_dir():
        return copy_folder(path, folder, limits), []
    if path.stat().st_size > limits.file_bytes:
        raise refused(path, f"is larger than {limits.file_bytes >> 20} MB")
    source = path
    if is_sealed(path):
        unseal(path, plain, [one.identity for one in keys])
        source = plain
    base, names = unpack(source, folder, limits)
    if is_written_by_us(source, folder, names, base):
        return names, []
    what = "the file was packed anew by another program, or changed on the way; what is in it is as signed"
    cure = "Nothing to do, if you or the sender packed it anew; else ask how it came to you."
    return names, [Problem(what=what, cure=cure, where=Where(file=path.name), weight=Weight.WARNING)]


def _read_document(folder: Path) -> tuple[PackDocument, int | None]:
    path = folder / DATA / PACK
    if not path.is_file() or path.stat().st_size > _LARGEST_PACK_JSON:
        msg = f"“{PACK}” is missing or absurdly large"
        raise damaged(msg)
    try:
        text = path.read_bytes().decode("utf-8")
        held = from_json(text, allow_inf_nan=False)
    except ValueError as error:
        msg = f"“{PACK}” cannot be read ({error})"
        raise damaged(msg) from error
    version = held.get("version") if isinstance(held, dict) else None
    if isinstance(version, int) and not isinstance(version, bool) and 1 <= version < PackDocument.VERSION:
        return parse_document(PackDocument, json.dumps(upgraded(held, version)), PACK), version
    return parse_document(PackDocument, text, PACK), None


def _check_agrees(document: PackDocument, signed_by: PublicKey, names: list[str]) -> None:
    """Refuse a document that speaks for another key, or of other files than there are."""
    if parse_key_line(document.sender.key) != signed_by:
        raise damaged("it is signed with another key than its sender's")
    named = document.files()
    there = {name.removeprefix(f"{DATA}/") for name in names if name.startswith(f"{DATA}/")}
    free = {name for name in there if name in FREE_FILES or name.startswith(_SCHEMAS)}
    if len(set(named)) != len(named) or set(named) & free or set(named) != there - free:
        odd = sorted((set(named) ^ there) - free)
        msg = f"its list and its files differ: “{odd[0] if odd else named[0]}”"
        raise damaged(msg)


def _check_files(folder: Path, document: PackDocument) -> None:
    """Refuse records that are not what they are called, one by one; all that is found is told together."""
    kinds: list[tuple[str, str, type[Document]]] = [
        *((one.version.file, one.version.sha256, BackDocument) for one in document.backs),
        *((one.version.file, one.version.sha256, SaddleDocument) for one in document.saddle_records),
        *((one.version.file, one.version.sha256, StudyDocument) for one in document.studies),
        *((one.version.file, one.version.sha256, PlanDocument) for one in document.plans),
        *((one.version.file, one.version.sha256, OrderDocument) for one in document.orders),
        *((one.version.file, one.version.sha256, ChangeDocument) for one in document.changes),
        *((one.version.file, one.version.sha256, ShortlistDocument) for one in document.shortlists),
    ]
    problems: list[Problem] = []
    for file, sha256, kind in kinds:
        content = (folder / DATA / file).read_bytes()
        try:
            if hashlib.sha256(content).hexdigest() != sha256 or len(content) > MAX_RECORD_BYTES:
                msg = f"“{file}” is not the record that it is called"
                raise damaged(msg)
            parse_document(kind, content.decode("utf-8"), file)
        except UnicodeDecodeError:
            problems += damaged(f"“{file}” is no text").problems
        except InputProblemsError as error:
            problems += error.problems
    for photo in document.photos:
        content = (folder / DATA / photo.file).read_bytes()
        try:
            if len(content) > _LARGEST_PHOTO or hashlib.sha256(content).hexdigest() != photo.sha256:
                msg = f"“{photo.file}” is not the picture that it is called"
                raise damaged(msg)
            if bare_picture(content, photo.file).media_type != photo.media_type:
                msg = f"“{photo.file}” is of another kind than it says"
                raise damaged(msg)
        except InputProblemsError as error:
            problems += error.problems
    problems += _check_films(folder, document)
    problems += links_of(document)
    if problems:
        raise InputProblemsError(problems)


def _check_films(folder: Path, document: PackDocument) -> list[Problem]:
    """Return what is wrong with films: another than named, of another kind, too long, or not readable."""
    problems: list[Problem] = []
    for film in document.films:
        path = folder / DATA / film.file
        try:
            if path.stat().st_size > LARGEST_FILM_BYTES:
                msg = f"“{film.file}” is larger than a film may be"
                raise damaged(msg)
            content = path.read_bytes()
            if hashlib.sha256(content).hexdigest() != film.sha256:
                msg = f"“{film.file}” is not the film that it is called"
                raise damaged(msg)
            bare_film(content, film.file, film.media_type)
        except InputProblemsError as error:
            problems += error.problems
    return problems


def _addressed_elsewhere(document: PackDocument, keys: Sequence[KeyPair]) -> list[Problem]:
    recipient, own = document.recipient, {one.public.line for one in keys}
    if recipient is None or not own or own & {recipient.key, document.sender.key}:
        return []
    what = "the pack was made for another practice's key than yours"
    cure = "Ask the sender whether it is meant for you."
    return [Problem(what=what, cure=cure, weight=Weight.WARNING)]
