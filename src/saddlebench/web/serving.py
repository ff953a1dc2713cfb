"""The process that serves: one web server, its worker thread, the daily backup; nothing else to install."""

import logging
import os
import secrets
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

SETTINGS_MODULE = "saddlebench.web.settings"
LOOPBACK = "127.0.0.1"
PORT = 8642
_THREADS = 8
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


def reach_from_phone() -> Reach:
    """Return a reach from other devices of the same network, behind a fresh pairing code."""
    code = f"{secrets.randbelow(10**8):08d}"
    return Reach(host="0.0.0.0", addresses=own_addresses(), pairing_code=code)  # noqa: S104


def own_addresses() -> tuple[str, ...]:
    """Return this machine's address in its network, and its name; nothing is sent to find them."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address set aside for documentation (RFC 5737): connecting a datagram socket sends nothing.
            probe.connect(("192.0.2.1", 9))
            found.append(str(probe.getsockname()[0]))
        except OSError:
            _log.info("no network")
    name = socket.gethostname().lower()
    return tuple(one for one in (*found, name, f"{name}.local") if one and one != LOOPBACK)


def bind_settings(reach: Reach) -> None:
    """Tell Django's settings what is answered; before they are read."""
    os.environ["DJANGO_SETTINGS_MODULE"] = SETTINGS_MODULE
    os.environ["SADDLEBENCH_HOSTS"] = ",".join(reach.addresses)
    os.environ["SADDLEBENCH_PAIRING_CODE"] = reach.pairing_code


def free_port(host: str, asked: int | None) -> int:
    """Return the port that was asked for, or the first free one from the usual one on.

    Raises
    ------
    OSError
        If the port that was asked for is taken, or none is free.
    """
    if asked is not None:
        with socket.create_server((host, asked)) as taken:
            return int(taken.getsockname()[1])
    for port in range(PORT, PORT + _PORTS_TRIED):
        try:
            with socket.create_server((host, port)):
                return port
        except OSError:
            continue
    raise OSError(98, f"no free port from {PORT} to {PORT + _PORTS_TRIED - 1}")


def serve(host: str, port: int, home: Path, opened: Callable[[], None]) -> None:
    """Serve until the process is told to stop; `opened` is called once connections are taken."""
    from django.conf import settings  # noqa: PLC0415
    from waitress import create_server  # noqa: PLC0415

    from saddlebench.web.base.jobs import Worker  # noqa: PLC0415
    from saddlebench.web.wsgi import application  # noqa: PLC0415

    server = create_server(
        application,
        host=host,
        port=port,
        threads=_THREADS,
        ident="saddlebench",
        max_request_body_size=settings.LARGEST_REQUEST_BYTES,
        clear_untrusted_proxy_headers=True,
    )
    stopped = threading.Event()
    keeper = threading.Thread(
        target=_keep_daily, args=(home, stopped), name="saddlebench-keeper", daemon=True
    )
    keeper.start()
    worker = Worker()
    worker.start()
    opened()
    try:
        server.run()
    finally:
        stopped.set()
        worker.stop()
        server.close()


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
