"""A byte of every kind in a pack is changed, one at a time: each is found, whatever it is part of.

The kinds are those of a zip (PKWARE APPNOTE 6.3: local headers, content, central directory, end), of a bag
(RFC 8493: its texts, and the files under data/), and of the age format (header lines, MAC, nonce, chunks).
"""

import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.packs import KeyPair, made_keys, make_pack, opened_pack
from support.packs import content_of

_LOCAL_HEADER = 30


@pytest.fixture(scope="module")
def keys() -> KeyPair:
    return made_keys()


@pytest.fixture(scope="module")
def pack(keys: KeyPair, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pack") / "juniper.zip"
    content = content_of(keys, films=1, with_study=False)
    make_pack(content.document, content.files, keys, path)
    return path


def places(begin: int, end: int) -> set[int]:
    """Return the first, the middle and the last byte of a region."""
    return {begin, (begin + end) // 2, end - 1}


def kinds_of(path: Path) -> Iterator[tuple[str, int]]:
    """Yield a name and a place for bytes of every kind."""
    with zipfile.ZipFile(path) as archive:
        held, central = archive.infolist(), archive.start_dir
    for one in held:
        named = one.header_offset + _LOCAL_HEADER
        begin = named + len(one.filename.encode())
        yield from ((f"header of {one.filename}", at) for at in places(one.header_offset, named))
        yield from ((f"name of {one.filename}", at) for at in places(named, begin))
        yield from ((one.filename, at) for at in places(begin, begin + one.file_size))
    size = path.stat().st_size
    yield from (("directory", at) for at in range(central, size - 22, 31))
    yield from (("its end", at) for at in range(size - 22, size))


def is_found(path: Path, keys: KeyPair) -> bool:
    try:
        with opened_pack(path, [keys]) as opened:
            return bool(opened.remarks)
    except InputProblemsError as error:
        return all(one.what and one.cure for one in error.problems)


def test_one_changed_byte_of_every_kind_is_found(pack: Path, keys: KeyPair, tmp_path: Path) -> None:
    whole, changed = pack.read_bytes(), tmp_path / "changed.zip"
    places_tried = list(kinds_of(pack))
    kinds = {name.rpartition("/")[2] for name, _ in places_tried}
    assert {
        "pack.json",
        "index.de.html",
        "001.mp4",
        "01.jpg",
        "signature.json",
        "manifest-sha256.txt",
    } <= kinds
    missed = []
    for name, at in places_tried:
        changed.write_bytes(whole[:at] + bytes([whole[at] ^ (1 + at % 255)]) + whole[at + 1 :])
        if not is_found(changed, keys):
            missed.append((name, at))
    assert missed == []
    assert len(places_tried) > 200


def test_a_byte_more_or_less_is_found(pack: Path, keys: KeyPair, tmp_path: Path) -> None:
    whole, changed = pack.read_bytes(), tmp_path / "changed.zip"
    for held in (whole[:-1], whole + b"\0", b"\0" + whole, whole[1:], whole[: len(whole) // 2]):
        changed.write_bytes(held)
        assert is_found(changed, keys)


def test_one_changed_byte_of_every_kind_of_a_closed_pack_is_found(keys: KeyPair, tmp_path: Path) -> None:
    content = content_of(keys, with_study=False)
    make_pack(content.document, content.files, keys, tmp_path / "x.age", recipient=keys.public)
    whole, changed = (tmp_path / "x.age").read_bytes(), tmp_path / "changed.age"
    header = whole.index(b"\n---") + 4
    mac = whole.index(b"\n", header) + 1
    regions = {
        "first line": (0, whole.index(b"\n")),
        "stanzas": (whole.index(b"\n"), header - 4),
        "MAC": (header, mac),
        "nonce": (mac, mac + 16),
        "first chunk": (mac + 16, mac + 16 + 65536 + 16),
        "last chunk": (len(whole) - 64, len(whole)),
    }
    for name, (begin, end) in regions.items():
        for at in range(begin, min(end, len(whole)), max(1, (end - begin) // 12)):
            changed.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
            assert is_found(changed, keys), (name, at)
