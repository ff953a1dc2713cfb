"""A database file as a whole: copied while it is written to, checked, and counted row by row."""

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from saddlebench.engine.errors import SaddlebenchError

_SIDE_FILES = ("-wal", "-shm", "-journal")


class DamagedDatabaseError(SaddlebenchError):
    """A database file does not hold together."""

    def __init__(self, path: Path, findings: tuple[str, ...]) -> None:
        self.path = path
        self.findings = findings
        super().__init__(f"{path} is damaged: {'; '.join(findings[:3])}. Restore the newest backup.")


@dataclass(frozen=True, slots=True, kw_only=True)
class TableContent:
    """How many rows a table has, and the hash of them all."""

    rows: int
    sha256: str


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Yield a connection that cannot change the file, and close it."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=60)) as connection:
        yield connection


def copy_database(source: Path, target: Path) -> None:
    """Copy a database that may be in use, by the database's own call: the copy is one moment's state."""
    with closing(sqlite3.connect(source, timeout=60)) as reading, closing(sqlite3.connect(target)) as writing:
        reading.backup(writing)
        # The copy must be whole in one file: what lies in a side file is lost when it is moved.
        writing.execute("PRAGMA journal_mode=DELETE")


def check_database(path: Path) -> None:
    """Check pages, indexes and references.

    Raises
    ------
    DamagedDatabaseError
        If anything does not hold together, or the file is no database.
    """
    try:
        with opened(path) as connection:
            found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(20)")]
            findings = [text for text in found if text != "ok"]
            orphans = list(connection.execute("PRAGMA foreign_key_check"))
    except sqlite3.DatabaseError as error:
        raise DamagedDatabaseError(path, (str(error),)) from error
    findings += [f"{row[0]} refers to a {row[2]} that is not there" for row in orphans[:20]]
    if findings:
        raise DamagedDatabaseError(path, tuple(findings))


def table_names(connection: sqlite3.Connection) -> list[str]:
    """Return the names of all tables."""
    query = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
    return [str(row[0]) for row in connection.execute(query)]


def contents(path: Path) -> dict[str, TableContent]:
    """Return count and hash of every table: two databases with the same answer hold the same rows."""
    with opened(path) as connection:
        return {table: _content(connection, table) for table in table_names(connection)}


def _content(connection: sqlite3.Connection, table: str) -> TableContent:
    digest = hashlib.sha256()
    quoted = '"' + table.replace('"', '""') + '"'
    cursor = connection.execute(f"SELECT * FROM {quoted} ORDER BY rowid")  # noqa: S608
    digest.update(json.dumps([column[0] for column in cursor.description]).encode())
    rows = 0
    for rows, row in enumerate(cursor, start=1):  # noqa: B007
        plain = [{"hex": cell.hex()} if isinstance(cell, bytes) else cell for cell in row]
        digest.update(json.dumps(plain, ensure_ascii=True).encode())
    return TableContent(rows=rows, sha256=digest.hexdigest())


def settle_side_files(path: Path) -> None:
    """Fold what lies beside the database into it, so that the file alone is everything.

    Raises
    ------
    DamagedDatabaseError
        If another process still holds the database, so that a side file stays.
    """
    with closing(sqlite3.connect(path, timeout=5)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.execute("PRAGMA journal_mode=DELETE")
    left = [path.with_name(path.name + suffix) for suffix in _SIDE_FILES]
    if any(side.exists() and side.stat().st_size for side in left):
        raise DamagedDatabaseError(path, ("another process still writes to it",))
