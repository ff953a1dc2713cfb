"""What goes wrong, as other programs take it: problem details (RFC 9457) with the words that people see."""

import logging
import math
import uuid as uuids
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from http import HTTPStatus
from typing import Any

from django.core.exceptions import RequestDataTooBig, SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from ninja import NinjaAPI
from ninja.errors import AuthenticationError, HttpError, Throttled, ValidationError

from saddlebench.engine.errors import InputProblemsError, Problem, SaddlebenchError, Where
from saddlebench.practice.phrases import words_of
from saddlebench.practice.rules import NotAllowedError
from saddlebench.practice.services import NotFoundError, SameMomentError, StoppedError
from saddlebench.practice.services.jobs import TooMuchWaitingError
from saddlebench.web.base.interface import ConflictError, TooLargeError, TooManyTriesError

_log = logging.getLogger("django.saddlebench")
MEDIA_TYPE = "application/problem+json"
_MOST_TOLD = 200
_WAIT_TRIES_S, _WAIT_JOBS_S = 900, 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of problem."""

    name: str
    title: str
    status: HTTPStatus
    means: str


KINDS: tuple[Kind, ...] = (
    Kind(
        name="not-understood",
        title="Not understood",
        status=HTTPStatus.BAD_REQUEST,
        means="The request cannot be read: its JSON is broken. Nothing was saved.",
    ),
    Kind(
        name="no-token",
        title="No token that stands",
        status=HTTPStatus.UNAUTHORIZED,
        means="No token came in the Authorization header, or it is withdrawn or has run out.",
    ),
    Kind(
        name="not-allowed",
        title="Not allowed",
        status=HTTPStatus.FORBIDDEN,
        means="The token's role does not include this.",
    ),
    Kind(
        name="not-here",
        title="Not here",
        status=HTTPStatus.NOT_FOUND,
        means="There is no such record in this practice, or it is withdrawn, or the address is wrong.",
    ),
    Kind(
        name="wrong-method",
        title="Wrong method",
        status=HTTPStatus.METHOD_NOT_ALLOWED,
        means="The address takes other methods; the Allow header names them.",
    ),
    Kind(
        name="conflict",
        title="Two at once",
        status=HTTPStatus.CONFLICT,
        means="Somebody else changed this meanwhile, or another record has this uuid. Both are told.",
    ),
    Kind(
        name="stopped",
        title="Stopped",
        status=HTTPStatus.CONFLICT,
        means="What the records say stands against it: a visit that was stopped, a back that is finished.",
    ),
    Kind(
        name="too-large",
        title="Too large",
        status=HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        means="More was sent than is taken at this address. Nothing was saved.",
    ),
    Kind(
        name="wrong-input",
        title="Not saved",
        status=HTTPStatus.UNPROCESSABLE_ENTITY,
        means="Something that was given cannot be right; all of it is listed, and nothing was saved.",
    ),
    Kind(
        name="too-many",
        title="Too many at once",
        status=HTTPStatus.TOO_MANY_REQUESTS,
        means="Too many requests or wrong tokens; Retry-After says how many seconds to wait.",
    ),
    Kind(
        name="failed",
        title="The program failed",
        status=HTTPStatus.INTERNAL_SERVER_ERROR,
        means="This is the program's fault. Its number stands in the window where the program runs.",
    ),
    Kind(
        name="busy",
        title="Too much is waiting",
        status=HTTPStatus.SERVICE_UNAVAILABLE,
        means="Too many jobs are waiting already; Retry-After says how many seconds to wait.",
    ),
)
_BY_NAME = {one.name: one for one in KINDS}


def problem(
    name: str, detail: str, *, problems: tuple[Problem, ...] = (), more: Mapping[str, Any] | None = None
) -> HttpResponse:
    """Return the answer for a problem of a kind; `more` are further members of its object."""
    kind = _BY_NAME[name]
    content: dict[str, Any] = {
        "type": f"/api/#{kind.name}",
        "title": kind.title,
        "status": kind.status.value,
        "detail": detail,
    }
    if problems:
        content["problems"] = [_row(one) for one in problems[:_MOST_TOLD]]
    return JsonResponse({**content, **(more or {})}, status=kind.status.value, content_type=MEDIA_TYPE)


def _row(one: Problem) -> dict[str, Any]:
    where = {name: value for name, value in asdict(one.where).items() if value not in (None, "")}
    return {"what": one.what, "cure": one.cure, "weight": one.weight.value, "where": where}


def wait(response: HttpResponse, seconds: float) -> HttpResponse:
    """Say when to try again."""
    response["Retry-After"] = str(max(1, math.ceil(seconds)))
    return response


def on_purpose(_request: HttpRequest, error: object) -> HttpResponse:  # noqa: PLR0911
    """Answer an error that the records raise on purpose."""
    match error:
        case NotFoundError():
            return problem("not-here", str(error))
        case NotAllowedError():
            role = f" as {words_of(error.actor.role)}" if error.actor else ""
            said = f"“{words_of(error.action)}” is not possible{role}. Use a token of another role."
            return problem("not-allowed", said, more={"needs": error.action.value})
        case InputProblemsError():
            said = "Something that was given cannot be right. Nothing was saved."
            return problem("wrong-input", said, problems=error.problems)
        case ConflictError():
            return problem("conflict", str(error), more=error.both)
        case SameMomentError():
            return problem("conflict", str(error))
        case StoppedError():
            return problem("stopped", str(error), more={"stops": sorted(error.stops)})
        case TooLargeError():
            return problem("too-large", str(error))
        case TooManyTriesError():
            return wait(problem("too-many", str(error)), _WAIT_TRIES_S)
        case TooMuchWaitingError():
            return wait(problem("busy", str(error)), _WAIT_JOBS_S)
    return problem("stopped", str(error))


def _invalid(_request: HttpRequest, error: object) -> HttpResponse:
    found = error.errors if isinstance(error, ValidationError) else []
    if any(one["loc"][0] == "path" for one in found):
        return problem("not-here", "There is nothing at this address.")
    rows = tuple(
        Problem(
            what=str(one["msg"]).removeprefix("Value error, "),
            cure="The description of the interface says what is taken here.",
            where=Where(field=_place(one["loc"])),
        )
        for one in found
    )
    return problem(
        "wrong-input", "Something that was given is not taken here. Nothing was saved.", problems=rows
    )


def _place(loc: tuple[Any, ...]) -> str:
    # The first two parts name how the function takes it; people know it by what they sent.
    inner = loc[2:] if loc[0] == "body" and len(loc) > 2 else loc[1:]
    return "/".join(str(one)[:80] for one in inner)


def _http(_request: HttpRequest, error: object) -> HttpResponse:
    match error:
        case AuthenticationError():
            said = "Send a token that stands, as “Authorization: Bearer …”; the page “My account” makes them."
            response = problem("no-token", said)
            response["WWW-Authenticate"] = 'Bearer realm="saddlebench"'
            return response
        case Throttled():
            return wait(problem("too-many", "Too many requests with this token."), error.wait or 1)
    return problem("not-understood", "What was sent is no JSON that can be read. Nothing was saved.")


def _too_big(_request: HttpRequest, error: object) -> HttpResponse:
    if isinstance(error, RequestDataTooBig):
        return problem("too-large", "What was sent is larger than is taken at once. Nothing was saved.")
    return problem("not-understood", "This request cannot be read. Nothing was saved.")


def _nothing(_request: HttpRequest, _error: object) -> HttpResponse:
    return problem("not-here", "There is nothing at this address.")


def _failed(request: HttpRequest, error: object) -> HttpResponse:
    number = uuids.uuid4().hex[:8]
    _log.error(
        "fault %s at %s %s",
        number,
        request.method,
        request.path,
        exc_info=error if isinstance(error, Exception) else None,
    )
    said = f"The program failed; this is its fault, not yours. Its number is {number}."
    return problem("failed", said, more={"number": number})


def word_errors(api: NinjaAPI) -> None:
    """Give every error of an interface its words."""
    api.add_exception_handler(SaddlebenchError, on_purpose)
    api.add_exception_handler(ValidationError, _invalid)
    api.add_exception_handler(HttpError, _http)
    api.add_exception_handler(SuspiciousOperation, _too_big)
    api.add_exception_handler(Http404, _nothing)
    api.add_exception_handler(Exception, _failed)
