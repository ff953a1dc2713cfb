"""A throw-away list of trusted roots for Chromium: the database that NSS reads under a home folder.

Chromium on Linux takes roots that a user added from NSS; this adds one as the user's tools do, by the library
that Chromium itself brings along. Nothing of this machine's own list is read or changed.
"""

import ctypes
import ctypes.util
import subprocess
import sys
from pathlib import Path

_VALID_AUTHORITY, _TRUSTED_AUTHORITY = 1 << 3, 1 << 4  # CERTDB_VALID_CA, CERTDB_TRUSTED_CA of certdb.h


class _Item(ctypes.Structure):
    _fields_ = (("type", ctypes.c_uint), ("data", ctypes.c_char_p), ("len", ctypes.c_uint))


class _Trust(ctypes.Structure):
    _fields_ = (("ssl", ctypes.c_uint), ("email", ctypes.c_uint), ("signing", ctypes.c_uint))


def is_possible() -> bool:
    """Tell whether this machine has the library."""
    return ctypes.util.find_library("nss3") is not None


def trust_root(home: Path, root: Path) -> None:
    """Let a browser with this home folder trust a root (DER), in a process of its own."""
    (home / ".pki" / "nssdb").mkdir(parents=True, exist_ok=True)
    subprocess.run([sys.executable, __file__, str(home), str(root)], check=True)  # noqa: S603


def _add(database: Path, root: bytes) -> None:
    nss = ctypes.CDLL(ctypes.util.find_library("nss3"))
    for name in ("CERT_GetDefaultCertDB", "PK11_GetInternalKeySlot", "CERT_NewTempCertificate"):
        getattr(nss, name).restype = ctypes.c_void_p
    if nss.NSS_InitReadWrite(f"sql:{database}".encode()) != 0:
        sys.exit("the list of roots could not be opened")
    slot = ctypes.c_void_p(nss.PK11_GetInternalKeySlot())
    if nss.PK11_NeedUserInit(slot) and nss.PK11_InitPin(slot, None, b"") != 0:
        sys.exit("the list of roots could not be made")
    every = ctypes.c_void_p(nss.CERT_GetDefaultCertDB())
    content = _Item(0, root, len(root))
    made = ctypes.c_void_p(nss.CERT_NewTempCertificate(every, ctypes.byref(content), None, 0, 1))
    trust = _Trust(_VALID_AUTHORITY | _TRUSTED_AUTHORITY, 0, 0)
    imported = nss.PK11_ImportCert(slot, made, ctypes.c_ulong(0), b"a practice's root", 0)
    if imported != 0 or nss.CERT_ChangeCertTrust(every, made, ctypes.byref(trust)) != 0:
        sys.exit("the root could not be added")
    nss.CERT_DestroyCertificate(made)
    nss.PK11_FreeSlot(slot)
    nss.NSS_Shutdown()


if __name__ == "__main__":
    _add(Path(sys.argv[1]) / ".pki" / "nssdb", Path(sys.argv[2]).read_bytes())
