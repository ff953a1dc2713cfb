"""By which addresses other devices reach this machine, and the certificate for them; both may change."""

import logging
import socket
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from saddlebench.engine.errors import SaddlebenchError
from saddlebench.practice.keeping.certificates import Served, ensure_served
from saddlebench.web.listening import Encrypted

LOOPBACK = "127.0.0.1"
_LOOK_EVERY_S = 20.0
_log = logging.getLogger("django.saddlebench")


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


class Doors:
    """Encrypted connections: the certificate is renewed when it is old, or the machine's address changes."""

    def __init__(
        self, folder: Path, addresses: tuple[str, ...], moved: Callable[[tuple[str, ...]], None]
    ) -> None:
        self._folder = folder
        self._moved = moved
        self.addresses = addresses
        self.served = self._served(datetime.now(UTC))
        self.encrypted = Encrypted(self.served.file)

    def _served(self, now: datetime) -> Served:
        return ensure_served(self._folder, socket.gethostname(), self.addresses, now)

    def look(self, now: datetime, addresses: tuple[str, ...]) -> bool:
        """Renew the certificate if it is due or the addresses are others; tell whether they are.

        Without a network the last addresses stay: the phone may be back in a moment under the same.
        """
        has_moved = bool(addresses) and addresses != self.addresses
        if has_moved:
            self.addresses = addresses
        self.served = self._served(now)
        if self.served.was_renewed:
            self.encrypted.renew(self.served.file)
        if has_moved:
            self._moved(addresses)
        return has_moved

    def watch(self, stopped: threading.Event) -> None:
        """Look again and again until the program stops."""
        while not stopped.wait(_LOOK_EVERY_S):
            try:
                self.look(datetime.now(UTC), own_addresses())
            except (OSError, SaddlebenchError):
                _log.exception("the certificate for phones could not be renewed")
