"""Making a pack: files into a bag, signed, in one file, closed where it is for one recipient alone."""

import hashlib
import os
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.packs.bag import DATA, bag_texts
from saddlebench.exchange.packs.container import seal, write_zip
from saddlebench.exchange.packs.document import PackDocument
from saddlebench.exchange.packs.keys import KeyPair, PublicKey
from saddlebench.exchange.packs.opening import PACK, PackLimits, opened_pack
from saddlebench.exchange.packs.page import NOTES, PAGES, index_page, read_me
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.records import as_json

_EXCHANGE = Path(__file__).parent.parent
_SCHEMAS = (
    "packs/pack.schema.json",
    "records/schemas/back.schema.json",
    "records/schemas/saddle.schema.json",
    "records/schemas/study.schema.json",
    "records/schemas/plan.schema.json",
    "records/schemas/order.schema.json",
    "records/schemas/change.schema.json",
    "records/schemas/shortlist.schema.json",
)
"""Of what a pack may hold; copies go with it."""
Content = bytes | Path


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePack:
    """A pack that was made, opened again, and found right."""

    path: Path
    size_bytes: int
    sha256: str
    """Of the file."""
    tag_manifest_sha256: str
    """Of what is signed: names the content, however it is packed."""
    is_sealed: bool


def make_pack(
    document: PackDocument,
    files: Mapping[str, Content],
    keys: KeyPair,
    path: Path,
    *,
    recipient: PublicKey | None = None,
) -> MadePack:
    """Make a pack; it is written whole, or not at all, and is opened once before it gets its name.

    Parameters
    ----------
    document : what the pack says of itself
    files : every file that the document names, by that name
    keys : the sender's
    path : of the pack
    recipient : to whom it is closed, besides the sender; None: everybody may read it

    Raises
    ------
    InputProblemsError
        If the pack that was written does not open as it should.
    OSError
        If it cannot be written.
    """
    wanted = set(document.files())
    if set(files) != wanted:
        odd = sorted(set(files) ^ wanted)[0]
        raise input_problem(f"the pack's list and its files differ: {odd}", "Make the pack again.")  # noqa: EM102
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".pack-") as scratch:
        folder, draft, closed = Path(scratch) / "bag", Path(scratch) / "zip", Path(scratch) / "age"
        base = path.name.split(".")[0] or "pack"
        _write_bag(folder, document, files, keys)
        names = [one.relative_to(folder).as_posix() for one in folder.rglob("*") if one.is_file()]
        with draft.open("wb") as out:
            write_zip(out, folder, names, base)
        shutil.rmtree(folder)
        if recipient is not None:
            seal(draft, closed, [recipient.recipient, keys.public.recipient])
            draft = closed
        with opened_pack(draft, [keys], PackLimits(), scratch=Path(scratch)) as made:
            signed = made.tag_manifest_sha256
        with draft.open("rb+") as stream:
            os.fsync(stream.fileno())
            sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
        draft.chmod(0o600)
        draft.replace(path)
    return MadePack(
        path=path,
        size_bytes=path.stat().st_size,
        sha256=sha256,
        tag_manifest_sha256=signed,
        is_sealed=recipient is not None,
    )


def _pages(document: PackDocument, files: Mapping[str, Content]) -> dict[str, Content]:
    """Return page and note in every language that papers are written in."""
    made: dict[str, Content] = {}
    for language in Language:
        with read_by(Reader(language=language)):
            made[PAGES[language]] = index_page(document, files).encode()
            made[NOTES[language]] = read_me(document).encode()
    return made


def _write_bag(folder: Path, document: PackDocument, files: Mapping[str, Content], keys: KeyPair) -> None:
    texts: dict[str, Content] = {
        PACK: as_json(document).encode(),
        **_pages(document, files),
        **{f"schemas/{name.rpartition('/')[2]}": _EXCHANGE / name for name in _SCHEMAS},
    }
    payload: dict[str, tuple[int, str]] = {}
    for name, content in {**files, **texts}.items():
        target = folder / DATA / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if isinstance(content, Path):
            shutil.copyfile(content, target)
        else:
            target.write_bytes(content)
        with target.open("rb") as stream:
            digest = hashlib.file_digest(stream, "sha256").hexdigest()
        payload[name] = (target.stat().st_size, digest)
    about = {
        "Source-Organization": document.sender.label,
        "Contact-Name": document.sender.person or document.sender.label,
        "External-Description": "Records of horses' backs and saddles, handed over to another practice",
        "External-Identifier": document.uuid,
        "Bagging-Date": document.made_at[:10],
        "Bag-Software-Agent": f"saddlebench {document.program_version}",
    }
    for name, text in bag_texts(payload, about, keys).items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
