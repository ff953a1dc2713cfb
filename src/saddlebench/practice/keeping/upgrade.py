"""Bringing a folder to this version: back up, migrate a copy, check it, swap; the old one stays till then."""

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import connections, router
from django.db.migrations.executor import MigrationExecutor

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.keeping import backup
from saddlebench.practice.keeping.database import (
    TableContent,
    check_database,
    contents,
    copy_database,
    settle_side_files,
)
from saddlebench.practice.keeping.lock import hold_folder
from saddlebench.practice.settings import DATABASE_NAME, sqlite_database

_COPY = "upgrading"


class UpgradeFailedError(SaddlebenchError):
    """The folder could not be brought to this version; it is as it was."""

    def __init__(self, home: Path, cause: str) -> None:
        self.home = home
        super().__init__(
            f"The records in {home} could not be brought to this version: {cause}. Nothing was changed: "
            "the version you used before goes on working with them. Send this message to the makers."
        )


def pending(alias: str = "default") -> list[str]:
    """Return the steps that a database still needs."""
    executor = MigrationExecutor(connections[alias])
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [f"{step.app_label}.{step.name}" for step, _backwards in plan]


def unknown_steps(alias: str = "default") -> list[str]:
    """Return the steps that a database took and this version does not know: it was made by a newer one."""
    loader = MigrationExecutor(connections[alias]).loader
    ours = {app.label for app in apps.get_app_configs()}
    return sorted(
        f"{label}.{name}"
        for label, name in loader.applied_migrations
        if label in ours
        and (label, name) not in loader.graph.nodes
        and not _is_replaced(loader, (label, name))
    )


def _is_replaced(loader: object, key: tuple[str, str]) -> bool:
    replacements = getattr(loader, "replacements", {})
    return any(key in migration.replaces for migration in replacements.values())


def bring_up_to_date(home: Path) -> list[str]:
    """Bring the folder's records to this version, and return the steps taken.

    Raises
    ------
    UpgradeFailedError
        If a step fails or the result does not hold together; the folder is as it was.
    InputProblemsError
        If another process has the folder open.
    """
    if connections["default"].vendor != "sqlite":
        steps = pending()
        call_command("migrate", verbosity=0, interactive=False)
        return steps
    database = home / DATABASE_NAME
    if not database.exists():
        return _first_time(home, database)
    newer = unknown_steps()
    if newer:
        raise UpgradeFailedError(home, f"a newer version made them ({newer[-1]})")
    steps = pending()
    if steps:
        with hold_folder(home):
            backup.back_up(home, now=datetime.now(UTC), kind=backup.BEFORE_UPGRADE)
            _migrate_copy(home, database)
    return steps


def _first_time(home: Path, database: Path) -> list[str]:
    with hold_folder(home):
        draft = home / f"{DATABASE_NAME}.{secrets.token_hex(4)}.new"
        try:
            with _aliased(draft):
                steps = pending(_COPY)
                call_command("migrate", database=_COPY, verbosity=0, interactive=False)
            settle_side_files(draft)
            draft.chmod(0o600)
            draft.replace(database)
        finally:
            _remove(draft)
    connections["default"].close()
    return steps


def _migrate_copy(home: Path, database: Path) -> None:
    copy = home / f"{DATABASE_NAME}.{secrets.token_hex(4)}.new"
    connections["default"].close()
    try:
        copy_database(database, copy)
        before = contents(copy)
        with _aliased(copy):
            call_command("migrate", database=_COPY, verbosity=0, interactive=False)
        settle_side_files(copy)
        check_database(copy)
        _nothing_lost(before, contents(copy))
        settle_side_files(database)
        copy.chmod(0o600)
        copy.replace(database)
    except Exception as error:
        raise UpgradeFailedError(home, f"{type(error).__name__}: {error}") from error
    finally:
        _remove(copy)


def _nothing_lost(before: dict[str, TableContent], after: dict[str, TableContent]) -> None:
    fewer = [name for name, was in before.items() if name in after and after[name].rows < was.rows]
    if fewer:
        msg = f"rows went missing from {', '.join(fewer)}"
        raise ValueError(msg)


class _EverythingToTheCopy:
    """Sends steps that name no database to the copy: some libraries' do not, and would change the folder."""

    def db_for_read(self, *_all: object, **_more: object) -> str:
        return _COPY

    db_for_write = db_for_read


@contextmanager
def _aliased(path: Path) -> Iterator[None]:
    entry = connections.databases["default"] | sqlite_database(path)
    connections.databases[_COPY] = entry
    settings.DATABASES[_COPY] = entry
    to_the_copy = _EverythingToTheCopy()
    router.routers.insert(0, to_the_copy)
    try:
        yield
    finally:
        router.routers.remove(to_the_copy)
        connections[_COPY].close()
        del connections[_COPY]
        del connections.databases[_COPY]
        settings.DATABASES.pop(_COPY, None)


def _remove(path: Path) -> None:
    for suffix in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
