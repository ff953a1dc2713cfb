"""The bag around a pack's files (RFC 8493), its signature, and the check of both.

The library that reads bags also makes them, but by changing the process's working folder, which a server with
several threads cannot have; so the four small texts of a bag are written here and read by the library.
"""

import base64
import hashlib
import json
import logging
import os
import stat
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import bagit

from saddlebench.engine.errors import InputProblemsError, input_problem
from saddlebench.exchange.packs.keys import KeyPair, PublicKey, parse_key_line

DATA = "data"
BAGIT, INFO, MANIFEST = "bagit.txt", "bag-info.txt", "manifest-sha256.txt"
TAG_MANIFEST, SIGNATURE = "tagmanifest-sha256.txt", "signature.json"
TAG_FILES = frozenset({BAGIT, INFO, MANIFEST, TAG_MANIFEST, SIGNATURE})
_DECLARED = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_LARGEST_TAG = 4 << 20
_CURE = "Do not use it. Ask the sender to send it again, and compare the fingerprint over the telephone."
# What is wrong with a bag is told as problems; without a handler the library would write to the terminal.
logging.getLogger("bagit").addHandler(logging.NullHandler())


def damaged(what: str) -> InputProblemsError:
    """Return the error of a pack that is not as it was signed."""
    return input_problem(f"the pack is not as it was sent: {what}", _CURE)


def bag_texts(
    payload: Mapping[str, tuple[int, str]], about: Mapping[str, str], keys: KeyPair
) -> dict[str, str]:
    """Return a bag's tag files by name, the signature among them.

    Parameters
    ----------
    payload : path under `data/` to size [bytes] and SHA-256
    about : what `bag-info.txt` says, besides the payload's size
    keys : whose signature it bears
    """
    octets = sum(size for size, _ in payload.values())
    info = {**about, "Payload-Oxum": f"{octets}.{len(payload)}"}
    texts = {
        BAGIT: _DECLARED,
        INFO: "".join(f"{name}: {' '.join(words.split())}\n" for name, words in info.items()),
        MANIFEST: "".join(f"{sha256}  {DATA}/{name}\n" for name, (_, sha256) in sorted(payload.items())),
    }
    digests = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in texts.items()}
    texts[TAG_MANIFEST] = "".join(f"{digest}  {name}\n" for name, digest in sorted(digests.items()))
    texts[SIGNATURE] = signature_text(keys.public, keys.sign(texts[TAG_MANIFEST].encode()))
    return texts


def signature_text(key: PublicKey, signature: bytes) -> str:
    """Return the signature's file: anybody can check it with any Ed25519 program."""
    held = {
        "format": "saddlebench signature",
        "version": 1,
        "algorithm": "Ed25519",
        "signed_file": TAG_MANIFEST,
        "public_key": base64.b64encode(key.signing).decode(),
        "key_line": key.line,
        "signature": base64.b64encode(signature).decode(),
    }
    return json.dumps(held, indent=1) + "\n"


def check_bag(folder: Path) -> PublicKey:
    """Check a bag's every byte against its manifests and these against the signature; return who signed it.

    Raises
    ------
    InputProblemsError
        If a file is missing, too many, or another than when it was signed; or the signature does not hold.
    """
    _check_tags(folder)
    try:
        bagit.Bag(str(folder)).validate(processes=1)
    except (bagit.BagError, OSError, ValueError, UnicodeError) as error:
        raise damaged(_bag_words(error)) from error
    return _check_signature(folder)


def _check_tags(folder: Path) -> None:
    there = {entry.name for entry in os.scandir(folder)}
    odd = sorted(there ^ (TAG_FILES | {DATA}))
    if odd:
        msg = f"“{odd[0][:60]}” is {'one file too many' if odd[0] in there else 'missing'}"
        raise damaged(msg)
    for name in TAG_FILES:
        path = folder / name
        if not stat.S_ISREG(path.lstat().st_mode) or path.stat().st_size > _LARGEST_TAG:
            msg = f"“{name}” is no plain small file"
            raise damaged(msg)
    if _read(folder, BAGIT) != _DECLARED:
        msg = f"“{BAGIT}” does not say what it should"
        raise damaged(msg)
    # The library takes a manifest that names nothing; here every tag file but the last two is named.
    named = {line.partition("  ")[2] for line in _read(folder, TAG_MANIFEST).splitlines()}
    if named != {BAGIT, INFO, MANIFEST}:
        msg = f"“{TAG_MANIFEST}” does not name what it should"
        raise damaged(msg)


def _read(folder: Path, name: str) -> str:
    try:
        return (folder / name).read_bytes().decode("utf-8")
    except UnicodeDecodeError:
        msg = f"“{name}” is no text"
        raise damaged(msg) from None


def _bag_words(error: Exception) -> str:
    details = getattr(error, "details", None) or []
    path = getattr(details[0], "path", "") if details else ""
    return f"“{str(path)[:100]}” differs" if path else str(error)[:200]


def _check_signature(folder: Path) -> PublicKey:
    text = _read(folder, SIGNATURE)
    try:
        held: dict[str, Any] = json.loads(text)
        version = held["version"]
        key = parse_key_line(str(held["key_line"]))
        signature = base64.b64decode(held["signature"], validate=True)
    except (ValueError, KeyError, TypeError, RecursionError, InputProblemsError):
        raise damaged("its signature cannot be read") from None
    if isinstance(version, int) and version > 1:
        what = "the pack is signed in a way that this program does not know yet"
        raise input_problem(what, "Update saddlebench, then open it again.")
    # Anything but these very bytes is no signature of ours: no sign in it may change unseen.
    if text != signature_text(key, signature):
        raise damaged("its signature is not written as it should be")
    if not key.has_signed((folder / TAG_MANIFEST).read_bytes(), signature):
        raise damaged("the signature does not hold")
    return key
