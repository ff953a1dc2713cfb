"""Files made for download: they can be made again, so they are kept a while, and not backed up."""

import shutil
import time
import uuid as uuids
from pathlib import Path

KEPT_DAYS = 60
"""As long as the work that made them stays listed."""


def made_path(home: Path, practice_id: int, uuid: uuids.UUID) -> Path:
    """Return where the files lie that long work of this name made."""
    return _folder(home, practice_id) / f"{uuid}.zip"


def take_out_old_made(home: Path, practice_id: int) -> None:
    """Take out what was made long ago."""
    long_ago = time.time() - KEPT_DAYS * 24 * 3600
    for path in _folder(home, practice_id).glob("*.zip"):
        if path.stat().st_mtime < long_ago:
            path.unlink(missing_ok=True)


def erase_made(home: Path, practice_id: int) -> None:
    """Erase everything that was made: what names a person's horse cannot be told from the rest."""
    shutil.rmtree(_folder(home, practice_id), ignore_errors=True)


def _folder(home: Path, practice_id: int) -> Path:
    return home / "made" / str(practice_id)
