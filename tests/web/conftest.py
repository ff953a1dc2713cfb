"""A prepared database per worker for the pages, a cast with browsers, and counted queries.

`cast` runs a test in a transaction that is undone. `own_records` gives it a database file of its own, for
threads and real commits. The records' own tests use another file in the same process.
"""

import os
import shutil
import tempfile
import uuid as uuids
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from django.apps import apps

if not apps.ready:
    # Django is bound to a folder once per process; the environment is left as it was for everybody else.
    _BOUND = tempfile.mkdtemp(prefix="saddlebench-web-bound-")
    _BEFORE = os.environ.get("SADDLEBENCH_HOME")
    os.environ["SADDLEBENCH_HOME"] = _BOUND
    # A server's address has the same tests run on it; `test_web_postgresql` starts one.
    _URL = os.environ.get("SADDLEBENCH_TEST_DATABASE_URL", "")
    if _URL:
        os.environ["SADDLEBENCH_DATABASE_URL"] = _URL
    from saddlebench.practice.start import set_up

    set_up()
    os.environ.pop("SADDLEBENCH_DATABASE_URL", None)
    os.environ.pop("SADDLEBENCH_HOME")
    if _BEFORE is not None:
        os.environ["SADDLEBENCH_HOME"] = _BEFORE

from django.conf import settings
from django.core.cache import cache
from django.db import connection, connections, transaction
from django.test.utils import CaptureQueriesContext, setup_test_environment
from web_cast import Cast, make_cast

from saddlebench.practice.keeping.upgrade import bring_up_to_date

settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@contextmanager
def records_in(home: Path, *, copy_of: Path | None = None, empty: bool = False) -> Iterator[None]:
    """Point Django at a data folder's records, and back; on a server at a database instead of its file."""
    held = connection.settings_dict["NAME"], settings.SADDLEBENCH_HOME
    connection.close()
    name = str(home / "records.sqlite3")
    if connection.vendor != "sqlite":
        name = str(held[0]) if copy_of is None and not empty else f"own_{uuids.uuid4().hex}"
        if name != held[0]:
            _on_server(f"CREATE DATABASE {name} TEMPLATE {'template1' if empty else held[0]}")
    elif copy_of is not None:
        shutil.copy(copy_of / "records.sqlite3", name)
    connections.databases["default"]["NAME"] = connection.settings_dict["NAME"] = name
    settings.SADDLEBENCH_HOME = home
    try:
        yield
    finally:
        connection.close()
        connections.databases["default"]["NAME"] = connection.settings_dict["NAME"] = held[0]
        settings.SADDLEBENCH_HOME = held[1]


def _on_server(statement: str) -> None:
    with connection._nodb_cursor() as cursor:
        cursor.execute(statement)


@pytest.fixture(scope="session")
def web_home() -> Iterator[Path]:
    setup_test_environment()
    home = Path(tempfile.mkdtemp(prefix="saddlebench-web-"))
    yield home
    shutil.rmtree(home, ignore_errors=True)


@pytest.fixture(scope="session")
def prepared_cast(web_home: Path) -> Cast:
    with records_in(web_home):
        bring_up_to_date(web_home)
        return make_cast()


@pytest.fixture
def cast(prepared_cast: Cast, web_home: Path) -> Iterator[Cast]:
    cache.clear()
    with records_in(web_home), transaction.atomic():
        yield prepared_cast
        transaction.set_rollback(True)


@pytest.fixture
def own_records(prepared_cast: Cast, web_home: Path, tmp_path: Path) -> Iterator[Path]:
    """A data folder of this test's own, with the cast in it."""
    cache.clear()
    home = tmp_path / "home"
    home.mkdir()
    with records_in(home, copy_of=web_home):
        yield home


@pytest.fixture
def own_cast(own_records: Path, prepared_cast: Cast) -> Cast:
    return prepared_cast


@pytest.fixture
def empty_records(web_home: Path, prepared_cast: Cast, tmp_path: Path) -> Iterator[Path]:
    """A data folder in which there is no practice yet."""
    cache.clear()
    home = tmp_path / "empty"
    home.mkdir()
    with records_in(home, empty=True):
        bring_up_to_date(home)
        yield home


@pytest.fixture
def count_queries() -> Callable[[], CaptureQueriesContext]:
    """Count database queries: `with count_queries() as counted: …; len(counted)`."""
    return lambda: CaptureQueriesContext(connection)
