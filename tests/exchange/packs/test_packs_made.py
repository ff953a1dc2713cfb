"""Handover packs: made, opened, closed to others, read by other programs, of earlier and later versions."""

import base64
import hashlib
import io
import json
import re
import shutil
import subprocess
import zipfile
from dataclasses import replace
from pathlib import Path

import bagit
import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from saddlebench.engine.errors import InputProblemsError, Weight
from saddlebench.exchange.packs import KeyPair, made_keys, make_pack, opened_pack, parse_key_line
from saddlebench.exchange.packs.bag import DATA, SIGNATURE, TAG_MANIFEST
from saddlebench.exchange.packs.document import RecipientPart, upgraded
from saddlebench.exchange.packs.photos import bare_picture
from support.packs import Content, content_of, picture

PAST = Path(__file__).resolve().parents[2] / "past" / "packs"


@pytest.fixture(scope="module")
def keys() -> KeyPair:
    return made_keys()


@pytest.fixture(scope="module")
def content(keys: KeyPair) -> Content:
    return content_of(keys, photos=2, message="Please look at the <left> shoulder.")


@pytest.fixture(scope="module")
def pack(keys: KeyPair, content: Content, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pack") / "juniper.zip"
    make_pack(content.document, content.files, keys, path)
    return path


def unpacked(pack: Path, into: Path) -> Path:
    with zipfile.ZipFile(pack) as archive:
        archive.extractall(into)
    return into / "juniper"


def test_what_went_in_comes_out(pack: Path, keys: KeyPair, content: Content) -> None:
    with opened_pack(pack) as opened:
        assert opened.document == content.document
        assert opened.signed_by == keys.public
        assert opened.remarks == ()
        assert not opened.was_sealed
        assert {name: opened.content(name) for name in content.files} == content.files
        assert set(opened.proof) == {SIGNATURE, TAG_MANIFEST, "manifest-sha256.txt"}
        folder = opened.folder
    assert not folder.exists()


def test_the_same_content_makes_the_same_bytes(
    pack: Path, keys: KeyPair, content: Content, tmp_path: Path
) -> None:
    again = tmp_path / "juniper.zip"
    made = make_pack(content.document, content.files, keys, again)
    assert again.read_bytes() == pack.read_bytes()
    assert made.sha256 == hashlib.sha256(pack.read_bytes()).hexdigest()
    assert again.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == [again]


def test_the_reference_library_finds_a_valid_bag(pack: Path, tmp_path: Path) -> None:
    """RFC 8493 as the Library of Congress' own `bagit` checks it, every fixity computed anew."""
    folder = unpacked(pack, tmp_path)
    bag = bagit.Bag(str(folder))
    assert bag.validate(processes=1)
    assert bag.version_info == (1, 0)
    assert bag.algorithms == ["sha256"]
    assert bag.info["Source-Organization"] == "Gorse Saddlery (invented)"
    (folder / DATA / "pack.json").write_bytes(b"{}")
    with pytest.raises(bagit.BagValidationError):
        bag.validate(processes=1)


def test_a_folder_is_a_pack_too(pack: Path, content: Content, tmp_path: Path) -> None:
    with opened_pack(unpacked(pack, tmp_path)) as opened:
        assert opened.document == content.document
        assert opened.remarks == ()


def test_packed_anew_by_another_program_it_is_right_and_it_is_said(pack: Path, tmp_path: Path) -> None:
    folder = unpacked(pack, tmp_path)
    anew = Path(shutil.make_archive(str(tmp_path / "anew"), "zip", tmp_path, "juniper"))
    assert folder.is_dir()
    with opened_pack(anew) as opened:
        assert [one.weight for one in opened.remarks] == [Weight.WARNING]
        assert "packed anew" in opened.remarks[0].what


def test_closed_to_one_recipient_nobody_else_opens_it(
    keys: KeyPair, content: Content, tmp_path: Path
) -> None:
    friend, stranger = made_keys(), made_keys()
    named = RecipientPart(label="Tussock Saddles (invented)", key=friend.public.line)
    document = content.document.model_copy(update={"recipient": named})
    path = tmp_path / "juniper.zip.age"
    assert make_pack(document, content.files, keys, path, recipient=friend.public).is_sealed
    assert b"Juniper" not in path.read_bytes()
    for reader in (friend, keys):
        with opened_pack(path, [stranger, reader]) as opened:
            assert opened.was_sealed
            assert opened.remarks == ()
    for others, said in (([stranger], "closed to another key"), ([], "no key here")):
        with pytest.raises(InputProblemsError, match=said), opened_pack(path, others):
            pass


def test_handed_on_to_a_third_it_says_that_it_was_meant_for_another(
    keys: KeyPair, content: Content, tmp_path: Path
) -> None:
    friend, third = made_keys(), made_keys()
    document = content.document.model_copy(update={"recipient": RecipientPart(key=friend.public.line)})
    path = tmp_path / "juniper.zip"
    make_pack(document, content.files, keys, path)
    with opened_pack(path, [third]) as opened:
        assert "another practice's key" in opened.remarks[0].what


def test_a_speaker_for_another_key_is_refused(keys: KeyPair, content: Content, tmp_path: Path) -> None:
    """A pack that names one practice's key and is signed with another's: what an impostor would make."""
    impostor = made_keys()
    with pytest.raises(InputProblemsError, match="another key than its sender's"):
        make_pack(content.document, content.files, impostor, tmp_path / "x.zip")
    assert list(tmp_path.iterdir()) == []


def test_the_page_needs_no_program_and_nothing_from_elsewhere(pack: Path, tmp_path: Path) -> None:
    folder = unpacked(pack, tmp_path) / DATA
    page = (folder / "index.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert not re.search(r'(?:src|href)="(?:https?:)?//', page)
    named = set(re.findall(r'(?:src|href)="([^"]+)"', page))
    assert named
    assert all((folder / name).is_file() for name in named)
    assert "&lt;left&gt; shoulder" in page
    assert "A screening aid" in page
    assert "Room above the withers" in page
    assert "of 100 tries within the measuring errors say" in page
    assert "Juniper" in (folder / "index.html").read_text(encoding="utf-8")
    note = (folder / "READ-ME.txt").read_text(encoding="utf-8")
    assert "RFC 8493" in note


def test_records_follow_the_schemas_that_go_with_them(pack: Path, tmp_path: Path) -> None:
    folder = unpacked(pack, tmp_path) / DATA
    pairs = {"backs": "back", "saddles": "saddle", "fit-checks": "study"}
    for kind, schema in pairs.items():
        held = json.loads((folder / "schemas" / f"{schema}.schema.json").read_text("utf-8"))
        for file in (folder / "records" / kind).iterdir():
            jsonschema.validate(json.loads(file.read_text("utf-8")), held)
    schema = json.loads((folder / "schemas" / "pack.schema.json").read_text("utf-8"))
    jsonschema.validate(json.loads((folder / "pack.json").read_text("utf-8")), schema)


EARLIER = {
    "pack-a373b22.zip": (1, "49079 44146 84213 07228 78534 26099"),
    "pack-f210e32.zip": (2, "65800 67564 16575 91330 37964 70859"),
    "pack-8f1d511.zip": (3, "78877 92500 93375 21871 18961 31678"),
}
"""Version, and the fingerprint of the key that was made for it alone."""


def test_packs_of_earlier_versions_open() -> None:
    """Packs made by the program as it was; see tests/past/make_pack.py."""
    assert {one.name for one in PAST.glob("pack-*.zip")} == set(EARLIER)
    for name, (version, fingerprint) in EARLIER.items():
        with opened_pack(PAST / name) as opened:
            assert opened.upgraded_from == version
            assert opened.document.version == 4
            assert opened.document.message == "Please look at the left shoulder."
            assert opened.document.horses[0].label == "Juniper"
            assert opened.document.questions == ()
            assert (opened.document.plans, opened.document.films) == ((), ())
            assert (opened.document.changes, opened.document.shortlists) == ((), ())
            assert opened.signed_by.fingerprint == fingerprint


def test_a_newer_pack_is_refused_with_a_sentence(keys: KeyPair, content: Content, tmp_path: Path) -> None:
    newer = content.document.model_copy(update={"version": 5})
    with pytest.raises(InputProblemsError, match="newer saddlebench") as refused:
        make_pack(newer, content.files, keys, tmp_path / "x.zip")
    assert "Update saddlebench" in str(refused.value)


@pytest.mark.parametrize(
    ("version", "more"),
    [(1, {"questions": ("Why?",)}), (1, {"films": ()}), (2, {"visits": ()}), (3, {"changes": ()})],
)
def test_an_earlier_version_with_later_fields_is_none(
    content: Content, version: int, more: dict[str, object]
) -> None:
    kept = {name: getattr(content.document, name) for name in ("plans", "orders", "visits", "films")}
    held = content.document.model_dump(mode="json", exclude_none=True)
    with pytest.raises(InputProblemsError, match="field that its version does not know"):
        upgraded({**{name: one for name, one in held.items() if name not in kept}, **more}, version)


def test_a_key_line_survives_copying_and_a_wrong_sign_does_not(keys: KeyPair) -> None:
    line = keys.public.line
    assert re.fullmatch(r"[A-Z0-9:-]+", line)
    assert parse_key_line("  " + line[:40].lower() + "\r\n  " + line[40:] + "\n") == keys.public
    assert re.fullmatch(r"(\d{5} ){5}\d{5}", keys.public.fingerprint)
    for text, said in (
        ("", "no practice's key"),
        ("SADDLEBENCH-KEY:2:ABC", "newer kind"),
        (line[:-1], "not whole"),
        (line.replace(":AGE1", ":AGF1"), "not whole"),
    ):
        with pytest.raises(InputProblemsError, match=said):
            parse_key_line(text)


@given(where=st.integers(18, 136), sign=st.sampled_from("ABCDEFGHIJKLMNOPQRSTUVWXYZ234567:"))
def test_one_wrong_sign_in_a_key_line_is_noticed(keys: KeyPair, where: int, sign: str) -> None:
    line = keys.public.line
    typed = line[:where] + sign + line[where + 1 :]
    if typed != line:
        with pytest.raises(InputProblemsError):
            parse_key_line(typed)


def test_pictures_go_without_place_time_and_camera() -> None:
    image = Image.open(io.BytesIO(picture(1)))
    exif = Image.Exif()
    exif[0x0110] = "a camera"
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (51.0, 28.0, 40.0)
    for kind in ("JPEG", "PNG", "WEBP"):
        out = io.BytesIO()
        image.save(out, kind, exif=exif)
        bare = bare_picture(out.getvalue(), "x")
        again = Image.open(io.BytesIO(bare.content))
        assert not again.getexif()
        assert again.getexif().get_ifd(0x8825) == {}
        assert b"a camera" not in bare.content
        assert (again.format, again.size) == (kind, (bare.width_px, bare.height_px))
    assert bare_picture(picture(1), "x").content == picture(1)


def test_a_private_key_never_goes_with_a_pack(pack: Path, keys: KeyPair) -> None:
    held = pack.read_bytes()
    assert keys.identity.encode() not in held
    assert keys.seed not in held
    assert replace(keys) == keys


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl on this machine")
def test_openssl_finds_the_signature_right(pack: Path, keys: KeyPair, tmp_path: Path) -> None:
    """RFC 8032, checked by OpenSSL's command with the public key as RFC 8410 wraps it."""
    folder = unpacked(pack, tmp_path)
    held = json.loads((folder / SIGNATURE).read_text("utf-8"))
    wrapped = bytes.fromhex("302a300506032b6570032100") + base64.b64decode(held["public_key"])
    (tmp_path / "key.der").write_bytes(wrapped)
    (tmp_path / "signature").write_bytes(base64.b64decode(held["signature"]))
    command = [
        *("openssl", "pkeyutl", "-verify", "-pubin", "-keyform", "DER", "-inkey", "key.der", "-rawin"),
        *("-in", str(folder / TAG_MANIFEST), "-sigfile", "signature"),
    ]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, check=False)  # noqa: S603
    assert done.returncode == 0, done.stdout
    (folder / TAG_MANIFEST).write_bytes((folder / TAG_MANIFEST).read_bytes() + b"\n")
    assert subprocess.run(command, cwd=tmp_path, capture_output=True, check=False).returncode != 0  # noqa: S603
