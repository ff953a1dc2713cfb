"""The folder's own secret key: made once, readable by its owner alone, never in the checkout."""

import os
import secrets
from pathlib import Path

KEY_NAME = "secret-key"
_LENGTH_BYTES = 50


def key_path(home: Path) -> Path:
    """Return where the key of a data folder lies."""
    return home / KEY_NAME


def read_key(home: Path) -> str | None:
    """Return the folder's key, or None where none was made yet."""
    try:
        return key_path(home).read_text(encoding="ascii").strip() or None
    except FileNotFoundError:
        return None


def ensure_key(home: Path) -> str:
    """Return the folder's key, making it first where there is none; two starts at once agree on one."""
    if not home.exists():
        home.mkdir(parents=True, mode=0o700)
    known = read_key(home)
    if known:
        return known
    draft = home / f"{KEY_NAME}.{secrets.token_hex(8)}"
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        os.write(handle, secrets.token_urlsafe(_LENGTH_BYTES).encode("ascii"))
        os.fsync(handle)
    finally:
        os.close(handle)
    try:
        os.link(draft, key_path(home))
    except FileExistsError:
        pass
    except OSError:
        draft.replace(key_path(home))
    draft.unlink(missing_ok=True)
    key = read_key(home)
    if key is None:
        msg = f"{key_path(home)} is empty; delete it, and start again"
        raise OSError(msg)
    return key
