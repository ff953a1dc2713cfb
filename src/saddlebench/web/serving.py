"""The process that serves: one web server, its worker thread, the daily backup; nothing else to install."""

import ipaddress
import logging
import os
import secrets
import socket
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from saddlebench.engine.errors import input_problem
from saddlebench.practice.keeping.certificates import trust_folder
from saddlebench.web.doors import LOOPBACK, Doors, own_addresses
from saddlebench.web.listening import believing, listen

SETTINGS_MODULE = "saddlebench.web.settings"
PORT = 8642
SECURE_PORT = 8643
_PORTS_TRIED = 20
_LOOK_EVERY_S = 900.0
_log = logging.getLogger("django.saddlebench")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """From where the pages are reached."""

    host: str = LOOPBACK
    """What the server listens on."""
    addresses: tuple[str, ...] = ()
    """Other names and numbers of this machine that are answered."""
    pairing_code: str = ""
    secure_port: int | None = None
    """Where encrypted connections are taken."""
    trusted_in: Path | None = None
    """Folder of the certificates for it."""
    proxies: tuple[str, ...] = ()
    """Addresses of proxies that are believed."""


def reach_from_phone(secure_port: int, home: Path) -> Reach:
    """Return a reach from other devices of the same network, behind a fresh pairing code."""
    code = f"{secrets.randbelow(10**8):08d}"
    return Reach(
        host="0.0.0.0",  # noqa: S104
        addresses=own_addresses(),
        pairing_code=code,
        secure_port=secure_port,
        trusted_in=trust_folder(home),
    )


def reach_behind(hosts: Sequence[str], proxies: Sequence[str]) -> Reach:
    """Return the reach of a hosted program: by a proxy that is believed, under public names.

    Raises
    ------
    InputProblemsError
        If a proxy's address is none.
    """
    for one in proxies:
        try:
            ipaddress.ip_address(one)
        except ValueError:
            cure = "Give the number it connects from, for instance 127.0.0.1."
            what = f"“{one}” is no address of a proxy"
            raise input_problem(what, cure) from None
    return Reach(addresses=tuple(one.lower() for one in hosts), proxies=tuple(proxies))


def bind_settings(reach: Reach) -> None:
    """Tell Django's settings what is answered; before they are read."""
    os.environ["DJANGO_SETTINGS_MODULE"] = SETTINGS_MODULE
    os.environ["SADDLEBENCH_HOSTS"] = ",".join(reach.addresses)
    os.environ["SADDLEBENCH_PAIRING_CODE"] = reach.pairing_code
    os.environ["SADDLEBENCH_SECURE_PORT"] = str(reach.secure_port or "")
    os.environ["SADDLEBENCH_TRUST_FOLDER"] = str(reach.trusted_in or "")


def answer_to(addresses: Sequence[str]) -> None:
    """Answer under these names and numbers from now on, besides this machine's own."""
    from django.conf import settings  # noqa: PLC0415

    settings.ALLOWED_HOSTS[:] = [*settings.OWN_HOSTS, *addresses]


def free_port(host: str, asked: int | None, *, first: int | None = None) -> int:
    """Return the port that was asked for, or the first free one from the usual one on.

    Raises
    ------
    OSError
        If the port that was asked for is taken, or none is free.
    """
    if asked is not None:
        with socket.create_server((host, asked)) as taken:
            return int(taken.getsockname()[1])
    first = PORT if first is None else first
    for port in range(first, first + _PORTS_TRIED):
        try:
            with socket.create_server((host, port)):
                return port
        except OSError:
            continue
    raise OSError(98, f"no free port from {first} to {first + _PORTS_TRIED - 1}")


def serve(
    reach: Reach, port: int, home: Path, opened: Callable[[], None], doors: Doors | None = None
) -> None:
    """Serve until the process is told to stop; `opened` is called once connections are taken.

    Raises
    ------
    OSError
        If a port is taken.
    """
    from django.conf import settings  # noqa: PLC0415

    from saddlebench.web.base.jobs import Worker  # noqa: PLC0415
    from saddlebench.web.wsgi import application  # noqa: PLC0415

    answering = believing(application, reach.proxies)
    largest = settings.LARGEST_REQUEST_BYTES
    servers = [listen(answering, reach.host, port, largest_bytes=largest)]
    stopped, worker = threading.Event(), Worker()
    # Told to stop from here on, whatever is under way: a server's threads live until it is stopped.
    try:
        _beside("keeper", _keep_daily, home, stopped)
        if doors is not None and reach.secure_port is not None:
            encrypted = doors.encrypted
            servers.append(
                listen(answering, reach.host, reach.secure_port, largest_bytes=largest, encrypted=encrypted)
            )
            _beside("encrypted", servers[-1].serve)
            _beside("doors", doors.watch, stopped)
        worker.start()
        opened()
        servers[0].serve()
    finally:
        stopped.set()
        worker.stop()
        for one in servers:
            one.stop()


def _beside(name: str, work: Callable[..., None], *given: object) -> None:
    threading.Thread(target=work, args=given, name=f"saddlebench-{name}", daemon=True).start()


def _keep_daily(home: Path, stopped: threading.Event) -> None:
    """Do what each day asks for, as long as the process runs."""
    from django.db import connection  # noqa: PLC0415

    try:
        while True:
            try:
                keep_day(home, datetime.now(UTC))
            except Exception:  # noqa: BLE001
                # The next look tries again; the home page shows the age of the newest backup meanwhile.
                _log.exception("the daily backup failed")
            if stopped.wait(_LOOK_EVERY_S):
                return
    finally:
        connection.close()


def keep_day(home: Path, now: datetime) -> None:
    """Make the day's backup where it is due, and take out of the tables what long work left behind."""
    from django.db import connection  # noqa: PLC0415

    from saddlebench.practice.keeping.rotation import daily_backup  # noqa: PLC0415
    from saddlebench.practice.services.long_work import take_out_old_jobs  # noqa: PLC0415

    # A database on a server is backed up where it is; the folder's own file is backed up here.
    if connection.vendor == "sqlite":
        daily_backup(home, now)
    take_out_old_jobs()
