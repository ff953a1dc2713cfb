"""The web server: the same one for plain connections and for encrypted ones, and what it says of who asks.

Handshakes are made by the thread that answers, not by the one that accepts: a device that connects and then
says nothing must not keep others waiting.
"""

import ipaddress
import logging
import ssl
from collections.abc import Callable, Collection, Iterable
from contextlib import suppress
from pathlib import Path
from socket import socket
from typing import Any

from cheroot import wsgi
from cheroot.makefile import MakeFile
from cheroot.server import HTTPConnection
from cheroot.ssl import Adapter

Environ = dict[str, Any]
Application = Callable[[Environ, Callable[..., Any]], Iterable[bytes]]
THREADS = 16
_BACKLOG = 128
_SILENT_S = 30
_FORWARDED = "HTTP_FORWARDED", "HTTP_X_REAL_IP"
_log = logging.getLogger("django.saddlebench")


class _Connection(HTTPConnection):
    """A connection that shakes hands before it reads."""

    def communicate(self) -> bool:
        if isinstance(self.socket, ssl.SSLSocket):
            try:
                self.socket.do_handshake()
            except OSError:
                # A phone that does not trust the laptop yet, a plain request on this port, a device gone.
                return False
        return bool(super().communicate())


class Server(wsgi.Server):
    """A server whose complaints go to the log, and not to the window."""

    ConnectionClass = _Connection

    def error_log(self, msg: str = "", level: int = logging.INFO, traceback: bool = False) -> None:  # noqa: FBT001, FBT002
        """Write to the log."""
        _log.log(level, msg, exc_info=traceback)


class Encrypted(Adapter):
    """TLS with a certificate that may be renewed while connections are open."""

    def __init__(self, file: Path) -> None:
        self.context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        self.renew(file)

    def renew(self, file: Path) -> None:
        """Present another certificate from the next connection on."""
        self.context.load_cert_chain(file)

    def bind(self, sock: socket) -> socket:
        """Return the listening socket as it is."""
        return sock

    def wrap(self, sock: socket) -> tuple[socket, Environ]:
        """Return an accepted socket, to be shaken hands with later."""
        wrapped = self.context.wrap_socket(sock, server_side=True, do_handshake_on_connect=False)
        return wrapped, self.get_environ()

    def get_environ(self) -> Environ:
        """Return what requests of such a connection are told."""
        return {"wsgi.url_scheme": "https", "HTTPS": "on"}

    def makefile(self, sock: socket, mode: str = "r", bufsize: int = -1) -> Any:
        """Return a file over a socket."""
        return MakeFile(sock, mode, bufsize)


def listen(
    application: Application, host: str, port: int, *, largest_bytes: int, encrypted: Encrypted | None = None
) -> Server:
    """Return a server that takes connections, and answers them once its `serve()` is called.

    Raises
    ------
    OSError
        If the port is taken.
    """
    server = Server(
        (host, port),
        _lengths_only(application),
        numthreads=THREADS,
        server_name="saddlebench",
        request_queue_size=_BACKLOG,
        timeout=_SILENT_S,
    )
    server.max_request_body_size = largest_bytes
    server.max_request_header_size = 64 << 10
    server.ssl_adapter = encrypted
    server.prepare()
    return server


def _lengths_only(application: Application) -> Application:
    """Refuse a body without a length (RFC 9110, 15.5.12): the application would take it for an empty one."""

    def answered(environ: Environ, start: Callable[..., Any]) -> Iterable[bytes]:
        if not environ.get("wsgi.input_terminated"):
            return application(environ, start)
        said = b"Say how long it is (Content-Length), and send it again."
        start("411 Length Required", [("Content-Type", "text/plain"), ("Content-Length", str(len(said)))])
        return [said]

    return answered


def believing(application: Application, proxies: Collection[str]) -> Application:
    """Believe what named proxies say of whom they speak for; from others, forwarded headers are dropped.

    Parameters
    ----------
    proxies : collection of str
        Addresses from which a proxy connects. It has to pass on the Host header, to add the address that
        asks it to X-Forwarded-For, and to set X-Forwarded-Proto.
    """
    known = frozenset(ipaddress.ip_address(one) for one in proxies)

    def answered(environ: Environ, start: Callable[..., Any]) -> Iterable[bytes]:
        said = {
            name: environ.pop(name)
            for name in list(environ)
            if name.startswith("HTTP_X_FORWARDED") or name in _FORWARDED
        }
        if _address(environ.get("REMOTE_ADDR", "")) in known:
            chain = [one.strip() for one in said.get("HTTP_X_FORWARDED_FOR", "").split(",")]
            # Further left stands what the asking one said. A proxy that names nobody is not “this machine”.
            asking = next((one for one in reversed(chain) if _address(one) not in known), "")
            environ["REMOTE_ADDR"] = asking if _address(asking) else ""
            scheme = said.get("HTTP_X_FORWARDED_PROTO", "").rsplit(",", 1)[-1].strip().lower()
            environ["wsgi.url_scheme"] = "https" if scheme == "https" else "http"
        return application(environ, start)

    return answered


def _address(said: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    with suppress(ValueError):
        return ipaddress.ip_address(said)
    return None
