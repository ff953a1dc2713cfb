"""Private keys on the disk: one file each, for its owner alone, in the data folder and its backups."""

import os
import uuid as uuids
from pathlib import Path

from saddlebench.exchange.packs.keys import KeyPair, parse_private_key
from saddlebench.practice.keeping.backup import keys_folder


def _file(home: Path, practice: uuids.UUID, fingerprint: str) -> Path:
    return keys_folder(home) / f"{practice}-{fingerprint.replace(' ', '')}.json"


def write_key(home: Path, practice: uuids.UUID, pair: KeyPair) -> Path:
    """Write a new key's file; readable by its owner alone before a byte is in it."""
    folder = keys_folder(home)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    folder.chmod(0o700)
    path = _file(home, practice, pair.public.fingerprint)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        stream.write(pair.as_json())
        stream.flush()
        os.fsync(stream.fileno())
    return path


def read_key(home: Path, practice: uuids.UUID, fingerprint: str) -> KeyPair | None:
    """Return a key; None where its file is not in this folder.

    Raises
    ------
    InputProblemsError
        If the file is damaged.
    """
    path = _file(home, practice, fingerprint)
    try:
        return parse_private_key(path.read_text(encoding="ascii"), path.name)
    except FileNotFoundError:
        return None


def all_keys(home: Path, practice: uuids.UUID) -> list[KeyPair]:
    """Return every key that the practice has or had here: packs closed to an earlier one still open."""
    paths = sorted(keys_folder(home).glob(f"{practice}-*.json"))
    return [parse_private_key(path.read_text(encoding="ascii"), path.name) for path in paths]
