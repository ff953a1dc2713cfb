"""Starting in one folder: its key, its tables, and upgrades that cannot half happen."""

import os
import shutil
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from practice_cast import Cast
from practice_invented import invented_yard

import saddlebench.practice.migrations as real_migrations
from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import services
from saddlebench.practice.keeping.backup import BEFORE_UPGRADE, backups_in, restore
from saddlebench.practice.keeping.database import contents
from saddlebench.practice.keeping.lock import hold_folder
from saddlebench.practice.keeping.upgrade import UpgradeFailedError, bring_up_to_date, pending
from saddlebench.practice.keys import ensure_key
from saddlebench.practice.models import Horse
from saddlebench.practice.settings import database
from saddlebench.practice.start import set_up

FIRST_START = """
from saddlebench.practice.start import start
steps = start()
from django.conf import settings
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from saddlebench.practice import services
assert services.is_first_start()
services.found_practice("Tussock (invented)", "Orla Invented", "orla@tussock.example", "invented-pass-phrase")
assert not services.is_first_start()
assert start() == []
with connection.cursor() as cursor:
    print(len(steps) > 10, cursor.execute("PRAGMA journal_mode").fetchone()[0], settings.SECRET_KEY)
"""


def _run(code: str, home: Path) -> str:
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("SADDLEBENCH_", "DJANGO_"))}
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        env={**environment, "SADDLEBENCH_HOME": str(home)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_first_start_makes_everything_in_its_folder_and_nothing_elsewhere(tmp_path: Path) -> None:
    home = tmp_path / "new" / "home"
    made, journal, key = _run(FIRST_START, home).split()
    assert (made, journal) == ("True", "wal")
    assert (home / "secret-key").read_text() == key
    assert len(key) >= 50
    for name in ("secret-key", "records.sqlite3"):
        assert stat.S_IMODE((home / name).stat().st_mode) == 0o600
    assert stat.S_IMODE(home.stat().st_mode) == 0o700
    assert [path.name for path in tmp_path.iterdir()] == ["new"]
    assert _run("from saddlebench.practice.start import start; print(start())", home) == "[]\n"


def test_the_key_is_made_once(tmp_path: Path) -> None:
    assert ensure_key(tmp_path) == ensure_key(tmp_path)
    assert ensure_key(tmp_path / "other") != ensure_key(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["other", "secret-key"]


def test_importing_the_settings_writes_nothing(tmp_path: Path) -> None:
    _run("import saddlebench.practice.settings as s; assert len(s.SECRET_KEY) > 50", tmp_path / "home")
    assert not (tmp_path / "home" / "secret-key").exists()
    assert not (tmp_path / "home" / "records.sqlite3").exists()


def test_the_file_is_opened_so_that_nothing_is_lost_and_nothing_erased_stays(own_database: Path) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("this is about the database file")
    wanted = {"journal_mode": "wal", "synchronous": 2, "secure_delete": 1, "foreign_keys": 1}
    with connection.cursor() as cursor:
        found = {name: cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in wanted}
        assert cursor.execute("PRAGMA busy_timeout").fetchone()[0] >= 10_000
    assert found == wanted
    with CaptureQueriesContext(connection) as captured, transaction.atomic():
        Horse.objects.exists()
    # The lock is taken before anything is read: two who read first and write later would collide.
    assert captured[0]["sql"] == "BEGIN IMMEDIATE"


def test_one_setting_names_another_database(tmp_path: Path) -> None:
    server = database(tmp_path, "postgresql://fitter:pw@db.example:5433/records")
    assert (server["ENGINE"], server["NAME"], server["PORT"]) == (
        "django.db.backends.postgresql",
        "records",
        5433,
    )
    assert database(tmp_path, "")["NAME"] == str(tmp_path / "records.sqlite3")


@pytest.mark.parametrize(
    "url",
    [
        "mysql://fitter:s3cret@db/records",
        "records.db",
        "postgresql://fitter:s3cret@db:notaport/x",
        "postgres://[",
    ],
)
def test_an_address_that_names_no_database_is_told_without_its_password(tmp_path: Path, url: str) -> None:
    with pytest.raises(InputProblemsError) as caught:
        database(tmp_path, url)
    assert caught.value.problems[0].where.field == "SADDLEBENCH_DATABASE_URL"
    assert "s3cret" not in str(caught.value)


def test_a_missing_part_for_postgresql_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    with pytest.raises(InputProblemsError, match=r"saddlebench\[postgresql\]"):
        database(tmp_path, "postgresql://fitter@db/records")


def test_a_process_works_on_one_folder(tmp_path: Path) -> None:
    assert set_up() == set_up(Path(settings.SADDLEBENCH_HOME))
    with pytest.raises(InputProblemsError, match="another process"):
        set_up(tmp_path)


@pytest.fixture
def next_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A package of migrations that goes beyond this version's: a later one's, as far as Django knows."""
    package = tmp_path / "next_version_migrations"
    shutil.copytree(
        Path(real_migrations.__file__).parent, package, ignore=shutil.ignore_patterns("__pycache__")
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(settings, "MIGRATION_MODULES", {"practice": package.name})
    yield package
    for name in [name for name in sys.modules if name.startswith(package.name)]:
        del sys.modules[name]


STEP = """
from django.db import migrations

def act(apps, editor):
    {act}

class Migration(migrations.Migration):
    dependencies = [("practice", "{last}")]
    operations = [
        migrations.RunSQL("ALTER TABLE practice_horse ADD COLUMN nickname varchar(20) NOT NULL DEFAULT ''"),
        migrations.RunPython(act),
    ]
"""


def _step(package: Path, act: str) -> str:
    """Return a step after the last one of this version."""
    last = max(path.stem for path in package.glob("[0-9]*.py"))
    return STEP.format(act=act, last=last)


def _filled(cast: Cast, home: Path) -> dict[str, object]:
    invented_yard(cast.fitter)
    connection.close()
    return dict(contents(home / "records.sqlite3"))


def test_an_upgrade_backs_up_first_and_keeps_every_row(
    own_cast: Cast, file_database: Path, next_version: Path
) -> None:
    before = _filled(own_cast, file_database)
    (next_version / "9999_nickname.py").write_text(_step(next_version, "pass"))
    assert bring_up_to_date(file_database) == ["practice.9999_nickname"]
    assert pending() == []
    assert Horse.objects.get().label == "Juniper"
    (kept,) = backups_in(file_database)
    assert kept.kind == BEFORE_UPGRADE
    connection.close()
    restore(kept.path, file_database / "older")
    assert contents(file_database / "older" / "records.sqlite3") == before


@pytest.mark.parametrize(
    "act",
    [
        "raise RuntimeError('this step does not work')",
        "editor.execute('DROP TRIGGER practice_entry_kept'); editor.execute('DELETE FROM practice_entry')",
        "editor.execute('UPDATE practice_horse SET client_id = 999999')",
    ],
    ids=["fails", "loses rows", "breaks a reference"],
)
def test_a_failed_upgrade_leaves_the_old_folder_working(
    own_cast: Cast, file_database: Path, next_version: Path, act: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = _filled(own_cast, file_database)
    (next_version / "9999_broken.py").write_text(_step(next_version, act))
    with pytest.raises(UpgradeFailedError, match="Nothing was changed"):
        bring_up_to_date(file_database)
    connection.close()
    assert contents(file_database / "records.sqlite3") == before
    assert not list(file_database.glob("*.new*"))
    # The version used before goes on working with it.
    monkeypatch.setattr(settings, "MIGRATION_MODULES", {})
    assert bring_up_to_date(file_database) == []
    services.take_on_horse(own_cast.fitter, {"label": "Sorrel"})


def test_records_of_a_newer_version_are_not_touched(
    own_cast: Cast, file_database: Path, next_version: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _filled(own_cast, file_database)
    (next_version / "9999_nickname.py").write_text(_step(next_version, "pass"))
    bring_up_to_date(file_database)
    monkeypatch.setattr(settings, "MIGRATION_MODULES", {})
    with pytest.raises(UpgradeFailedError, match=r"newer version made them \(practice.9999_nickname\)"):
        bring_up_to_date(file_database)


def test_a_folder_in_use_is_not_upgraded(own_cast: Cast, file_database: Path, next_version: Path) -> None:
    (next_version / "9999_nickname.py").write_text(_step(next_version, "pass"))
    with hold_folder(file_database), pytest.raises(InputProblemsError, match="in use"):
        bring_up_to_date(file_database)
    assert pending() == ["practice.9999_nickname"]


def test_the_tables_are_what_the_models_say(own_cast: Cast) -> None:
    # Exits with an error where a model was changed and its migration forgotten.
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)
    assert pending() == []
