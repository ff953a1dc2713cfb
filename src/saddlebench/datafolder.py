"""Where saddlebench keeps what it makes: one folder, movable by SADDLEBENCH_HOME."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

import platformdirs


def data_folder() -> Path:
    """Return the data folder's path; it need not exist yet."""
    named = os.environ.get("SADDLEBENCH_HOME")
    return Path(named) if named else Path(platformdirs.user_data_dir("saddlebench", appauthor=False))


def prepare_compiled_cache() -> Path:
    """Point numba at a writable cache folder, and return it; must run before numba is imported.

    A home that cannot be written gets a private throw-away folder, so that the program still starts.
    The throw-away folder is fresh each time: a predictable one could be filled by somebody else.
    """
    named = os.environ.get("NUMBA_CACHE_DIR")
    if named:
        return Path(named)
    folder = data_folder() / "cache" / "compiled"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError:
        folder = Path(tempfile.mkdtemp(prefix="saddlebench-compiled-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    return folder
