"""One prepared database per worker, a fixed cast, and two ways to use them.

`db` runs a test in a transaction that is undone. `own_database` gives a test a database of its own, for
threads, processes and real commits.
"""

import atexit
import os
import shutil
import tempfile
import uuid as uuids
from collections.abc import Iterator
from pathlib import Path

import pytest

# First of all, so that compiled code is kept where every other test keeps it, not in the folder below.
import saddlebench  # noqa: F401

# Django is bound to a folder once per process; the environment is left as it was for everybody else's tests.
# Whoever names a settings module beforehand (DJANGO_SETTINGS_MODULE) has it used here as well.
_FRESH = Path(tempfile.mkdtemp(prefix="saddlebench-practice-"))
atexit.register(shutil.rmtree, _FRESH, ignore_errors=True)
_BEFORE = os.environ.get("SADDLEBENCH_HOME")
_URL = os.environ.get("SADDLEBENCH_TEST_DATABASE_URL", "")
os.environ["SADDLEBENCH_HOME"] = str(_FRESH)
if _URL:
    os.environ["SADDLEBENCH_DATABASE_URL"] = _URL
from saddlebench.practice.start import set_up  # noqa: E402

_HOME = set_up()
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


@pytest.fixture(scope="session")
def prepared() -> Cast:
    """Bring an empty database up to date and let the cast move in; every test starts from there."""
    bring_up_to_date(_HOME)
    return make_cast()


@pytest.fixture
def db(prepared: Cast) -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A data folder with the prepared database in it, used by nobody else."""
    folder = tmp_path / "home"
    folder.mkdir()
    return folder


@pytest.fixture
def own_database(prepared: Cast, home: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Point Django at a database of this test's own."""
    connection.close()
    name = f"own_{uuids.uuid4().hex}"
    if connection.vendor == "sqlite":
        name = str(home / "records.sqlite3")
        shutil.copy(_HOME / "records.sqlite3", name)
    else:
        _on_server(f"CREATE DATABASE {name} TEMPLATE {connection.settings_dict['NAME']}")
    monkeypatch.setitem(connections.databases["default"], "NAME", name)
    monkeypatch.setitem(connection.settings_dict, "NAME", name)
    monkeypatch.setattr(settings, "SADDLEBENCH_HOME", home)
    yield home
    connection.close()


def _on_server(statement: str) -> None:
    with connection._nodb_cursor() as cursor:
        cursor.execute(statement)


@pytest.fixture
def file_database(own_database: Path) -> Path:
    if connection.vendor != "sqlite":
        pytest.skip("this is about the database file")
    return own_database


@pytest.fixture
def cast(db: None, prepared: Cast) -> Cast:
    return prepared


@pytest.fixture
def own_cast(own_database: Path, prepared: Cast) -> Cast:
    return prepared
