"""Signatures and closed packs, checked by implementations that the program does not use.

Ed25519: PyNaCl (libsodium), and the published vectors of RFC 8032, section 7.1, tests 1 to 3.
age: the format's published specification (C2SP, age, version 1: the X25519 recipient, the header's MAC, the
payload in chunks of 64 KiB under ChaCha20-Poly1305), opened here with the primitives of `cryptography` alone.
"""

import base64
import hashlib
import hmac
import json
import zipfile
from pathlib import Path

import nacl.exceptions
import nacl.signing
import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from saddlebench.exchange.packs import KeyPair, PublicKey, made_keys, make_pack, parse_key_line
from support.packs import content_of

RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701c"
            "f9b46bd25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0"
            "f11d8c387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f76098"
            "4dc6594a7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
]


@pytest.mark.parametrize(("seed", "public", "message", "signature"), RFC_8032)
def test_rfc_8032_section_7_1(seed: str, public: str, message: str, signature: str) -> None:
    pair = KeyPair(seed=bytes.fromhex(seed), identity=made_keys().identity)
    assert pair.public.signing.hex() == public
    assert pair.sign(bytes.fromhex(message)).hex() == signature
    assert pair.public.has_signed(bytes.fromhex(message), bytes.fromhex(signature))
    assert not pair.public.has_signed(bytes.fromhex(message) + b"x", bytes.fromhex(signature))


def test_pynacl_verifies_what_a_pack_is_signed_with(tmp_path: Path) -> None:
    keys = made_keys()
    content = content_of(keys, with_study=False)
    make_pack(content.document, content.files, keys, tmp_path / "x.zip")
    with zipfile.ZipFile(tmp_path / "x.zip") as archive:
        held = json.loads(archive.read("x/signature.json"))
        signed = archive.read(f"x/{held['signed_file']}")
        manifest = archive.read("x/manifest-sha256.txt")
        record = archive.read(f"x/data/{content.document.backs[0].version.file}")
    key = nacl.signing.VerifyKey(base64.b64decode(held["public_key"]))
    signature = base64.b64decode(held["signature"])
    assert key.verify(signed, signature) == signed
    with pytest.raises(nacl.exceptions.BadSignatureError):
        key.verify(signed + b"\n", signature)
    # From the signature down to a record: each list names the next by its hash.
    assert hashlib.sha256(manifest).hexdigest().encode() in signed
    assert hashlib.sha256(record).hexdigest().encode() in manifest


def test_what_pynacl_signs_is_taken() -> None:
    signer = nacl.signing.SigningKey.generate()
    key = PublicKey(signing=bytes(signer.verify_key), recipient=made_keys().public.recipient)
    assert parse_key_line(key.line) == key
    signed = signer.sign(b"a message")
    assert key.has_signed(b"a message", signed.signature)
    assert not key.has_signed(b"another", signed.signature)


CHARSET = "qpzry9x8gf2tvdw0s3jn54khce6mua7l"


def bech32_data(text: str) -> bytes:
    """Return what a Bech32 text (BIP 173) holds, without checking its sum."""
    values = [CHARSET.index(sign) for sign in text.lower().rpartition("1")[2][:-6]]
    number = int("".join(f"{one:05b}" for one in values)[: len(values) * 5 // 8 * 8], 2)
    return number.to_bytes(len(values) * 5 // 8)


def unpadded(text: bytes) -> bytes:
    return base64.b64decode(text + b"=" * (-len(text) % 4))


def derived(secret: bytes, salt: bytes, info: bytes) -> bytes:
    return HKDF(algorithm=hashes.SHA256(), length=32, salt=salt, info=info).derive(secret)


def opened_by_the_specification(closed: bytes, identity: str) -> bytes:
    private = X25519PrivateKey.from_private_bytes(bech32_data(identity))
    own = private.public_key().public_bytes_raw()
    header, _, rest = closed.partition(b"\n---")
    mac, _, payload = rest.partition(b"\n")
    lines = header.split(b"\n")
    assert lines[0] == b"age-encryption.org/v1"
    file_key = None
    for at, line in enumerate(lines):
        if line.startswith(b"-> X25519 "):
            share = unpadded(line.split(b" ")[2])
            shared = private.exchange(X25519PublicKey.from_public_bytes(share))
            wrap = derived(shared, share + own, b"age-encryption.org/v1/X25519")
            try:
                file_key = ChaCha20Poly1305(wrap).decrypt(bytes(12), unpadded(lines[at + 1]), None)
            except Exception:  # noqa: BLE001, S112
                continue
    assert file_key is not None
    expected = hmac.digest(derived(file_key, b"", b"header"), header + b"\n---", "sha256")
    assert hmac.compare_digest(expected, unpadded(mac.strip()))
    stream = ChaCha20Poly1305(derived(file_key, payload[:16], b"payload"))
    chunks, size = [], 65536 + 16
    body = payload[16:]
    for count, begin in enumerate(range(0, len(body), size)):
        chunk = body[begin : begin + size]
        is_last = begin + size >= len(body)
        chunks.append(stream.decrypt(count.to_bytes(11) + bytes([is_last]), chunk, None))
    return b"".join(chunks)


def test_a_closed_pack_opens_by_the_published_format(tmp_path: Path) -> None:
    keys, friend = made_keys(), made_keys()
    content = content_of(keys, with_study=False)
    make_pack(content.document, content.files, keys, tmp_path / "x.zip")
    make_pack(content.document, content.files, keys, tmp_path / "x.age", recipient=friend.public)
    closed = (tmp_path / "x.age").read_bytes()
    for reader in (friend, keys):
        held = opened_by_the_specification(closed, reader.identity)
        assert held == (tmp_path / "x.zip").read_bytes()
