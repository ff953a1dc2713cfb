"""One writer of the folder as a whole: upgrading, swapping and erasing wait for nobody else to be in it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.files import locks
from django.db import connections

from saddlebench.engine.errors import input_problem

LOCK_NAME = "in-use.lock"
# Of the locks that a server keeps by number; no other program of the same database is expected to choose it.
_SERVING = 0x5ADD1EB


@contextmanager
def hold_folder(home: Path) -> Iterator[None]:
    """Hold a data folder for oneself; the lock goes with the process, however it ends.

    Raises
    ------
    InputProblemsError
        If another process holds it.
    """
    home.mkdir(parents=True, exist_ok=True)
    with (home / LOCK_NAME).open("a", encoding="ascii") as stream:
        if not locks.lock(stream, locks.LOCK_EX | locks.LOCK_NB):
            what = f"{home} is in use by another saddlebench"
            raise input_problem(what, "Stop the other one (its window, or its process), then try again.")
        try:
            yield
        finally:
            locks.unlock(stream)


@contextmanager
def hold_database() -> Iterator[None]:
    """Be the one process that serves a database; on a server, where other folders may lead to it as well.

    A database in a folder's own file is held with its folder. The server lets go when the process ends,
    however it ends.

    Raises
    ------
    InputProblemsError
        If another process serves it.
    """
    if connections["default"].vendor != "postgresql":
        yield
        return
    # A connection of its own: those of the pages are closed and opened again as they please.
    connection = connections.create_connection("default")
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [_SERVING])
            if not cursor.fetchone()[0]:
                what = "another saddlebench serves the same database"
                cure = "Use its pages, or stop it first. Two would take each other's work for interrupted."
                raise input_problem(what, cure)
        yield
    finally:
        connection.close()
