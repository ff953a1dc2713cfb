"""One writer of the folder as a whole: upgrading, swapping and erasing wait for nobody else to be in it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.files import locks

from saddlebench.engine.errors import input_problem

LOCK_NAME = "in-use.lock"


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
