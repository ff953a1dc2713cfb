"""A practice's key: it signs what the practice sends, and opens what only the practice may read.

It has two halves of its own kind: an Ed25519 key (RFC 8032) to sign with, an X25519 key (RFC 7748, as the age
format uses it) to be written to. People see one line and one fingerprint.
"""

import base64
import binascii
import hashlib
import json
from dataclasses import dataclass

import pyrage
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from saddlebench.engine.errors import InputProblemsError, Where, input_problem

LINE_BEGIN = "SADDLEBENCH-KEY:1:"
LONGEST_LINE = 400
_CHECK_BYTES = 3
_SIGNING_BYTES = 32
_PRIVATE = "saddlebench private key"
_GROUPS, _DIGITS = 6, 5


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicKey:
    """What others may know of a practice's key."""

    signing: bytes
    """The Ed25519 public key, 32 bytes."""
    recipient: str
    """The age recipient that packs are closed to, `age1…`."""

    @property
    def line(self) -> str:
        """The key as one line: to print, to send, to show as a QR code (only its alphanumeric signs)."""
        check = hashlib.sha256(self.signing).digest()[:_CHECK_BYTES]
        signing = base64.b32encode(self.signing + check).decode()
        return f"{LINE_BEGIN}{signing}:{self.recipient.upper()}"

    @property
    def fingerprint(self) -> str:
        """Six groups of five digits, to be read out over the telephone in any language.

        Thirty digits of a SHA-256: another key with the same digits takes some 2^99 tries.
        """
        told = f"saddlebench practice key 1\n{self.line}".encode()
        number = int.from_bytes(hashlib.sha256(told).digest()) % 10 ** (_GROUPS * _DIGITS)
        digits = f"{number:0{_GROUPS * _DIGITS}d}"
        return " ".join(digits[i : i + _DIGITS] for i in range(0, len(digits), _DIGITS))

    def has_signed(self, message: bytes, signature: bytes) -> bool:
        """Tell whether the key's owner signed these bytes."""
        try:
            Ed25519PublicKey.from_public_bytes(self.signing).verify(signature, message)
        except (InvalidSignature, ValueError):
            return False
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyPair:
    """A practice's whole key; its private half goes into one file that only the owner may read."""

    seed: bytes
    """The Ed25519 private key, 32 bytes."""
    identity: str
    """The age identity, `AGE-SECRET-KEY-1…`."""

    @property
    def public(self) -> PublicKey:
        """What others may know."""
        signing = Ed25519PrivateKey.from_private_bytes(self.seed).public_key().public_bytes_raw()
        recipient = str(pyrage.x25519.Identity.from_str(self.identity).to_public())
        return PublicKey(signing=signing, recipient=recipient)

    def sign(self, message: bytes) -> bytes:
        """Return the signature of these bytes, 64 bytes."""
        return Ed25519PrivateKey.from_private_bytes(self.seed).sign(message)

    def as_json(self) -> str:
        """Return the private key as its file holds it."""
        held = {
            "format": _PRIVATE,
            "version": 1,
            "signing_key": base64.b64encode(self.seed).decode(),
            "age_identity": self.identity,
        }
        return json.dumps(held, indent=1) + "\n"


def made_keys() -> KeyPair:
    """Return a new key, from the system's own randomness."""
    seed = Ed25519PrivateKey.generate().private_bytes_raw()
    return KeyPair(seed=seed, identity=str(pyrage.x25519.Identity.generate()))


def parse_private_key(text: str, file: str) -> KeyPair:
    """Read a private key's file.

    Raises
    ------
    InputProblemsError
        If it is none, or damaged.
    """
    try:
        held = json.loads(text)
        is_known = (held["format"], held["version"]) == (_PRIVATE, 1)
        seed = base64.b64decode(held["signing_key"], validate=True)
        pair = KeyPair(seed=seed, identity=str(held["age_identity"]))
        _ = pair.public
    except (ValueError, KeyError, TypeError, pyrage.IdentityError):
        is_known = False
    if not is_known:
        cure = "Bring the file back from a backup; do not write another over it."
        raise input_problem("the practice's private key cannot be read", cure, Where(file=file))
    return pair


def parse_key_line(text: str) -> PublicKey:
    """Read a public key as it was copied, scanned or typed: blanks and line ends do not matter.

    Raises
    ------
    InputProblemsError
        If it is no key, or a sign of it is wrong.
    """
    line = "".join(text[: 4 * LONGEST_LINE].split()).upper()
    if not line.startswith(LINE_BEGIN):
        newer = line.startswith("SADDLEBENCH-KEY:")
        raise _no_key("is of a newer kind" if newer else "is no practice's key")
    signing, _, recipient = line.removeprefix(LINE_BEGIN).partition(":")
    try:
        held = base64.b32decode(signing)
        pyrage.x25519.Recipient.from_str(recipient.lower())
    except (binascii.Error, ValueError, pyrage.RecipientError):
        raise _no_key("is not whole") from None
    key = PublicKey(signing=held[:_SIGNING_BYTES], recipient=recipient.lower())
    if len(held) != _SIGNING_BYTES + _CHECK_BYTES or key.line != line:
        raise _no_key("has a wrong sign in it")
    return key


def _no_key(what: str) -> InputProblemsError:
    cure = f"Copy the whole line, from {LINE_BEGIN} to its end, or scan the code."
    return input_problem(f"the key line {what}", cure, Where(field="Key line"))
