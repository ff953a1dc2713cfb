"""Backups of a whole folder, made while it is in use; restored elsewhere, compared, and swapped in."""

import hashlib
import secrets
import shutil
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from saddlebench import __version__
from saddlebench.engine.errors import InputProblemsError, Problem, SaddlebenchError, Where, input_problem
from saddlebench.exchange.zips import ZipLimits
from saddlebench.practice.keeping import archive
from saddlebench.practice.keeping.certificates import trust_folder
from saddlebench.practice.keeping.database import check_database, contents, copy_database
from saddlebench.practice.keeping.lock import hold_folder
from saddlebench.practice.settings import DATABASE_NAME

FORMAT = "saddlebench-backup"
DAILY, ON_DEMAND, BEFORE_UPGRADE = "daily", "asked", "upgrade"
KINDS = (DAILY, ON_DEMAND, BEFORE_UPGRADE)
_STAMP = "%Y%m%dT%H%M%SZ"
_NAME_PARTS = 4


class NotEqualError(SaddlebenchError):
    """What was restored is not what was backed up."""

    def __init__(self, differing: tuple[str, ...]) -> None:
        self.differing = differing
        super().__init__(f"The restored records differ from the backup in: {', '.join(differing[:5])}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """One backup that lies in a folder."""

    path: Path
    kind: str
    made_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What was compared, and found equal."""

    tables: int
    rows: int
    files: int
    bytes_of_files: int


def files_folder(home: Path) -> Path:
    """Return where photos, films and scans lie."""
    return home / "files"


def keys_folder(home: Path) -> Path:
    """Return where the practices' private keys lie."""
    return home / "keys"


def backups_folder(home: Path) -> Path:
    """Return where backups lie."""
    return home / "backups"


def back_up(home: Path, *, now: datetime, kind: str = ON_DEMAND, folder: Path | None = None) -> Backup:
    """Make a verified backup while others go on writing.

    One that a person asks for holds everything. The daily ones and those before an upgrade hold the records,
    and name photos and scans beside them by hash: a stored file never changes, and a copy of all of them a
    day would fill the disk. What was worked out from scans is in none: it can be worked out again.

    Raises
    ------
    InputProblemsError
        If the records do not lie in a file of this folder.
    DamagedDatabaseError
        If the database does not hold together: a backup of it would be worth nothing.
    """
    database = home / DATABASE_NAME
    if not database.is_file():
        msg = f"{home} has no {DATABASE_NAME}"
        raise input_problem(
            msg,
            "Records in a database server are backed up by that server's own means.",
        )
    target = folder or backups_folder(home)
    target.mkdir(parents=True, exist_ok=True)
    target.chmod(0o700)
    stamp = now.astimezone(UTC).strftime(_STAMP)
    path = target / f"saddlebench-{kind}-{stamp}-{secrets.token_hex(2)}.zip"
    with tempfile.TemporaryDirectory(dir=target, prefix=".copy-") as scratch:
        copy = Path(scratch) / DATABASE_NAME
        copy_database(database, copy)
        check_database(copy)
        counted = {
            name: archive.TableEntry(rows=t.rows, sha256=t.sha256) for name, t in contents(copy).items()
        }
        kept = {
            f"files/{file.relative_to(files_folder(home)).as_posix()}": file for file in _kept_files(home)
        }
        inside = (kept if kind == ON_DEMAND else {}) | _private_keys(home)
        manifest = {
            "format": FORMAT,
            "format_version": 1,
            "made_at": now,
            "program_version": __version__,
            "tables": counted,
            "beside": {name: _named_entry(file) for name, file in kept.items() if name not in inside},
        }
        with archive.written(path, manifest) as writer:
            writer.add_file(DATABASE_NAME, copy)
            for name, file in inside.items():
                writer.add_file(name, file)
    return Backup(path=path, kind=kind, made_at=now)


def _private_keys(home: Path) -> dict[str, Path]:
    """Return the private keys, which every backup holds: they are small, and nobody can make them again."""
    return {f"keys/{file.name}": file for file in sorted(keys_folder(home).glob("*.json"))}


def _kept_files(home: Path) -> list[Path]:
    folder = files_folder(home)
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("."))


def _named_entry(file: Path) -> archive.FileEntry:
    """Return a stored file's entry: its name is its hash."""
    return archive.FileEntry(size=file.stat().st_size, sha256=file.stem)


def restore(
    path: Path, into: Path, limits: ZipLimits | None = None, *, files_from: Path | None = None
) -> Proof:
    """Restore a backup into a folder that is not there yet, and prove it equal.

    Parameters
    ----------
    files_from : Path, optional
        The data folder that has photos and scans, for a backup that does not hold them.

    Raises
    ------
    InputProblemsError
        If the folder is there, the archive is damaged or hostile, or files are missing; then nothing is left
        behind.
    NotEqualError, DamagedDatabaseError
        If what was unpacked is not what was backed up; then nothing is left behind.
    """
    if into.exists():
        msg = f"{into} is already there"
        raise input_problem(msg, "Name a folder that does not exist yet.")
    draft = into.with_name(f".{into.name}.{secrets.token_hex(4)}.part")
    try:
        manifest = archive.unpack(path, draft, limits)
        if manifest.format != FORMAT or DATABASE_NAME not in manifest.files:
            msg = f"{path.name} is no backup"
            raise input_problem(msg, "Choose a file that was made as a backup.")
        _bring_files(manifest, files_from, draft)
        proof = prove_equal(manifest, draft)
        draft.chmod(0o700)
        (draft / DATABASE_NAME).chmod(0o600)
        for key in keys_folder(draft).glob("*"):
            key.parent.chmod(0o700)
            key.chmod(0o600)
        draft.rename(into)
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return proof


def _bring_files(manifest: archive.Manifest, source: Path | None, draft: Path) -> None:
    if manifest.beside and source is None:
        msg = f"this backup holds the records, and {len(manifest.beside)} photos and scans lie beside them"
        raise input_problem(
            msg,
            "Say in which data folder they are.",
        )
    problems = []
    for name, entry in manifest.beside.items():
        found = (source or draft) / name
        if not found.is_file() or _digest(found) != entry.sha256:
            what = "is missing" if not found.is_file() else "is not what it was"
            cure = "Restore a backup that holds photos and scans."
            problems.append(Problem(what=what, cure=cure, where=Where(file=name)))
            continue
        target = draft / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(found, target)
    if problems:
        raise InputProblemsError(problems)


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def prove_equal(manifest: archive.Manifest, home: Path) -> Proof:
    """Compare every table's count and hash with a backup's manifest; unpacking has compared the files.

    Raises
    ------
    NotEqualError
        If a table differs.
    """
    database = home / DATABASE_NAME
    check_database(database)
    here = {name: archive.TableEntry(rows=t.rows, sha256=t.sha256) for name, t in contents(database).items()}
    differing = sorted(
        name for name in {*here, *manifest.tables} if here.get(name) != manifest.tables.get(name)
    )
    if differing:
        raise NotEqualError(tuple(differing))
    inside = [entry for name, entry in manifest.files.items() if name != DATABASE_NAME]
    files = [*inside, *manifest.beside.values()]
    return Proof(
        tables=len(here),
        rows=sum(table.rows for table in here.values()),
        files=len(files),
        bytes_of_files=sum(entry.size for entry in files),
    )


def swap_in(restored: Path, home: Path, *, now: datetime) -> Path:
    """Put a restored folder in the place of the one in use, and return where the old one went.

    Raises
    ------
    InputProblemsError
        If the folder in use is in use by another process, or the restored one holds no records.
    """
    if not (restored / DATABASE_NAME).is_file():
        msg = f"{restored} holds no records"
        raise input_problem(msg, "Restore a backup into it first.")
    old = home.with_name(f"{home.name}.before-{now.astimezone(UTC).strftime(_STAMP)}")
    if old.exists():
        msg = f"{old} is already there"
        raise input_problem(msg, "Wait a second, and try again.")
    with hold_folder(home):
        _carry_backups(home, restored)
        _carry_certificates(home, restored)
        home.rename(old)
        try:
            restored.rename(home)
        except BaseException:
            old.rename(home)
            raise
    return old


def _carry_backups(home: Path, restored: Path) -> None:
    """Copy the backups across: a restore must not be the moment when all other backups go out of sight."""
    target = backups_folder(restored)
    target.mkdir(exist_ok=True)
    for kept in backups_in(home):
        shutil.copy2(kept.path, target / kept.path.name)


def _carry_certificates(home: Path, restored: Path) -> None:
    """Copy what phones trust across: it is in no backup, and is this machine's, whatever it records."""
    if trust_folder(home).is_dir():
        shutil.copytree(trust_folder(home), trust_folder(restored), dirs_exist_ok=True)
        trust_folder(restored).chmod(0o700)


def backups_in(home: Path) -> list[Backup]:
    """Return the backups in a folder, newest first; files that are named otherwise are left alone."""
    found = [_named(path) for path in backups_folder(home).glob("saddlebench-*.zip")]
    return sorted((one for one in found if one), key=lambda one: (one.made_at, one.path.name), reverse=True)


def _named(path: Path) -> Backup | None:
    parts = path.stem.split("-")
    if len(parts) != _NAME_PARTS or parts[1] not in KINDS:
        return None
    try:
        made_at = datetime.strptime(parts[2], _STAMP).replace(tzinfo=UTC)
    except ValueError:
        return None
    return Backup(path=path, kind=parts[1], made_at=made_at)
