"""A small TLS proxy, as stands before a hosted program: it ends TLS, and says who asked."""

import http.client
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

_HOP = {"connection", "keep-alive", "transfer-encoding", "upgrade", "te", "trailer", "proxy-authorization"}


@contextmanager
def tls_proxy(behind: int, certificate: Path, *, tells: bool = True) -> Iterator[int]:
    """Yield the port of a proxy to a program on this machine.

    Parameters
    ----------
    tells : bool
        Whether it says who asked, and how. As it should, it adds to what the asking one claimed.
    """

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def passed_on(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            headers = {name: value for name, value in self.headers.items() if name.lower() not in _HOP}
            if tells:
                claimed = self.headers.get("X-Forwarded-For")
                asking = self.client_address[0]
                headers["X-Forwarded-For"] = f"{claimed}, {asking}" if claimed else asking
                headers["X-Forwarded-Proto"] = "https"
            line = http.client.HTTPConnection("127.0.0.1", behind, timeout=30)
            line.request(self.command, self.path, body=body or None, headers=headers)
            answer = line.getresponse()
            content = answer.read()
            self.send_response(answer.status)
            for name, value in answer.getheaders():
                if name.lower() not in _HOP | {"content-length", "date", "server"}:
                    self.send_header(name, value)
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            if self.command != "HEAD":
                self.wfile.write(content)
            line.close()

        do_GET = do_HEAD = do_POST = do_PUT = do_DELETE = passed_on  # noqa: N815

        def log_message(self, *_given: object) -> None:
            """Say nothing."""

    class Proxy(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, request: object, client_address: object) -> None:
            """A browser that goes away in the middle is no error."""

    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(certificate)
    with Proxy(("127.0.0.1", 0), Handler) as server:
        server.socket = context.wrap_socket(server.socket, server_side=True, do_handshake_on_connect=False)
        server.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        try:
            yield server.server_address[1]
        finally:
            server.shutdown()
