"""One prepared database per worker, a fixed cast, and two ways to use them.

`db` runs a test in a transaction that is undone. `own_database` gives a test a database of its own, for
threads, processes and real commits.
"""

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

# Django is bound to a folder once per process; the environment is left as it was for everybody else's tests.
_HOME = Path(tempfile.mkdtemp(prefix="saddlebench-practice-"))
_BEFORE = os.environ.get("SADDLEBENCH_HOME")
_URL = os.environ.get("SADDLEBENCH_TEST_DATABASE_URL", "")
os.environ["SADDLEBENCH_HOME"] = str(_HOME)
if _URL:
    os.environ["SADDLEBENCH_DATABASE_URL"] = _URL
from saddlebench.practice.start import set_up  # noqa: E402

set_up()
if _BEFORE is None:
    del os.environ["SADDLEBENCH_HOME"]
else:
    os.environ["SADDLEBENCH_HOME"] = _BEFORE
os.environ.pop("SADDLEBENCH_DATABASE_URL", None)

from django.conf import settings  # noqa: E402
from django.db import connection, connections, transaction  # noqa: E402
from practice_cast import Cast, make_cast  # noqa: E402

from saddlebench.practice.keeping.upgrade import bring_up_to_date  # noqa: E402

# Slow hashing protects real passwords; here it would only cost seconds.
settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(scope="session", autouse=True)
def _home() -> Iterator[Path]:
    yield _HOME
    for held in connections.all():
        held.close()
    shutil.rmtree(_HOME, ignore_errors=True)


@pytest.fixture(scope="session")
def migrated() -> None:
    bring_up_to_date(_HOME)


@pytest.fixture
def db(migrated: None) -> Iterator[None]:
    try:
        with transaction.atomic():
            yield
            transaction.set_rollback(True)
    finally:
        connection.close()


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A data folder with the prepared database in it, used by nobody else."""
    folder = tmp_path / "home"
    folder.mkdir()
    return folder


@pytest.fixture
def own_database(migrated: None, home: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Point Django at a database of this test's own."""
    if connection.vendor != "sqlite":
        pytest.skip("a file of its own is for the file database only")
    connection.close()
    shutil.copy(_HOME / "records.sqlite3", home / "records.sqlite3")
    monkeypatch.setitem(connections.databases["default"], "NAME", str(home / "records.sqlite3"))
    monkeypatch.setitem(connection.settings_dict, "NAME", str(home / "records.sqlite3"))
    monkeypatch.setattr(settings, "SADDLEBENCH_HOME", home)
    yield home
    connection.close()


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


@pytest.fixture
def own_cast(own_database: Path) -> Cast:
    return make_cast()
