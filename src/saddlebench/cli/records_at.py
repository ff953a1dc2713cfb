"""Where records are: in a data folder or with a server. The same interface answers for both."""

import os
import stat
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from saddlebench import __version__
from saddlebench.cli.console import words
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where, input_problem

if TYPE_CHECKING:
    import httpx

    from saddlebench.practice.rules import Actor

TOKEN, TOKEN_FILE = "SADDLEBENCH_TOKEN", "SADDLEBENCH_TOKEN_FILE"
INTERFACE = "1"
_PREFIX = "/api/v1/"
_TIMEOUT_S = 60.0
_LONGEST_TOKEN = 4096
_TRIES, _LONGEST_WAIT_S = 4, 60.0
_MAKE_ONE = "Make one on the server's page “My account”, under “Tokens for other programs”."
_WHAT = {
    401: "{} does not take this token: it is withdrawn, has run out, or never was one",
    403: "this is not allowed with this token",
    404: "it is not there",
    429: "{} has too much to do",
    500: "{} failed; this is its fault",
    503: "{} has too much to do",
}
Params = Mapping[str, str | int | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsAt:
    """Records that can be asked and told."""

    client: "httpx.Client"
    named: str
    """What they are called in a sentence."""
    work: Callable[[], None]
    """Does what waits to be computed, where no server does it."""

    def get(self, path: str, params: Params | None = None) -> Any:
        """Return what stands at an address."""
        return self._sent("GET", path, params).json()

    def get_bytes(self, path: str, params: Params | None = None) -> bytes:
        """Return a file."""
        return self._sent("GET", path, params).content

    def send(
        self,
        method: str,
        path: str,
        *,
        params: Params | None = None,
        json: object = None,
        content: bytes | None = None,
    ) -> Any:
        """Send something, and return the answer."""
        return self._sent(method, path, params, json, content).json()

    def is_there(self, path: str) -> bool:
        """Tell whether there is anything at an address."""
        return self._tried("GET", path, None, None, None).status_code != 404

    def _sent(
        self,
        method: str,
        path: str,
        params: Params | None,
        json: object = None,
        content: bytes | None = None,
    ) -> "httpx.Response":
        response = self._tried(method, path, params, json, content)
        if response.is_success:
            return response
        raise self._refused(response)

    def _tried(
        self, method: str, path: str, params: Params | None, json: object, content: bytes | None
    ) -> "httpx.Response":
        """Send a request; told to wait, wait, and send it again: every request can be sent twice."""
        import httpx

        given = {name: value for name, value in (params or {}).items() if value not in (None, "")}
        for more in range(_TRIES):
            try:
                response = self.client.request(
                    method, _PREFIX + path, params=given, json=json, content=content
                )
            except httpx.TimeoutException:
                what = f"{self.named} did not answer within {_TIMEOUT_S:.0f} seconds"
                raise input_problem(what, "Try again; sending something twice does no harm.") from None
            except (httpx.HTTPError, httpx.InvalidURL, httpx.CookieConflict, OSError) as error:
                what = f"there is no answer from {self.named}: {_reason(error)}"
                raise input_problem(what, _cure(error)) from None
            self._check_interface(response)
            wait_s = _wait_s(response)
            if wait_s is None or wait_s > _LONGEST_WAIT_S or more == _TRIES - 1:
                break
            time.sleep(wait_s)
        return response

    def _check_interface(self, response: "httpx.Response") -> None:
        spoken = response.headers.get("Saddlebench-Interface", "")
        if spoken == INTERFACE:
            return
        if not spoken:
            what = f"what answers at {self.named} is no saddlebench that programs can talk to"
            raise input_problem(what, "Check the address; an older server has to be updated first.")
        theirs = response.headers.get("Saddlebench", "?")
        newer = spoken.isdigit() and int(spoken) > int(INTERFACE)
        what = (
            f"{self.named} is saddlebench {theirs[:20]} and speaks interface {spoken[:10]}; "
            f"this is saddlebench {__version__}, which speaks interface {INTERFACE}"
        )
        raise input_problem(what, "Update this program." if newer else "Update the server.")

    def _refused(self, response: "httpx.Response") -> InputProblemsError:
        told = _told(response)
        detail = str(told.get("detail") or f"it answered {response.status_code}")
        if told.get("problems"):
            return InputProblemsError([_problem(one) for one in told["problems"]])
        if response.status_code == 409:
            return InputProblemsError(_conflicts(told, detail))
        if response.status_code == 401:
            detail = _MAKE_ONE
        return input_problem(_WHAT.get(response.status_code, "it was refused").format(self.named), detail)


def _reason(error: Exception) -> str:
    return (str(error) or type(error).__name__).removeprefix("[Errno 111] ")


def _cure(error: Exception) -> str:
    if "CERTIFICATE_VERIFY_FAILED" in str(error):
        return "Name the file with the server's certificate in SSL_CERT_FILE, if it is your own server."
    return "Check the address, and that the server runs."


def _wait_s(response: "httpx.Response") -> float | None:
    asked = response.headers.get("Retry-After", "")
    return float(asked) if response.status_code in {429, 503} and asked.isdigit() else None


def _told(response: "httpx.Response") -> dict[str, Any]:
    with suppress(ValueError):
        told = response.json()
        if isinstance(told, dict):
            return told
    return {}


def _problem(one: Mapping[str, Any]) -> Problem:
    where = one.get("where") or {}
    known = {name: where[name] for name in ("file", "row", "field", "station", "side") if name in where}
    return Problem(
        what=str(one.get("what", "")),
        cure=str(one.get("cure", "")),
        where=Where(**known),
        weight=Weight(one.get("weight", "error")),
    )


def _conflicts(told: Mapping[str, Any], detail: str) -> list[Problem]:
    rows = [
        Problem(
            what=f"you wrote “{one['mine']}”, and {one['other']['entered_by']} meanwhile “{one['theirs']}”",
            cure="Get the record again, and decide between the two.",
            where=Where(field=str(one.get("field", ""))),
        )
        for one in told.get("held", ())
    ]
    return rows or [Problem(what="two at once", cure=detail)]


def read_token(file: Path | None) -> str:
    """Return the token: from a file that only its owner can read, or from the environment.

    Raises
    ------
    InputProblemsError
        If there is none, or others can read the file.
    """
    named = file or (Path(os.environ[TOKEN_FILE]) if os.environ.get(TOKEN_FILE) else None)
    if named is None:
        token = os.environ.get(TOKEN, "").strip()
        if not token:
            cure = f"Put it into a file that only you can read, and name that: --token-file, or {TOKEN_FILE}."
            raise input_problem("a server wants a token, and none is given", f"{cure} {_MAKE_ONE}")
        return _checked(token, TOKEN)
    with named.open(encoding="utf-8", errors="replace") as stream:
        # Asked of the open file: what is checked is what is read.
        _refuse_if_shared(os.fstat(stream.fileno()), named)
        return _checked(stream.read(_LONGEST_TOKEN).strip(), str(named))


def _refuse_if_shared(held: os.stat_result, file: Path) -> None:
    if os.name != "posix":
        return
    if held.st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        cure = f"Take their rights away: chmod 600 {file}"
        raise input_problem("others can read the token", cure, Where(file=str(file)))
    if held.st_uid not in {os.geteuid(), 0}:
        raise input_problem("the token's file is somebody else's", "Use your own.", Where(file=str(file)))


def _checked(token: str, where: str) -> str:
    if not token or not token.isascii() or not token.isprintable() or " " in token:
        raise input_problem("this holds no token", "Copy the token alone into it.", Where(file=where))
    return token


@contextmanager
def records_at(at: str, token_file: Path | None, practice: str) -> Iterator[RecordsAt]:
    """Yield the records that an address or a folder names; none named, those of the usual data folder.

    Raises
    ------
    InputProblemsError
        If there are none, or no token for them.
    """
    if at.lower().startswith(("http://", "https://")):
        with _server(at, read_token(token_file)) as found:
            yield found
    else:
        with _folder(Path(at) if at else None, practice) as found:
            yield found


@contextmanager
def _server(address: str, token: str) -> Iterator[RecordsAt]:
    import httpx

    where = Where(field="--at")
    try:
        parts = urlsplit(address)
        host, _ = parts.hostname or "", parts.port
    except ValueError:
        raise input_problem("the address cannot be read", "Write https://host:port.", where) from None
    if not host or parts.username or parts.path.strip("/") or parts.query or parts.fragment:
        cure = "Write https://host:port and nothing more; the token goes into a file."
        raise input_problem("this is no server's address", cure, where)
    if parts.scheme == "http" and not _is_this_machine(host):
        words().print("! What goes to this server is not encrypted: use a network that you trust.")
    with httpx.Client(
        base_url=f"{parts.scheme}://{parts.netloc}",
        headers={"Authorization": f"Bearer {token}", "User-Agent": f"saddlebench/{__version__}"},
        timeout=_TIMEOUT_S,
        follow_redirects=False,
    ) as client:
        yield RecordsAt(client=client, named=address, work=lambda: None)


def _is_this_machine(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


@contextmanager
def _folder(home: Path | None, practice: str) -> Iterator[RecordsAt]:
    import httpx

    from saddlebench.datafolder import data_folder, prepare_compiled_cache

    folder = home or data_folder()
    if not folder.is_dir():
        cure = "Name the data folder, or a server's address that begins with https://."
        raise input_problem("there is no such folder", cure, Where(file=str(folder)))
    from saddlebench.web.serving import Reach, bind_settings

    bind_settings(Reach())
    from saddlebench.practice.start import start

    start(folder)
    prepare_compiled_cache()
    from saddlebench.web.wsgi import application

    actor = owner_of(folder, practice)

    def trusted(environ: dict[str, Any], answer: Any) -> Any:
        from saddlebench.web.base.interface import TRUSTED

        return application({**environ, TRUSTED: actor}, answer)

    # The same interface, asked without a network: what a folder answers is what a server would.
    transport = httpx.WSGITransport(app=trusted)
    with httpx.Client(base_url="http://localhost", transport=transport, timeout=None) as client:  # noqa: S113
        yield RecordsAt(client=client, named=str(folder), work=lambda: _work(folder))


def owner_of(folder: Path, practice: str) -> "Actor":
    """Return the owner of the practice that is named, or of the only one.

    Raises
    ------
    InputProblemsError
        If there is none, or more than one.
    """
    from saddlebench.practice.queries.standing import owners

    held = owners()
    found = [one for one in held if not practice or one.practice == practice]
    if len(found) == 1:
        return found[0].actor
    names = ", ".join(f"“{one.practice}”" for one in held)
    what = f"the folder holds these practices: {names}" if names else "the folder holds no practice yet"
    cure = "Name one: --practice “…”." if names else "Begin one: saddlebench serve"
    raise input_problem(what, cure, Where(file=str(folder)))


def _work(home: Path) -> None:
    """Do what waits, beside; a server that holds the folder does it itself."""
    from saddlebench.practice.keeping.lock import hold_folder
    from saddlebench.web.base.jobs import queue_worker

    def do() -> None:
        from django.db import connection

        with suppress(InputProblemsError), hold_folder(home):
            queue_worker().run()
        connection.close()

    threading.Thread(target=do, name="saddlebench-work", daemon=True).start()
