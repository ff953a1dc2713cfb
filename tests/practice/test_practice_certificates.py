"""The practice's own certificates: whom they hold for, whom they cannot, how long, and who can read them.

Chains are checked by OpenSSL, which knows nothing of how they were made (path validation of RFC 5280).
"""

import ipaddress
import shutil
import ssl
import stat
import subprocess
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.keeping import certificates
from saddlebench.practice.keeping.backup import back_up, restore, swap_in
from saddlebench.practice.keeping.certificates import (
    AUTHORITY_YEARS,
    RENEW_BEFORE_DAYS,
    SERVER_DAYS,
    ensure_authority,
    ensure_served,
    find_authority,
    is_private,
    issue,
    make_authority,
    served_names,
    trust_folder,
)
from saddlebench.practice.settings import DATABASE_NAME

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
NAMES = ("192.168.7.4", "van", "van.local")
PLATFORMS_MOST_DAYS = 398


def verified(root: x509.Certificate, served: bytes, folder: Path, *more: str) -> tuple[bool, str]:
    """Ask OpenSSL whether a chain leads to a root."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("NO OPENSSL: chains of certificates are not checked by another program")
    (folder / "root.pem").write_bytes(root.public_bytes(Encoding.PEM))
    leaf, issuer = x509.load_pem_x509_certificates(served)
    (folder / "leaf.pem").write_bytes(leaf.public_bytes(Encoding.PEM))
    (folder / "issuer.pem").write_bytes(issuer.public_bytes(Encoding.PEM))
    asked = [openssl, "verify", "-x509_strict", "-purpose", "sslserver", "-attime", str(int(NOW.timestamp()))]
    asked += ["-CAfile", str(folder / "root.pem"), "-untrusted", str(folder / "issuer.pem"), *more]
    done = subprocess.run([*asked, str(folder / "leaf.pem")], capture_output=True, text=True, check=False)
    return done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("asked", [("-verify_ip", "192.168.7.4"), ("-verify_hostname", "van.local")])
def test_another_program_finds_the_chain_good(tmp_path: Path, asked: tuple[str, ...]) -> None:
    served = ensure_served(tmp_path / "t", "van", NAMES, NOW)
    assert served.names == ("192.168.7.4", "van.local", "localhost", "127.0.0.1")
    assert served_names(tmp_path / "t") == ("192.168.7.4", "van.local")
    is_good, said = verified(served.authority.root, served.file.read_bytes(), tmp_path, *asked)
    assert is_good, said


def test_another_program_refuses_another_name_and_another_root(tmp_path: Path) -> None:
    served = ensure_served(tmp_path / "t", "van", NAMES, NOW)
    content = served.file.read_bytes()
    assert "mismatch" in verified(served.authority.root, content, tmp_path, "-verify_ip", "192.168.7.5")[1]
    other = make_authority("van", NOW)
    assert not verified(other.root, content, tmp_path)[0]


@pytest.mark.parametrize("name", ["bank.example", "93.184.216.34", "local.example", "2001:db8::1"])
def test_with_the_key_nobody_can_speak_for_a_public_machine(tmp_path: Path, name: str) -> None:
    authority = make_authority("van", NOW)
    is_good, said = verified(authority.root, issue(authority, [name], NOW), tmp_path)
    assert not is_good
    assert "permitted subtree violation" in said
    assert not is_private(name)
    assert name not in ensure_served(tmp_path / "t", "van", [name], NOW).names


@pytest.mark.parametrize(
    "name", ["10.1.2.3", "172.20.10.2", "192.168.43.1", "169.254.9.9", "fd00::5", "a.b.LOCAL"]
)
def test_private_names_and_numbers_are_certified(tmp_path: Path, name: str) -> None:
    served = ensure_served(tmp_path / "t", "van", [name], NOW)
    assert name.lower() in served.names
    is_good, said = verified(served.authority.root, served.file.read_bytes(), tmp_path)
    assert is_good, said


def test_the_key_in_the_folder_is_not_the_roots(tmp_path: Path) -> None:
    authority = ensure_authority(tmp_path, "van", NOW)
    assert authority.key.public_key() == authority.issuer.public_key()
    assert authority.key.public_key() != authority.root.public_key()
    assert sum(one.read_bytes().count(b"PRIVATE KEY-----\n") for one in tmp_path.iterdir()) == 2  # begin, end
    confined = authority.issuer.extensions.get_extension_for_class(x509.NameConstraints)
    assert confined.critical
    below = x509.load_pem_x509_certificates(issue(authority, ["van.local"], NOW))[0]
    assert not below.extensions.get_extension_for_class(x509.BasicConstraints).value.ca


def test_lives_as_long_as_platforms_take_and_no_longer(tmp_path: Path) -> None:
    served = ensure_served(tmp_path, "van", NAMES, NOW)
    leaf = x509.load_pem_x509_certificates(served.file.read_bytes())[0]
    assert (
        (leaf.not_valid_after_utc - leaf.not_valid_before_utc).days <= SERVER_DAYS + 1 < PLATFORMS_MOST_DAYS
    )
    assert leaf.not_valid_before_utc < NOW - timedelta(hours=23), "a phone's clock may be behind"
    assert (served.authority.root.not_valid_after_utc - NOW).days >= 365 * AUTHORITY_YEARS


def test_files_are_their_owners_alone(tmp_path: Path) -> None:
    served = ensure_served(tmp_path / "t", "van", NAMES, NOW)
    assert stat.S_IMODE(served.file.parent.stat().st_mode) == 0o700
    modes = {one.name: stat.S_IMODE(one.stat().st_mode) for one in served.file.parent.iterdir()}
    assert modes == {"authority.pem": 0o600, "server.pem": 0o600}


def test_asked_again_everything_stays(tmp_path: Path) -> None:
    first = ensure_served(tmp_path, "van", NAMES, NOW)
    content = first.file.read_bytes()
    again = ensure_served(tmp_path, "van", NAMES, NOW + timedelta(days=SERVER_DAYS - RENEW_BEFORE_DAYS - 1))
    assert first.was_renewed
    assert not again.was_renewed
    assert again.file.read_bytes() == content


@pytest.mark.parametrize(
    ("names", "later"),
    [
        (("172.20.10.2", "van.local"), timedelta(0)),
        (NAMES, timedelta(days=SERVER_DAYS - RENEW_BEFORE_DAYS + 1)),
    ],
)
def test_another_address_or_age_renews_the_servers_certificate_under_the_same_root(
    tmp_path: Path, names: tuple[str, ...], later: timedelta
) -> None:
    first = ensure_served(tmp_path, "van", NAMES, NOW)
    next_one = ensure_served(tmp_path, "van", names, NOW + later)
    assert next_one.was_renewed
    assert next_one.authority.root == first.authority.root
    assert next_one.authority.fingerprint == first.authority.fingerprint
    assert set(served_names(tmp_path)) == {one for one in names if is_private(one)}


def test_a_damaged_or_foreign_server_certificate_is_made_anew(tmp_path: Path) -> None:
    first = ensure_served(tmp_path / "a", "van", NAMES, NOW)
    first.file.write_bytes(b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n")
    assert ensure_served(tmp_path / "a", "van", NAMES, NOW).was_renewed
    foreign = ensure_served(tmp_path / "b", "van", NAMES, NOW)
    shutil.copy(foreign.file, first.file)
    assert ensure_served(tmp_path / "a", "van", NAMES, NOW).was_renewed


@pytest.mark.parametrize("damage", [b"", b"nothing", b"-----BEGIN CERTIFICATE-----\n"])
def test_a_damaged_authority_is_said_and_never_replaced(tmp_path: Path, damage: bytes) -> None:
    ensure_served(tmp_path, "van", NAMES, NOW)
    (tmp_path / "authority.pem").write_bytes(damage)
    with pytest.raises(InputProblemsError, match=r"authority\.pem.*cannot be read.*asked once"):
        ensure_served(tmp_path, "van", NAMES, NOW)
    assert (tmp_path / "authority.pem").read_bytes() == damage


def test_an_authority_with_anothers_key_is_refused(tmp_path: Path) -> None:
    mine, other = make_authority("van", NOW), make_authority("van", NOW)
    parts = (
        certificates._private_pem(other.key),
        certificates._pem(mine.issuer),
        certificates._pem(mine.root),
    )
    (tmp_path / "authority.pem").write_bytes(b"".join(parts))
    with pytest.raises(InputProblemsError, match="cannot be read"):
        find_authority(tmp_path)


def test_a_clock_that_is_far_behind_is_said(tmp_path: Path) -> None:
    ensure_served(tmp_path, "van", NAMES, NOW)
    with pytest.raises(InputProblemsError, match="clock is before 2026-03-01"):
        ensure_served(tmp_path, "van", NAMES, NOW - timedelta(days=400))


def test_an_authority_that_runs_out_is_followed_by_another(tmp_path: Path) -> None:
    first = ensure_authority(tmp_path, "van", NOW)
    assert ensure_authority(tmp_path, "van", NOW + timedelta(days=365 * 9)).root == first.root
    assert ensure_authority(tmp_path, "van", NOW + timedelta(days=366 * 10 - 10)).root != first.root


def test_the_fingerprint_is_what_other_programs_show(tmp_path: Path) -> None:
    authority = ensure_authority(tmp_path, "van", NOW)
    told = authority.fingerprint.split()
    assert [len(line.split()) for line in authority.fingerprint.splitlines()] == [8] * 4
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("NO OPENSSL: fingerprints are not compared with another program's")
    asked = [openssl, "x509", "-noout", "-fingerprint", "-sha256"]
    shown = subprocess.run(
        asked, input=authority.root.public_bytes(Encoding.PEM), capture_output=True, check=True
    ).stdout.decode()
    assert shown.strip().split("=")[1].split(":") == told


def test_a_tls_library_takes_the_file(tmp_path: Path) -> None:
    served = ensure_served(tmp_path, "van", NAMES, datetime.now(UTC))
    ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(served.file)


@pytest.mark.parametrize("one", certificates.PRIVATE_NETWORKS, ids=str)
def test_every_network_is_one_that_the_registry_calls_private(one: "ipaddress.IPv4Network") -> None:
    assert one.is_private or one.is_link_local or one.is_loopback
    assert not one.is_global


def test_no_backup_holds_them_and_a_restore_keeps_this_machines(own_database: Path, tmp_path: Path) -> None:
    served = ensure_served(trust_folder(own_database), "van", NAMES, NOW)
    assert (own_database / DATABASE_NAME).is_file()
    backup = back_up(own_database, now=NOW, folder=tmp_path / "kept")
    restore(backup.path, tmp_path / "restored")
    assert not trust_folder(tmp_path / "restored").exists()
    secret = served.file.read_bytes().splitlines()[1]
    assert secret not in backup.path.read_bytes()
    copy = tmp_path / "in-use"
    shutil.copytree(own_database, copy)
    swap_in(tmp_path / "restored", copy, now=NOW)
    kept = find_authority(trust_folder(copy))
    assert kept is not None
    assert kept.root == served.authority.root
    assert stat.S_IMODE(trust_folder(copy).stat().st_mode) == 0o700
