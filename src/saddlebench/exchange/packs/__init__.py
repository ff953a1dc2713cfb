"""Handover packs: records that go to another practice, signed, readable without this program.

A pack is a bag (RFC 8493) in a zip file, signed over its tag manifest (Ed25519, RFC 8032), and on wish closed
to all but its recipient (the age format, version 1).
"""

from saddlebench.exchange.packs.document import PackDocument, VersionPart
from saddlebench.exchange.packs.keys import KeyPair, PublicKey, made_keys, parse_key_line
from saddlebench.exchange.packs.making import MadePack, make_pack
from saddlebench.exchange.packs.opening import OpenedPack, PackLimits, is_sealed, opened_pack

__all__ = [
    "KeyPair",
    "MadePack",
    "OpenedPack",
    "PackDocument",
    "PackLimits",
    "PublicKey",
    "VersionPart",
    "is_sealed",
    "made_keys",
    "make_pack",
    "opened_pack",
    "parse_key_line",
]
