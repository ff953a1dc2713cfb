"""A short hash of all static files: a changed file gets a new address."""

import hashlib
from collections.abc import Sequence
from pathlib import Path


def stamp_of(folders: Sequence[Path]) -> str:
    """Return twelve hexadecimal digits that change with any file."""
    digest = hashlib.sha256()
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                digest.update(path.relative_to(folder).as_posix().encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()[:12]
