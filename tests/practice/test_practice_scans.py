"""Scans: their files kept as raw readings, backed up and restored, erased with their person."""

import sqlite3
import uuid as uuids
import zipfile
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, transaction
from practice_cast import Cast
from practice_invented import BACK, Invented, invented_yard

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.units import Length
from saddlebench.practice import services
from saddlebench.practice.crossing.leaving import leave
from saddlebench.practice.keeping import backup, rotation
from saddlebench.practice.keeping.scans import StoredScan, scan_path, store_scan, work_folder
from saddlebench.practice.models import SaddleScan, Scan, ScanFile
from saddlebench.practice.queries.saddle_scans import saddle_scan, saddle_scans_of
from saddlebench.practice.queries.scans import ScanState, scan_page, scans_of
from saddlebench.practice.services.saddle_scans import bring_saddle_scan
from saddlebench.practice.services.scans import (
    ScanFacts,
    bring_scan,
    put_scan_aside,
    scan_became,
    set_scan_mark,
    state_common_places,
    take_scan_up,
    undo_scan_mark,
)
from saddlebench.practice.settings import DATABASE_NAME

NOW = datetime(2026, 3, 1, 6, 0, tzinfo=UTC)
POINTS = b"0 0 0\n1 0 0\n0 1 0\n"
MOST = 1_000_000


def stored(home: Path, content: bytes = POINTS, name: str = "yard.xyz") -> StoredScan:
    return store_scan(home, name, [content[:5], content[5:]], MOST)


def brought(cast: Cast, home: Path, yard: Invented, *files: StoredScan, unit: Length | None = None) -> Scan:
    facts = ScanFacts(measured_on=date(2026, 3, 1), unit=unit)
    return bring_scan(
        cast.fitter,
        uuids.uuid4(),
        yard.horse.uuid,
        files or [stored(home)],
        facts,
        visit_uuid=yard.visit.uuid,
    )


def test_a_file_is_kept_by_its_hash_and_the_same_bytes_once(tmp_path: Path) -> None:
    first, second = stored(tmp_path), stored(tmp_path, name="../../evil/.Wilma’s scan.XYZ")
    assert first.sha256 == second.sha256
    assert (second.name, second.suffix) == ("Wilma_s scan.XYZ", ".xyz")
    assert scan_path(tmp_path, first.sha256, ".xyz").read_bytes() == POINTS
    assert len([one for one in (tmp_path / "files").rglob("*") if one.is_file()]) == 1


@pytest.mark.parametrize(("content", "words"), [(b"", "is empty"), (b"x" * (MOST + 1), "more than 1 MB")])
def test_what_is_empty_or_too_large_leaves_nothing_behind(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(InputProblemsError, match=words):
        stored(tmp_path, content)
    assert [one for one in (tmp_path / "files").rglob("*") if one.is_file()] == []


def test_backups_hold_the_files_and_a_restore_brings_scan_marks_and_file_back(
    own_cast: Cast, file_database: Path, tmp_path: Path
) -> None:
    yard = invented_yard(own_cast.fitter)
    # Hardly anything but zeros: packed, it would look like a bomb to the restore.
    zeros = stored(file_database, POINTS + b"0 0 0\n" * 100_000, "zeros.xyz")
    scan = brought(own_cast, file_database, yard, zeros)
    set_scan_mark(own_cast.fitter, scan.uuid, ScanMark.LAST_RIB, at=(1.0, 2.0, 3.0), felt=True)
    work = work_folder(file_database, scan.uuid)
    work.mkdir(parents=True)
    (work / "look.json").write_text("{}")
    connection.close()

    asked = backup.back_up(file_database, now=NOW)
    daily = rotation.daily_backup(file_database, NOW)
    assert daily is not None
    with zipfile.ZipFile(asked.path) as held:
        assert [name for name in held.namelist() if zeros.sha256 in name]
        assert not [name for name in held.namelist() if "look.json" in name]
    with zipfile.ZipFile(daily.path) as held:
        assert not [name for name in held.namelist() if zeros.sha256 in name]

    for number, (made, source) in enumerate(((asked, None), (daily, file_database))):
        into = tmp_path / f"elsewhere-{number}"
        assert backup.restore(made.path, into, files_from=source).files == 1
        assert scan_path(into, zeros.sha256, zeros.suffix).stat().st_size == zeros.size_bytes
    with pytest.raises(InputProblemsError, match="photos and scans lie beside"):
        backup.restore(daily.path, tmp_path / "without")


def test_leaving_takes_scans_along_as_they_came(cast: Cast, home: Path, tmp_path: Path) -> None:
    scan = brought(cast, home, invented_yard(cast.fitter))
    leave(cast.owner, tmp_path / "all.zip", home)
    with zipfile.ZipFile(tmp_path / "all.zip") as held:
        (name,) = (one for one in held.namelist() if one.startswith("scans/"))
        assert held.read(name) == POINTS
        assert str(scan.uuid) in held.read("json/scan.json").decode()
        assert "yard.xyz" in held.read("tables/scanfile.csv").decode()


def test_files_rows_are_written_once(cast: Cast, home: Path) -> None:
    brought(cast, home, invented_yard(cast.fitter))
    with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():
        ScanFile.objects.update(name="other")
    with pytest.raises(IntegrityError, match="rows are kept"), transaction.atomic():
        ScanFile.objects.all().delete()


def test_erasing_a_person_erases_the_scans_of_their_horses_and_nobody_elses(cast: Cast, home: Path) -> None:
    yard = invented_yard(cast.fitter)
    other = invented_yard(cast.fitter, name="Gorse Tansley", horse="Bracken", chip="985000123456790")
    shared, own = stored(home), stored(home, POINTS + b"1 1 1\n", "own.xyz")
    scan = brought(cast, home, yard, shared, own, unit=Length.M)
    named = stored(home, POINTS + b"2 2 2\n", "beside Wilma Fernlea.xyz")
    brought(cast, home, other, shared, named, unit=Length.M)
    work = work_folder(home, scan.uuid)
    work.mkdir(parents=True)
    services.erase_person(cast.owner, yard.client.uuid, home)
    assert not work.exists()
    assert not scan_path(home, own.sha256, own.suffix).exists()
    # What another horse's scan holds as well stays; the person's name does not.
    assert scan_path(home, shared.sha256, shared.suffix).exists()
    assert scan_path(home, named.sha256, named.suffix).exists()
    names = [*ScanFile.objects.values_list("name", flat=True), *Scan.objects.values_list("label", flat=True)]
    assert Scan.objects.count() == 1
    assert not [one for one in names if "Wilma" in one or "Fernlea" in one]


def test_marks_are_folded_from_what_was_said_and_taken_back(cast: Cast, home: Path) -> None:
    scan = brought(cast, home, invented_yard(cast.fitter))
    steps = [((1.0, 0.0, 0.0), False), ((1.0, 0.0, 0.0), True), ((2.0, 0.0, 0.0), False)]
    for at, felt in steps:
        set_scan_mark(cast.fitter, scan.uuid, ScanMark.WITHERS, at=at, felt=felt)
    for left in reversed(range(3)):
        undo_scan_mark(cast.fitter, scan.uuid)
        page = scan_page(cast.fitter, scan.uuid)
        told = page.said.get(ScanMark.WITHERS)
        assert (told is None) == (left == 0)
        assert told is None or (told.at, told.felt) == steps[left - 1]
        assert page.can_undo == (left > 0)
    # One more than there is changes nothing, and everything stays written down.
    undo_scan_mark(cast.fitter, scan.uuid)
    assert scan_page(cast.fitter, scan.uuid).said == {}
    assert len(Scan.objects.get().marking) == 7
    with pytest.raises(InputProblemsError, match="no place"):
        set_scan_mark(cast.fitter, scan.uuid, ScanMark.WITHERS, at=(float("nan"), 0.0, 0.0), felt=False)


def test_pieces_need_their_unit_and_are_not_one_file_twice(cast: Cast, home: Path) -> None:
    yard = invented_yard(cast.fitter)
    left, right = stored(home), stored(home, POINTS + b"1 1 1\n", "right.xyz")
    with pytest.raises(InputProblemsError, match="unit of the pieces"):
        brought(cast, home, yard, left, right)
    with pytest.raises(InputProblemsError, match="chosen twice"):
        brought(cast, home, yard, left, left, unit=Length.M)
    scan = brought(cast, home, yard, left, right, unit=Length.M)
    page = scan_page(cast.fitter, scan.uuid)
    assert [one.name for one in page.files] == ["yard.xyz", "right.xyz"]
    assert page.unit is Length.M

    place = (0.0, 0.0, 0.0)
    for wrong in ([[place] * 3, [place] * 2], [[place] * 2] * 2, [[place] * 3]):
        with pytest.raises(InputProblemsError):
            state_common_places(cast.fitter, scan.uuid, wrong)
    state_common_places(cast.fitter, scan.uuid, [[place] * 3, [place] * 3])
    assert scan_page(cast.fitter, scan.uuid).common == ((place,) * 3, (place,) * 3)


def test_a_scan_is_listed_with_its_state_at_its_visit_and_horse(cast: Cast, home: Path) -> None:
    yard = invented_yard(cast.fitter)
    scan = brought(cast, home, yard)
    (row,) = scans_of(cast.fitter, visit=yard.visit.uuid)
    assert (row.state, row.is_open) == (ScanState.TO_CONFIRM, True)
    put_scan_aside(cast.fitter, scan.uuid)
    assert scans_of(cast.fitter, horse=yard.horse.uuid)[0].state is ScanState.ASIDE
    take_scan_up(cast.fitter, scan.uuid)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=date(2026, 3, 1))
    scan_became(cast.fitter, scan.uuid, back.version.back.uuid)
    (row,) = scans_of(cast.fitter, horse=yard.horse.uuid)
    assert (row.state, row.back) == (ScanState.KEPT, back.version.back.uuid)


def of_a_saddle(cast: Cast, yard: Invented, one: StoredScan) -> SaddleScan:
    return bring_saddle_scan(cast.fitter, uuids.uuid4(), yard.saddle.uuid, one, Length.M)


def test_a_saddles_scan_is_brought_once_and_belongs_to_its_saddle(cast: Cast, home: Path) -> None:
    yard = invented_yard(cast.fitter)
    scan = of_a_saddle(cast, yard, stored(home, name="rowan.xyz"))
    again = bring_saddle_scan(cast.fitter, scan.uuid, yard.saddle.uuid, stored(home), Length.MM)
    assert again == scan
    (kept,) = saddle_scans_of(cast.fitter, yard.saddle.uuid)
    assert (kept.uuid, kept.name, kept.unit, kept.made_by) == (
        scan.uuid,
        "rowan.xyz",
        Length.M,
        cast.fitter.label,
    )
    with pytest.raises(services.NotFoundError):
        bring_saddle_scan(cast.fitter, scan.uuid, yard.stock.uuid, stored(home), Length.M)
    with pytest.raises(services.NotFoundError):
        saddle_scan(cast.fitter, yard.stock.uuid, scan.uuid)
    with pytest.raises(IntegrityError, match="never changed"), transaction.atomic():
        SaddleScan.objects.update(unit="mm")
    with pytest.raises(IntegrityError, match="rows are kept"), transaction.atomic():
        SaddleScan.objects.all().delete()


def test_backups_hold_a_saddles_scan_and_a_restore_brings_it_back(
    own_cast: Cast, file_database: Path, tmp_path: Path
) -> None:
    one = stored(file_database, name="rowan.xyz")
    of_a_saddle(own_cast, invented_yard(own_cast.fitter), one)
    connection.close()
    asked = backup.back_up(file_database, now=NOW)
    daily = rotation.daily_backup(file_database, NOW)
    assert daily is not None
    for number, (made, source) in enumerate(((asked, None), (daily, file_database))):
        into = tmp_path / f"elsewhere-{number}"
        backup.restore(made.path, into, files_from=source)
        assert scan_path(into, one.sha256, one.suffix).read_bytes() == POINTS
        with closing(sqlite3.connect(into / DATABASE_NAME)) as rows:
            assert rows.execute("SELECT name, unit FROM practice_saddlescan").fetchall() == [
                ("rowan.xyz", "m")
            ]


def test_leaving_takes_a_saddles_scan_along(cast: Cast, home: Path, tmp_path: Path) -> None:
    of_a_saddle(cast, invented_yard(cast.fitter), stored(home, name="rowan.xyz"))
    leave(cast.owner, tmp_path / "all.zip", home)
    with zipfile.ZipFile(tmp_path / "all.zip") as held:
        (name,) = (one for one in held.namelist() if one.startswith("scans/"))
        assert held.read(name) == POINTS
        assert "rowan.xyz" in held.read("tables/saddlescan.csv").decode()


def test_erasing_a_person_erases_the_scans_of_their_saddles_and_no_shared_file(
    cast: Cast, home: Path
) -> None:
    yard = invented_yard(cast.fitter)
    shared, own = stored(home), stored(home, POINTS + b"1 1 1\n")
    named = stored(home, POINTS + b"2 2 2\n", "saddle of Wilma Fernlea.xyz")
    of_a_saddle(cast, yard, shared)
    of_a_saddle(cast, yard, own)
    for one in (shared, named):
        bring_saddle_scan(cast.fitter, uuids.uuid4(), yard.stock.uuid, one, Length.M)
    services.erase_person(cast.owner, yard.client.uuid, home)
    assert not scan_path(home, own.sha256, own.suffix).exists()
    assert scan_path(home, shared.sha256, shared.suffix).exists()
    assert scan_path(home, named.sha256, named.suffix).exists()
    names = set(SaddleScan.objects.values_list("name", flat=True))
    assert "yard.xyz" in names
    assert len(names) == 2
    assert not [one for one in names if "Wilma" in one or "Fernlea" in one]
