"""The practice's own certificates: a phone reaches the laptop over an encrypted connection without a cloud.

A phone is asked once to trust a root (X.509, RFC 5280). The root's private key signs one certificate, that of
the issuer, and is never written anywhere; the issuer is confined to private addresses and names. A verifier
may take a root's own limits lightly, but not those of a certificate below it: whoever takes the key out of
this folder can speak for a machine in a private network, and for nobody else.
"""

import ipaddress
import os
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from saddlebench.engine.errors import Where, input_problem

AUTHORITY_YEARS = 10
SERVER_DAYS = 90
"""Public platforms refuse a server's certificate of more than 398 days; a short one costs nothing here."""
RENEW_BEFORE_DAYS = 30
PRIVATE_NETWORKS = tuple(
    ipaddress.ip_network(one)
    for one in (
        *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16"),  # RFC 1918
        *("169.254.0.0/16", "fe80::/10"),  # RFC 3927, RFC 4291: an address that nobody gave
        "fc00::/7",  # RFC 4193
        *("127.0.0.0/8", "::1/128"),  # this machine itself
    )
)
PRIVATE_NAMES = ("local", "localhost")
"""Names that no public name server answers: RFC 6762, RFC 6761."""
ALWAYS = ("localhost", "127.0.0.1")
_AUTHORITY, _SERVER = "authority.pem", "server.pem"
# A phone whose clock is some hours behind must not find the certificate not valid yet.
_EARLIER = timedelta(days=1)
_LONGEST_NAME = 40
_PAIRS_A_LINE = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Authority:
    """What signs: the root that phones trust, and the issuer below it with its key."""

    root: x509.Certificate
    issuer: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def fingerprint(self) -> str:
        """What a person compares with the phone's screen: SHA-256 of the root, in pairs, four lines."""
        return fingerprint_of(self.root)


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """What the server presents."""

    authority: Authority
    names: tuple[str, ...]
    """Names and numbers that the certificate holds for."""
    file: Path
    """Key and chain in one file, as a TLS library takes them."""
    was_renewed: bool


def trust_folder(home: Path) -> Path:
    """Return where the certificates lie. They are in no backup: another is made, and trusted, in a minute."""
    return home / "phone-trust"


def is_private(name: str) -> bool:
    """Tell whether a name or number is one that the practice may certify."""
    try:
        number = ipaddress.ip_address(name)
    except ValueError:
        return name.lower().rstrip(".").rsplit(".", 1)[-1] in PRIVATE_NAMES
    return any(number in one for one in PRIVATE_NETWORKS)


def fingerprint_of(certificate: x509.Certificate) -> str:
    """Return the SHA-256 of a certificate in pairs of hexadecimal digits, eight pairs a line."""
    pairs = certificate.fingerprint(hashes.SHA256()).hex(" ").upper().split(" ")
    return "\n".join(" ".join(pairs[i : i + _PAIRS_A_LINE]) for i in range(0, len(pairs), _PAIRS_A_LINE))


def find_authority(folder: Path) -> Authority | None:
    """Return the authority that lies in a folder; None where none was made.

    Raises
    ------
    InputProblemsError
        If its file is damaged. It is never replaced behind one's back: phones would see an impostor.
    """
    path = folder / _AUTHORITY
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return None
    try:
        return _read_authority(content)
    except (ValueError, TypeError, InvalidSignature, UnsupportedAlgorithm):
        cure = "Delete it to have a new one made; every phone is then asked once to trust that one."
        raise input_problem(
            "the certificates that phones trust cannot be read", cure, Where(file=str(path))
        ) from None


def _read_authority(content: bytes) -> Authority:
    issuer, root = x509.load_pem_x509_certificates(content)
    key = serialization.load_pem_private_key(content, password=None)
    issuer.verify_directly_issued_by(root)
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != issuer.public_key():
        msg = "the key is another's"
        raise ValueError(msg)
    return Authority(root=root, issuer=issuer, key=key)


def ensure_authority(folder: Path, machine: str, now: datetime) -> Authority:
    """Return the authority, made first where there is none or the one there runs out.

    Parameters
    ----------
    folder : Path
        Where certificates lie.
    machine : str
        The machine's name, by which a person finds the root in a phone's list.

    Raises
    ------
    InputProblemsError
        If the one that is there is damaged, or begins in the future: then the clock is wrong.
    """
    known = find_authority(folder)
    if known is not None and now < known.issuer.not_valid_before_utc:
        cure = "Set this machine's clock, then start again."
        day = known.issuer.not_valid_before_utc.date().isoformat()
        msg = f"this machine's clock is before {day}, when its certificates were made"
        raise input_problem(msg, cure)
    if known is not None and now + timedelta(days=SERVER_DAYS) < known.issuer.not_valid_after_utc:
        return known
    made = make_authority(machine, now)
    parts = (_private_pem(made.key), _pem(made.issuer), _pem(made.root))
    _write_private(folder / _AUTHORITY, b"".join(parts))
    return made


def make_authority(machine: str, now: datetime) -> Authority:
    """Make a root and the issuer below it; the root's private key is gone when this returns."""
    label = f"saddlebench {machine[:_LONGEST_NAME]} {now.date().isoformat()}"
    end = now + timedelta(days=366 * AUTHORITY_YEARS)
    root_key, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    name, below = _name(label), _name(f"{label} issuer")
    root = (
        _begun(name, name, root_key.public_key(), root_key.public_key(), now, end)
        .add_extension(x509.BasicConstraints(ca=True, path_length=1), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .sign(root_key, hashes.SHA256())
    )
    issuer = (
        _begun(below, name, key.public_key(), root_key.public_key(), now, end)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_confined(), critical=True)
        .sign(root_key, hashes.SHA256())
    )
    return Authority(root=root, issuer=issuer, key=key)


def issue(authority: Authority, names: Sequence[str], now: datetime) -> bytes:
    """Return a fresh key and the certificate for some names, with its issuer, as PEM."""
    key = ec.generate_private_key(ec.SECP256R1())
    end = min(now + timedelta(days=SERVER_DAYS), authority.issuer.not_valid_after_utc)
    certificate = (
        _begun(
            _name(names[0]), authority.issuer.subject, key.public_key(), authority.key.public_key(), now, end
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(one) for one in names]), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    return b"".join((_private_pem(key), _pem(certificate), _pem(authority.issuer)))


def ensure_served(folder: Path, machine: str, names: Sequence[str], now: datetime) -> Served:
    """Return what the server presents under these names; renewed where it is missing, due, or for others.

    Names that are not private are left out: the practice cannot certify them, and no phone would believe it.

    Raises
    ------
    InputProblemsError
        If the authority's file is damaged, or the machine's clock is before it.
    """
    authority = ensure_authority(folder, machine, now)
    wanted = tuple(dict.fromkeys((*(one.lower() for one in names if is_private(one)), *ALWAYS)))
    path = folder / _SERVER
    is_due = not _still_serves(path, authority, wanted, now)
    if is_due:
        _write_private(path, issue(authority, wanted, now))
    return Served(authority=authority, names=wanted, file=path, was_renewed=is_due)


def served_names(folder: Path) -> tuple[str, ...]:
    """Return the names and numbers that what is served holds for, this machine's own left out."""
    try:
        certificate = x509.load_pem_x509_certificates((folder / _SERVER).read_bytes())[0]
    except (OSError, ValueError):
        return ()
    return tuple(one for one in _names_of(certificate) if one not in ALWAYS)


def _still_serves(path: Path, authority: Authority, names: Sequence[str], now: datetime) -> bool:
    try:
        content = path.read_bytes()
        certificate = x509.load_pem_x509_certificates(content)[0]
        key = serialization.load_pem_private_key(content, password=None)
        certificate.verify_directly_issued_by(authority.issuer)
    except (OSError, ValueError, TypeError, InvalidSignature):
        return False
    begins, ends = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    is_in_time = begins <= now <= ends - timedelta(days=RENEW_BEFORE_DAYS)
    return (
        is_in_time
        and set(_names_of(certificate)) == set(names)
        and key.public_key() == certificate.public_key()
    )


def _names_of(certificate: x509.Certificate) -> tuple[str, ...]:
    held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return tuple(str(one.value) for one in held)


def _begun(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePublicKey,
    issuer_key: ec.EllipticCurvePublicKey,
    now: datetime,
    end: datetime,
) -> x509.CertificateBuilder:
    begin = now.astimezone(UTC).replace(microsecond=0) - _EARLIER
    return (
        x509.CertificateBuilder(subject_name=subject, issuer_name=issuer, public_key=key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begin)
        .not_valid_after(end.astimezone(UTC).replace(microsecond=0))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key), critical=False)
    )


def _name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common[:64])])


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _confined() -> x509.NameConstraints:
    """Return the limits of what the issuer may certify (RFC 5280, 4.2.1.10)."""
    numbers = [x509.IPAddress(one) for one in PRIVATE_NETWORKS]
    return x509.NameConstraints([*(x509.DNSName(one) for one in PRIVATE_NAMES), *numbers], None)


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _pem(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)


def _private_pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write_private(path: Path, content: bytes) -> None:
    """Write a file that is its owner's alone before a byte is in it, whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    path.parent.chmod(0o700)
    draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)
