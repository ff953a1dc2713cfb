"""Backups made under way, restored elsewhere and proved equal; rotation; and hostile archives."""

import hashlib
import io
import json
import shutil
import sqlite3
import stat
import threading
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.db import connection
from practice_cast import Cast, key
from practice_invented import invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.zips import ZipLimits
from saddlebench.practice import services
from saddlebench.practice.enums import Subject
from saddlebench.practice.keeping import archive, backup, rotation
from saddlebench.practice.keeping.backup import BEFORE_UPGRADE, DAILY, ON_DEMAND, Backup
from saddlebench.practice.keeping.database import (
    DamagedDatabaseError,
    check_database,
    contents,
    copy_database,
)
from saddlebench.practice.keeping.files import sniff, store, stored_path
from saddlebench.practice.keeping.lock import hold_folder
from saddlebench.practice.models import Entry
from saddlebench.practice.services import Entered

NOW = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)
JPEG = b"\xff\xd8\xff" + b"invented picture" * 100


@pytest.fixture
def kept(own_cast: Cast, file_database: Path) -> Path:
    yard = invented_yard(own_cast.fitter)
    stored = store(file_database, JPEG)
    services.attach_photo(
        own_cast.fitter, stored, services.PhotoFacts(original_sha256="1" * 64), visit=yard.visit.uuid
    )
    connection.close()
    return file_database


def test_a_backup_restores_elsewhere_and_is_proved_equal(kept: Path, tmp_path: Path) -> None:
    made = backup.back_up(kept, now=NOW)
    proof = backup.restore(made.path, tmp_path / "elsewhere")
    assert (proof.files, proof.bytes_of_files) == (1, len(JPEG))
    assert proof.rows > 50
    assert contents(tmp_path / "elsewhere" / "records.sqlite3") == contents(kept / "records.sqlite3")
    photo = next((tmp_path / "elsewhere" / "files").rglob("*.jpg"))
    assert photo.read_bytes() == JPEG
    assert stat.S_IMODE((tmp_path / "elsewhere" / "records.sqlite3").stat().st_mode) == 0o600
    assert stat.S_IMODE(made.path.stat().st_mode) == 0o600
    # The key that signs sessions is the folder's own: it is not carried about.
    with zipfile.ZipFile(made.path) as held:
        assert sorted(held.namelist())[-2:] == ["manifest.json", "records.sqlite3"]


def test_a_daily_backup_names_the_photos_and_takes_them_from_the_folder(kept: Path, tmp_path: Path) -> None:
    made = rotation.daily_backup(kept, NOW)
    assert made is not None
    with zipfile.ZipFile(made.path) as held:
        assert sorted(held.namelist()) == ["manifest.json", "records.sqlite3"]
    with pytest.raises(InputProblemsError, match="1 photos and scans lie beside"):
        backup.restore(made.path, tmp_path / "copy")
    proof = backup.restore(made.path, tmp_path / "copy", files_from=kept)
    assert (proof.files, proof.bytes_of_files) == (1, len(JPEG))
    assert next((tmp_path / "copy" / "files").rglob("*.jpg")).read_bytes() == JPEG
    photo = next((kept / "files").rglob("*.jpg"))
    photo.write_bytes(b"something else")
    with pytest.raises(InputProblemsError, match="is not what it was"):
        backup.restore(made.path, tmp_path / "second", files_from=kept)
    photo.unlink()
    with pytest.raises(InputProblemsError, match="is missing"):
        backup.restore(made.path, tmp_path / "second", files_from=kept)
    assert [path.name for path in tmp_path.iterdir() if "second" in path.name] == []


def test_a_disk_that_is_too_small_is_told_before_anything_is_unpacked(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = backup.back_up(kept, now=NOW)
    small = shutil.disk_usage(tmp_path)._replace(free=1000)
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: small)
    with pytest.raises(InputProblemsError, match="0 MB free"):
        backup.restore(made.path, tmp_path / "copy")
    assert [path.name for path in tmp_path.iterdir()] == ["home"]


def test_a_backup_holds_together_while_others_go_on_writing(
    own_cast: Cast, kept: Path, tmp_path: Path
) -> None:
    visit = services.start_visit(own_cast.fitter, on=NOW.date(), purpose=services.visits.Purpose.TRIAL)
    done = threading.Event()
    written: list[int] = []

    def write() -> None:
        while not done.is_set():
            one = Entered(field="reason", value=f"value {len(written)}", key=key(), seen=2**31 - 1)
            services.enter(own_cast.fitter, Subject.VISIT, visit.uuid, [one])
            written.append(len(written))
        connection.close()

    writer = threading.Thread(target=write)
    writer.start()
    counts = []
    try:
        for number in range(3):
            before = len(written)
            made = backup.back_up(kept, now=NOW + timedelta(seconds=number))
            backup.restore(made.path, tmp_path / f"copy-{number}")
            with sqlite3.connect(tmp_path / f"copy-{number}" / "records.sqlite3") as copy:
                query = "SELECT count(*) FROM practice_entry WHERE field = 'reason'"
                counts.append(copy.execute(query).fetchone()[0])
            copy.close()
            assert counts[-1] >= before
    finally:
        done.set()
        writer.join()
    assert len(written) > 3
    assert Entry.objects.filter(field="reason").count() == len(written)
    assert counts == sorted(counts)


def test_a_difference_of_one_row_is_noticed(kept: Path, tmp_path: Path) -> None:
    made = backup.back_up(kept, now=NOW)
    manifest = archive.read_manifest(made.path)
    backup.restore(made.path, tmp_path / "copy")
    database = tmp_path / "copy" / "records.sqlite3"
    changed = sqlite3.connect(database)
    changed.execute("UPDATE practice_horse SET label = label || '.'")
    changed.commit()
    changed.close()
    with pytest.raises(backup.NotEqualError, match="practice_horse") as caught:
        backup.prove_equal(manifest, tmp_path / "copy")
    assert caught.value.differing == ("practice_horse",)


def test_what_was_restored_is_swapped_in_and_the_old_folder_stays(kept: Path, tmp_path: Path) -> None:
    made = backup.back_up(kept, now=NOW)
    restored = tmp_path / "restored"
    backup.restore(made.path, restored)
    (kept / "records.sqlite3").write_bytes(b"damaged by somebody")
    # Side files of the damaged database must not be laid over the restored one.
    (kept / "records.sqlite3-wal").write_bytes(b"stale")
    old = backup.swap_in(restored, kept, now=NOW)
    check_database(kept / "records.sqlite3")
    assert not (kept / "records.sqlite3-wal").exists()
    assert (old / "records.sqlite3").read_bytes() == b"damaged by somebody"
    assert [one.path.name for one in backup.backups_in(kept)] == [made.path.name]


def test_a_folder_in_use_is_not_swapped(kept: Path, tmp_path: Path) -> None:
    made = backup.back_up(kept, now=NOW)
    backup.restore(made.path, tmp_path / "restored")
    with hold_folder(kept), pytest.raises(InputProblemsError, match="in use"):
        backup.swap_in(tmp_path / "restored", kept, now=NOW)
    check_database(kept / "records.sqlite3")
    with pytest.raises(InputProblemsError, match="already there"):
        backup.restore(made.path, kept)


def test_a_damaged_database_is_not_backed_up(kept: Path) -> None:
    database = kept / "records.sqlite3"
    content = bytearray(database.read_bytes())
    for page in range(4, len(content) // 4096, 3):
        content[page * 4096 : page * 4096 + 64] = b"\xff" * 64
    database.write_bytes(content)
    with pytest.raises((DamagedDatabaseError, sqlite3.DatabaseError)):
        backup.back_up(kept, now=NOW)
    assert backup.backups_in(kept) == []
    with pytest.raises(DamagedDatabaseError):
        check_database(Path(__file__))


def test_rows_that_refer_to_nothing_are_noticed(kept: Path) -> None:
    changed = sqlite3.connect(kept / "records.sqlite3")
    changed.execute("UPDATE practice_visit SET horse_id = 999999")
    changed.commit()
    changed.close()
    with pytest.raises(DamagedDatabaseError, match="refers to"):
        check_database(kept / "records.sqlite3")


def test_records_in_a_server_are_not_ours_to_copy(tmp_path: Path) -> None:
    with pytest.raises(InputProblemsError, match="server"):
        backup.back_up(tmp_path, now=NOW)


def test_one_backup_a_day_and_its_age(kept: Path) -> None:
    assert rotation.age_of_newest(kept, NOW) is None
    first = rotation.daily_backup(kept, NOW)
    assert first is not None
    assert rotation.daily_backup(kept, NOW + timedelta(hours=2)) is None
    assert rotation.daily_backup(kept, NOW + timedelta(hours=24)) is not None
    assert rotation.age_of_newest(kept, NOW + timedelta(hours=30)) == timedelta(hours=6)


def test_rotation_keeps_days_weeks_months_and_whatever_a_person_asked_for() -> None:
    days = [Backup(path=Path(f"d{n}"), kind=DAILY, made_at=NOW + timedelta(days=n)) for n in range(400)]
    asked = [Backup(path=Path("asked"), kind=ON_DEMAND, made_at=NOW)]
    upgrades = [
        Backup(path=Path(f"u{n}"), kind=BEFORE_UPGRADE, made_at=NOW + timedelta(days=n)) for n in range(5)
    ]
    everything = sorted([*days, *asked, *upgrades], key=lambda one: one.made_at, reverse=True)
    gone = {one.path.name for one in rotation.served_backups(everything, rotation.Rotation())}
    left = [one for one in everything if one.path.name not in gone]
    assert {one.path.name for one in left if one.kind != DAILY} == {"asked", "u2", "u3", "u4"}
    daily = [one.made_at for one in left if one.kind == DAILY]
    newest = NOW + timedelta(days=399)
    assert [one for one in daily if newest - one < timedelta(days=7)] == [
        newest - timedelta(days=n) for n in range(7)
    ]
    # Seven days, then weeks and months that no kept day stands for already.
    assert len({(one.year, one.month) for one in daily}) == 12
    assert len(daily) <= 7 + 5 + 12


def test_files_that_somebody_else_put_there_are_left_alone(kept: Path) -> None:
    folder = kept / "backups"
    folder.mkdir()
    for name in (
        "holiday.zip",
        "saddlebench-daily-notadate-ab12.zip",
        "saddlebench-other-20260301T060000Z-ab.zip",
    ):
        (folder / name).write_bytes(b"mine")
    rotation.daily_backup(kept, NOW)
    rotation.daily_backup(kept, NOW + timedelta(days=400))
    assert len([path for path in folder.iterdir() if path.read_bytes() == b"mine"]) == 3


def test_a_stored_file_is_named_by_what_it_holds(kept: Path) -> None:
    one, two = store(kept, JPEG), store(kept, JPEG)
    assert one == two
    assert stored_path(kept, one.sha256, "image/jpeg").read_bytes() == JPEG
    for content in (b"", b"<svg onload=x>", b"MZ", b"%PDF-1.4", b"GIF89a"):
        with pytest.raises(InputProblemsError):
            sniff(content)
    assert sniff(b"\x89PNG\r\n\x1a\n....") == "image/png"
    assert sniff(b"RIFF\x00\x00\x00\x00WEBPVP8 ") == "image/webp"
    assert sniff(b"\x00\x00\x00\x18ftypmp42") == "video/mp4"


# Hostile archives


def _entry(size: int, sha256: str = "0" * 64) -> dict[str, object]:
    return {"size": size, "sha256": sha256}


def _manifest(files: dict[str, object], **changes: object) -> bytes:
    whole = {
        "format": "saddlebench-backup",
        "format_version": 1,
        "made_at": "2026-03-01T06:00:00Z",
        "program_version": "1",
        "tables": {},
        "files": files,
    }
    return json.dumps({**whole, **changes}).encode()


def _zip(path: Path, members: dict[str, bytes], manifest: bytes | None) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in members.items():
            out.writestr(name, content)
        if manifest is not None:
            out.writestr("manifest.json", manifest)
    return path


def _traversal(path: Path) -> None:
    _zip(path, {"../../outside": b"x"}, _manifest({"../../outside": _entry(1)}))


def _absolute(path: Path) -> None:
    _zip(path, {"/tmp/outside": b"x"}, _manifest({"/tmp/outside": _entry(1)}))  # noqa: S108


def _backslash(path: Path) -> None:
    _zip(path, {"..\\outside": b"x"}, _manifest({"..\\outside": _entry(1)}))


def _bomb(path: Path) -> None:
    # True in every word: only what it unpacks to, against what it is, gives it away.
    content = b"\0" * (64 << 20)
    sha256 = hashlib.sha256(content).hexdigest()
    _zip(path, {"records.sqlite3": content}, _manifest({"records.sqlite3": _entry(len(content), sha256)}))


def _false_size(path: Path) -> None:
    content = b"x" * 5000
    sha256 = hashlib.sha256(content).hexdigest()
    _zip(path, {"records.sqlite3": content}, _manifest({"records.sqlite3": _entry(10, sha256)}))


def _false_hash(path: Path) -> None:
    _zip(path, {"records.sqlite3": b"x"}, _manifest({"records.sqlite3": _entry(1)}))


def _link(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as out:
        info = zipfile.ZipInfo("records.sqlite3")
        info.external_attr = (stat.S_IFLNK | 0o777) << 16
        out.writestr(info, "/etc/passwd")
        out.writestr("manifest.json", _manifest({"records.sqlite3": _entry(11)}))


def _absurd_count(path: Path) -> None:
    _zip(path, {"records.sqlite3": b"x"}, _manifest({"records.sqlite3": _entry(1 << 50)}))


def _missing(path: Path) -> None:
    _zip(path, {}, _manifest({"records.sqlite3": _entry(1)}))


def _stowaway(path: Path) -> None:
    _zip(path, {"records.sqlite3": b"x", "extra": b"y"}, _manifest({"records.sqlite3": _entry(1)}))


def _counts_on_what_lies_elsewhere(path: Path) -> None:
    files = {"records.sqlite3": {"size": 1, "sha256": hashlib.sha256(b"x").hexdigest()}}
    _zip(path, {"records.sqlite3": b"x"}, _manifest(files, beside={"../../etc/passwd": _entry(1)}))


def _no_manifest(path: Path) -> None:
    _zip(path, {"records.sqlite3": b"x"}, None)


def _odd_manifest(path: Path) -> None:
    _zip(path, {}, b'{"format": ["saddlebench"], "files": 7}')


def _newer(path: Path) -> None:
    _zip(path, {}, _manifest({}, format_version=2))


def _no_zip(path: Path) -> None:
    path.write_bytes(b"PK\x03\x04" + b"nonsense" * 50)


def _cut(path: Path) -> None:
    _zip(path, {"records.sqlite3": b"x" * 9000}, _manifest({"records.sqlite3": _entry(9000)}))
    path.write_bytes(path.read_bytes()[:-40])


def _flipped(path: Path) -> None:
    content = bytes(range(256)) * 40
    _zip(path, {"records.sqlite3": content}, _manifest({"records.sqlite3": _entry(len(content))}))
    damaged = bytearray(path.read_bytes())
    damaged[120] ^= 0xFF
    path.write_bytes(damaged)


HOSTILE: list[Callable[[Path], None]] = [
    _traversal, _absolute, _backslash, _bomb, _false_size, _false_hash, _link, _absurd_count, _missing,
    _stowaway, _no_manifest, _odd_manifest, _newer, _no_zip, _cut, _flipped,
    _counts_on_what_lies_elsewhere,
]  # fmt: skip


@pytest.mark.parametrize("make", HOSTILE, ids=lambda make: make.__name__)
def test_a_hostile_or_damaged_archive_is_refused_and_leaves_nothing(
    make: Callable[[Path], None], tmp_path: Path
) -> None:
    folder = tmp_path / "in" / "deep"
    folder.mkdir(parents=True)
    path = folder / "backup.zip"
    make(path)
    with pytest.raises(InputProblemsError) as caught:
        backup.restore(path, folder / "home")
    assert caught.value.problems[0].where.file == "backup.zip"
    assert [p.name for p in tmp_path.rglob("*")] == ["in", "deep", "backup.zip"]


def test_too_many_files_and_too_many_bytes_are_refused_before_anything_is_unpacked(tmp_path: Path) -> None:
    files = {f"files/{n}": b"x" for n in range(30)}
    path = _zip(tmp_path / "many.zip", files, _manifest({name: _entry(1) for name in files}))
    with pytest.raises(InputProblemsError, match="31 files"):
        archive.read_manifest(path, ZipLimits(entries=30))
    with pytest.raises(InputProblemsError, match="more than 20 bytes"):
        archive.verify(path, ZipLimits(total_bytes=20))


def test_a_member_that_says_it_is_short_and_is_not_is_stopped_as_it_flows(tmp_path: Path) -> None:
    # The list of files understates the size, as a bomb's would: what really comes out is counted.
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("records.sqlite3", b"\0" * (8 << 20))
        out.writestr("manifest.json", _manifest({"records.sqlite3": _entry(100)}))
    content = bytearray(raw.getvalue())
    size = (8 << 20).to_bytes(4, "little")
    for at in [i for i in range(len(content) - 4) if content[i : i + 4] == size]:
        content[at : at + 4] = (100).to_bytes(4, "little")
    path = tmp_path / "bomb.zip"
    path.write_bytes(content)
    with pytest.raises(InputProblemsError):
        archive.verify(path)


def test_what_is_longer_than_it_should_be_is_not_written_to_the_end(tmp_path: Path) -> None:
    content, out = io.BytesIO(b"\0" * (64 << 20)), io.BytesIO()
    entry = archive.FileEntry(size=100, sha256="0" * 64)
    with pytest.raises(InputProblemsError, match="longer than its manifest says"):
        archive._copy(tmp_path / "x.zip", content, entry, "records.sqlite3", out)
    assert out.tell() <= 1 << 20


def test_a_copy_is_one_file_whatever_lies_beside_the_original(kept: Path, tmp_path: Path) -> None:
    copy_database(kept / "records.sqlite3", tmp_path / "copy.sqlite3")
    moved = tmp_path / "moved.sqlite3"
    shutil.copy(tmp_path / "copy.sqlite3", moved)
    assert contents(moved) == contents(kept / "records.sqlite3")
    assert sorted(p.name for p in tmp_path.glob("*.sqlite3*")) == ["copy.sqlite3", "moved.sqlite3"]
