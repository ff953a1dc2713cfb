"""Where saddlebench keeps what it makes: one folder, movable by SADDLEBENCH_HOME."""

import atexit
import hashlib
import os
import platform
import shutil
import tempfile
from importlib import metadata
from pathlib import Path

import platformdirs

KEPT_CACHES = 3
"""So many versions' compiled parts are kept; older ones are removed."""


def data_folder() -> Path:
    """Return the data folder's path; it need not exist yet."""
    named = os.environ.get("SADDLEBENCH_HOME")
    return Path(named) if named else Path(platformdirs.user_data_dir("saddlebench", appauthor=False))


def prepare_compiled_cache() -> Path:
    """Point numba at a writable cache folder, and return it; must run before numba is imported.

    The folder is named after what is compiled and by what: numba itself looks only at the file that holds a
    kernel, so a formula changed in another file would go on being used in its old form.

    A home that cannot be written gets a private throw-away folder, so that the program still starts.
    The throw-away folder is fresh each time: a predictable one could be filled by somebody else.
    """
    named = os.environ.get("NUMBA_CACHE_DIR")
    if named:
        return Path(named)
    caches = data_folder() / "cache" / "compiled"
    folder = caches / kernels_digest()
    try:
        if not folder.is_dir():
            folder.mkdir(parents=True)
            _remove_old(caches)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError:
        folder = Path(tempfile.mkdtemp(prefix="saddlebench-compiled-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    return folder


def kernels_digest() -> str:
    """Return a name for this version of everything that is compiled, and of the compiler."""
    digest = hashlib.sha256(f"{platform.python_version()} {metadata.version('numba')}".encode())
    engine = Path(__file__).parent / "engine"
    for path in sorted(
        [engine / "compiled.py", *engine.rglob("_kernels.py"), *engine.rglob("_kernels/*.py")]
    ):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _remove_old(caches: Path) -> None:
    by_age = sorted(
        (path for path in caches.iterdir() if path.is_dir()), key=lambda path: path.stat().st_mtime
    )
    for path in by_age[:-KEPT_CACHES]:
        shutil.rmtree(path, ignore_errors=True)
