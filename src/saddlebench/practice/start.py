"""Starting: one folder, its key, its tables brought to this version, and Django set up on it."""

import os
from pathlib import Path

import django
from django.apps import apps
from django.conf import settings

from saddlebench.datafolder import data_folder
from saddlebench.engine.errors import input_problem
from saddlebench.practice.keys import ensure_key

SETTINGS_MODULE = "saddlebench.practice.settings"


def set_up(home: Path | None = None) -> Path:
    """Bind Django to a data folder without touching its tables, and return the folder.

    Raises
    ------
    InputProblemsError
        If this process is already bound to another folder.
    """
    if home is not None and not apps.ready:
        os.environ["SADDLEBENCH_HOME"] = str(home)
    folder = data_folder() if home is None else home
    if apps.ready:
        bound = Path(settings.SADDLEBENCH_HOME)
        if home is not None and bound.resolve() != home.resolve():
            msg = f"this process works on {bound}"
            raise input_problem(msg, "Start another process for another folder.")
        return bound
    ensure_key(folder)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", SETTINGS_MODULE)
    django.setup()
    return folder


def words_alone() -> None:
    """Let the records' words be read in a process that has no data folder, and leave no trace of one."""
    if apps.ready:
        return
    if not settings.configured and "DJANGO_SETTINGS_MODULE" not in os.environ:
        settings.configure(USE_I18N=False)
    django.setup()


def start(home: Path | None = None) -> list[str]:
    """Set up, bring the records to this version (backup first), and return the steps that were taken.

    Raises
    ------
    UpgradeFailedError
        If the records could not be brought to this version; they are as they were.
    """
    folder = set_up(home)
    # Tables can only be imported once Django is set up.
    from saddlebench.practice.keeping.upgrade import bring_up_to_date  # noqa: PLC0415

    return bring_up_to_date(folder)
