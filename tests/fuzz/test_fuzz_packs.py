"""Handover packs from an enemy: every changed byte is found, and nothing hostile is unpacked or believed."""

import hashlib
import io
import json
import os
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.packs import KeyPair, PackLimits, made_keys, make_pack, opened_pack
from saddlebench.exchange.packs.bag import DATA, SIGNATURE, TAG_MANIFEST, signature_text
from saddlebench.exchange.packs.container import write_zip
from support.packs import Content, content_of, version


@pytest.fixture(scope="module")
def keys() -> KeyPair:
    return made_keys()


@pytest.fixture(scope="module")
def content(keys: KeyPair) -> Content:
    return content_of(keys, with_study=False)


@pytest.fixture(scope="module")
def pack(keys: KeyPair, content: Content, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pack") / "juniper.zip"
    make_pack(content.document, content.files, keys, path)
    return path


@pytest.fixture(scope="module")
def sealed(keys: KeyPair, content: Content, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sealed") / "juniper.age"
    make_pack(content.document, content.files, keys, path, recipient=keys.public)
    return path


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("changed") / "changed.zip"


def is_found(path: Path, keys: KeyPair) -> bool:
    """Tell whether opening says that something is not as it was sent."""
    try:
        with opened_pack(path, [keys]) as opened:
            return bool(opened.remarks)
    except InputProblemsError as error:
        return all(problem.what and problem.cure for problem in error.problems)


def with_byte(held: bytes, at: float, by: int) -> bytes:
    place = int(at * len(held))
    return held[:place] + bytes([held[place] ^ by]) + held[place + 1 :]


FLIPS = (st.floats(0, 1, exclude_max=True), st.integers(1, 255))


@settings(max_examples=60)
@given(*FLIPS)
def test_any_byte_of_the_file_that_changes_is_found(
    pack: Path, keys: KeyPair, changed: Path, at: float, by: int
) -> None:
    changed.write_bytes(with_byte(pack.read_bytes(), at, by))
    assert is_found(changed, keys)


@settings(max_examples=40)
@given(*FLIPS)
def test_any_byte_of_a_closed_file_that_changes_is_found(
    sealed: Path, keys: KeyPair, changed: Path, at: float, by: int
) -> None:
    changed.write_bytes(with_byte(sealed.read_bytes(), at, by))
    assert is_found(changed, keys)


def test_any_byte_of_a_small_file_that_changes_is_refused(pack: Path, keys: KeyPair, tmp_path: Path) -> None:
    """The five texts around the records: in a folder there is no zip that helps."""
    with zipfile.ZipFile(pack) as archive:
        archive.extractall(tmp_path)
    folder = tmp_path / "juniper"
    for name in ("bagit.txt", "bag-info.txt", "manifest-sha256.txt", TAG_MANIFEST, SIGNATURE):
        whole = (folder / name).read_bytes()
        for place in range(0, len(whole), 7):
            (folder / name).write_bytes(with_byte(whole, place / len(whole), 1 + place % 255))
            with pytest.raises(InputProblemsError), opened_pack(folder):
                pass
        (folder / name).write_bytes(whole)
    with opened_pack(folder) as opened:
        assert opened.signed_by == keys.public


@settings(max_examples=30)
@given(st.binary(max_size=400))
def test_anything_else_is_refused_in_words(changed: Path, keys: KeyPair, junk: bytes) -> None:
    for held in (junk, b"PK\x03\x04" + junk, b"age-encryption.org/v1\n" + junk):
        changed.write_bytes(held)
        with pytest.raises(InputProblemsError), opened_pack(changed, [keys]):
            pass


def refused(path: Path, said: str, limits: PackLimits | None = None) -> None:
    with pytest.raises(InputProblemsError, match=said), opened_pack(path, limits=limits):
        pass


def rezipped(pack: Path, target: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    with zipfile.ZipFile(pack) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    change(held)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in held.items():
            archive.writestr(name, content)
    return target


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("../evil.txt", "leads elsewhere"),
        ("juniper/../../evil.txt", "leads elsewhere"),
        ("/etc/evil.txt", "leads elsewhere"),
        ("juniper/data\\..\\evil.txt", "leads elsewhere"),
        ("C:/evil.txt", "leads elsewhere"),
        ("other/evil.txt", "more than one folder"),
        ("juniper/evil.txt", "one file too many"),
        ("juniper/fetch.txt", "one file too many"),
        ("juniper/tagmanifest-md5.txt", "one file too many"),
        ("juniper/data/evil.html", "not as it was sent"),
        ("juniper/data/pack.json/evil", "two things of one name"),
    ],
)
def test_a_file_where_none_belongs_is_refused(pack: Path, tmp_path: Path, name: str, said: str) -> None:
    hostile = rezipped(pack, tmp_path / "hostile.zip", lambda held: held.update({name: b"evil"}))
    refused(hostile, said)
    assert not list(tmp_path.rglob("evil*"))


def test_a_missing_file_is_refused(pack: Path, tmp_path: Path) -> None:
    for name in ("juniper/signature.json", "juniper/bagit.txt", "juniper/data/READ-ME.txt"):
        hostile = rezipped(pack, tmp_path / "hostile.zip", lambda held, name=name: held.pop(name))
        refused(hostile, "not as it was sent")


def test_bombs_and_crowds_are_refused_before_they_are_unpacked(pack: Path, tmp_path: Path) -> None:
    bomb = rezipped(pack, tmp_path / "bomb.zip", lambda held: held.update({"juniper/b": bytes(64 << 20)}))
    assert bomb.stat().st_size < 1 << 20
    refused(bomb, "absurdly more")
    refused(pack, "more than 5", PackLimits(entries=5))
    refused(pack, "unpacks to more than", PackLimits(total_bytes=1000))
    refused(pack, "is larger than", PackLimits(file_bytes=1000))


def test_a_file_longer_than_its_zip_says_is_refused(pack: Path, tmp_path: Path) -> None:
    """The sizes in the list are set small; what really comes out counts."""
    hostile = tmp_path / "hostile.zip"
    with zipfile.ZipFile(hostile, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("juniper/bagit.txt", bytes(3 << 20))
    held = bytearray(hostile.read_bytes())
    size = (3 << 20).to_bytes(4, "little")
    place = held.rindex(size)
    held[place : place + 4] = (10).to_bytes(4, "little")
    hostile.write_bytes(bytes(held))
    refused(hostile, "no archive|more than|not as it was sent")


def test_links_are_refused_in_zip_and_folder(pack: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.zip"
    with zipfile.ZipFile(link, "w") as archive:
        info = zipfile.ZipInfo("juniper/bagit.txt")
        info.create_system, info.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
        archive.writestr(info, "/etc/hostname")
    refused(link, "no plain file")
    with zipfile.ZipFile(pack) as archive:
        archive.extractall(tmp_path)
    inside = tmp_path / "juniper" / DATA / "READ-ME.txt"
    inside.unlink()
    inside.symlink_to("/etc/hostname")
    refused(tmp_path / "juniper", "no plain file")
    inside.unlink()
    os.mkfifo(inside)
    refused(tmp_path / "juniper", "no plain file")


def signed_anew(pack: Path, folder: Path, keys: KeyPair, change: Callable[[Path], None]) -> Path:
    """Make what a sender with a right key and bad intent makes: hashed and signed as it should be."""
    with zipfile.ZipFile(pack) as archive:
        archive.extractall(folder)
    bag = folder / "juniper"
    change(bag / DATA)
    files = sorted(one for one in (bag / DATA).rglob("*") if one.is_file())
    digest = {one: hashlib.sha256(one.read_bytes()).hexdigest() for one in files}
    listed = "".join(f"{digest[one]}  {one.relative_to(bag).as_posix()}\n" for one in files)
    (bag / "manifest-sha256.txt").write_text(listed, encoding="utf-8")
    info = (bag / "bag-info.txt").read_text("utf-8").rpartition("Payload-Oxum")[0]
    octets = sum(one.stat().st_size for one in files)
    (bag / "bag-info.txt").write_text(f"{info}Payload-Oxum: {octets}.{len(files)}\n", encoding="utf-8")
    names = ("bag-info.txt", "bagit.txt", "manifest-sha256.txt")
    tags = "".join(f"{hashlib.sha256((bag / name).read_bytes()).hexdigest()}  {name}\n" for name in names)
    (bag / TAG_MANIFEST).write_text(tags, encoding="utf-8")
    (bag / SIGNATURE).write_text(signature_text(keys.public, keys.sign(tags.encode())), encoding="utf-8")
    return bag


def in_pack_json(change: Callable[[dict[str, object]], None]) -> Callable[[Path], None]:
    def changed(data: Path) -> None:
        held = json.loads((data / "pack.json").read_text("utf-8"))
        change(held)
        (data / "pack.json").write_text(json.dumps(held), encoding="utf-8")

    return changed


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda held: held.update(horses="all"), "list|valid"),
        (lambda held: held.update(horses=held["horses"] * 600), "most|at most|500"),
        (lambda held: held.update(horses=held["horses"] * 2), "twice"),
        (lambda held: held.update(horses=[]), "does not hold together"),
        (lambda held: held.update(surprise=1), "not a field"),
        (lambda held: held.update(version=99), "newer saddlebench"),
        (lambda held: held.update(version=True), "version"),
        (lambda held: held.update(uuid="../../x"), "uuid"),
        (lambda held: held["photos"][0].update(file="../../../etc/hostname"), "file"),
        (lambda held: held["photos"][0].update(file="photos/none.jpg"), "its list and its files differ"),
        (lambda held: held["photos"][0].update(media_type="image/png"), "another kind"),
        (lambda held: held["photos"][0].update(sha256="0" * 64), "not the picture"),
        (lambda held: held["backs"][0]["version"].update(sha256="0" * 64), "not the record"),
        (lambda held: held["backs"][0].update(version=held["saddle_records"][0]["version"]), "differ"),
        (lambda held: held["sender"].update(key=made_keys().public.line), "another key"),
        (lambda held: held["sender"].update(key="x"), "no practice's key"),
        (lambda held: held["horses"][0].update(height_cm=float("1e309")), "cannot be read|finite"),
    ],
)
def test_a_rightly_signed_list_that_cannot_be_is_refused(
    pack: Path, keys: KeyPair, tmp_path: Path, change: Callable[[dict[str, object]], None], said: str
) -> None:
    refused(signed_anew(pack, tmp_path, keys, in_pack_json(change)), said)


def test_signed_anew_without_a_change_it_opens(pack: Path, keys: KeyPair, tmp_path: Path) -> None:
    with opened_pack(signed_anew(pack, tmp_path, keys, lambda _: None)) as opened:
        assert opened.signed_by == keys.public


def replaced(folder: str, content: bytes) -> Callable[[Path], None]:
    """Put other bytes in the place of a record or photo, and state their hash rightly."""

    def changed(data: Path) -> None:
        path = next((data / folder).iterdir())
        path.write_bytes(content)
        held = json.loads((data / "pack.json").read_text("utf-8"))
        name = path.relative_to(data).as_posix()
        for part in (*held["photos"], *(one["version"] for one in (*held["backs"], *held["saddle_records"]))):
            if part["file"] == name:
                part["sha256"] = version(name, content).sha256
        (data / "pack.json").write_text(json.dumps(held), encoding="utf-8")

    return changed


def huge_picture() -> bytes:
    out = io.BytesIO()
    Image.new("1", (12_000, 12_000)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize(
    ("folder", "made", "said"),
    [
        ("photos", lambda: b"<script>", "no picture"),
        ("photos", huge_picture, "more dots"),
        ("photos", lambda: b"GIF89a" + bytes(40), "no picture"),
        ("records/backs", lambda: b"\xff\xfe", "no text"),
        ("records/backs", lambda: b"[]", "not a record"),
        ("records/backs", lambda: b"[" * 100_000, "JSON|not a record"),
        ("records/backs", lambda: b'{"format": "saddlebench saddle record", "version": 1}', "saddle record"),
        ("records/backs", lambda: b'{"format": "saddlebench back record", "version": 77}', "newer"),
        ("records/saddles", lambda: b'{"format": "saddlebench saddle record", "version": 1}', "missing"),
    ],
)
def test_rightly_signed_records_that_are_none_are_refused(
    pack: Path, keys: KeyPair, tmp_path: Path, folder: str, made: Callable[[], bytes], said: str
) -> None:
    refused(signed_anew(pack, tmp_path, keys, replaced(folder, made())), said)


def test_a_bag_with_nothing_signed_in_it_is_refused(pack: Path, keys: KeyPair, tmp_path: Path) -> None:
    """A right signature over a list that names no file would hold for any content."""
    bag = signed_anew(pack, tmp_path, keys, lambda _: None)
    (bag / TAG_MANIFEST).write_text("", encoding="utf-8")
    (bag / SIGNATURE).write_text(signature_text(keys.public, keys.sign(b"")), encoding="utf-8")
    refused(bag, "does not name what it should")
    target = tmp_path / "again.zip"
    names = [one.relative_to(bag).as_posix() for one in bag.rglob("*") if one.is_file()]
    with target.open("wb") as out:
        write_zip(out, bag, names, "juniper")
    refused(target, "does not name what it should")
