"""Files that are written whole or not at all."""

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write under a temporary name in the same folder, then rename: no reader ever sees half a file.

    Raises
    ------
    OSError
        If it cannot be written; it names the file that was meant, not the temporary one.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        _write_then_rename(path, content)
    except OSError as error:
        error.filename, error.filename2 = str(path), None
        raise


def _write_then_rename(path: Path, content: bytes) -> None:
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}-", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        # mkstemp makes files private; a record or drawing is an ordinary file.
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
