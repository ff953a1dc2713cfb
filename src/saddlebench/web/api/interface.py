"""The interface put together: every slice's router, its addresses as Django takes them, its description."""

import json
from collections.abc import Callable, Iterator
from functools import cache, wraps
from importlib import import_module, resources
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.urls import URLPattern, path
from django.views.decorators.http import conditional_page
from ninja import NinjaAPI, Router
from ninja.operation import Operation
from ninja.throttling import SimpleRateThrottle

from saddlebench import __version__
from saddlebench.web.api import backs, clients, finding, horses, lists, saddles, undoing, versions, visits
from saddlebench.web.api.problems import KINDS, MEDIA_TYPE, problem, word_errors
from saddlebench.web.base.access import Access
from saddlebench.web.base.interface import ByToken
from saddlebench.web.slices import SLICES

PREFIX = "api/v1/"
INTERFACE = 1
"""Goes up when something that programs rely on is taken away; then the old one stays under its old prefix."""
MOST_A_MINUTE = 1200
_OWN = (finding, clients, horses, saddles, visits, backs, versions, undoing, lists)
_DOCUMENTS = {"BackRecord": "back", "SaddleRecord": "saddle", "FitCheck": "study"}
_ABOUT = """What a signed-in person of a practice can do, for other programs.

Send a token as “Authorization: Bearer …”. It acts within a role; the page “Tokens” makes and withdraws it.
Whatever goes wrong is answered as problem details (RFC 9457). Lengths are in mm, masses in kg.
A uuid that the caller chooses makes sending again harmless.
A fit check is a screening aid, not a diagnosis. Pain, lameness, wounds or sudden change: the vet first.
"""


class PerToken(SimpleRateThrottle):
    """So many requests a minute with one token."""

    def __init__(self) -> None:
        super().__init__(f"{MOST_A_MINUTE}/m")

    def get_cache_key(self, request: HttpRequest) -> str | None:
        """Return what is counted together; None where nothing came over a network."""
        mark = getattr(request, "token_mark", None)
        return f"interface:{mark}" if mark else None


@cache
def interface() -> NinjaAPI:
    """Return the interface with the routers of all slices."""
    api = NinjaAPI(
        title="saddlebench",
        version=f"{INTERFACE}",
        description=_ABOUT,
        docs_url=None,
        openapi_url=None,
        throttle=[PerToken()],
        urls_namespace="interface",
    )
    word_errors(api)
    for module in _OWN:
        api.add_router("", module.router)
    for one in SLICES:
        if one.has_interface:
            router: Router = import_module(f"saddlebench.web.{one.name}.api").router
            api.add_router("", router)
    return api


def operations() -> Iterator[Operation]:
    """Return every operation of the interface."""
    for bound in interface()._get_bound_routers():  # noqa: SLF001
        for view in bound.path_operations.values():
            yield from view.operations


def addresses() -> list[URLPattern]:
    """Return the interface's addresses, below its prefix."""
    patterns = [one for one in interface().urls[0] if isinstance(one, URLPattern)]
    found = [one for one in patterns if one.name != "api-root"]
    return [path(str(one.pattern), answered(one.callback), name=one.name) for one in found]


def answered(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Return a view whose answers say who answers, can be kept and asked about again, and are worded."""
    kept = conditional_page(view)

    @wraps(view)
    def served(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = kept(request, *args, **kwargs)
        if response.status_code == 405 and response.get("Content-Type") != MEDIA_TYPE:
            worded = problem("wrong-method", "This address takes other methods.")
            worded["Allow"] = response["Allow"]
            response = worded
        return signed(response)

    served.access = Access(action=None, methods=())  # type: ignore[attr-defined]
    served.csrf_exempt = True  # type: ignore[attr-defined]
    return served


def signed(response: HttpResponseBase) -> HttpResponseBase:
    """Say which program answers, and which interface it speaks."""
    response["Saddlebench"] = __version__
    response["Saddlebench-Interface"] = str(INTERFACE)
    response["Vary"] = "Authorization"
    return response


@cache
def description() -> dict[str, Any]:
    """Return the OpenAPI description, with what each operation needs of a role and the records' schemas."""
    api = interface()
    told: dict[str, Any] = json.loads(json.dumps(api.get_openapi_schema(path_prefix=PREFIX)))
    needs = {api.get_openapi_operation_id(one): _action_of(one) for one in operations()}
    for methods in told["paths"].values():
        for one in methods.values():
            one["x-action"] = needs[one["operationId"]]
            one["responses"]["default"] = {"$ref": "#/components/responses/Problem"}
    told["components"]["schemas"] |= {name: _record_schema(name, of) for name, of in _DOCUMENTS.items()}
    told["components"]["schemas"]["Problem"] = _PROBLEM
    content = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    told["components"]["responses"] = {"Problem": {"description": "What went wrong", "content": content}}
    told["servers"] = [{"url": "/"}]
    return told


def _action_of(operation: Operation) -> str:
    return next(str(one.action.value) for one in operation.auth_callbacks if isinstance(one, ByToken))


def _record_schema(name: str, of: str) -> dict[str, Any]:
    file = resources.files("saddlebench.exchange.records") / "schemas" / f"{of}.schema.json"
    schema = json.loads(file.read_text(encoding="utf-8"))
    schema.pop("$schema", None)
    moved: dict[str, Any] = _moved(schema, f"#/components/schemas/{name}/$defs/")
    return moved


def _moved(part: Any, to: str) -> Any:
    """Return a schema whose inner references lead to where it now stands."""
    if isinstance(part, list):
        return [_moved(one, to) for one in part]
    if not isinstance(part, dict):
        return part
    inner = {key: _moved(value, to) for key, value in part.items()}
    if isinstance(inner.get("$ref"), str):
        inner["$ref"] = inner["$ref"].replace("#/$defs/", to, 1)
    return inner


_TEXT = {"type": "string"}
_PROBLEM = {
    "type": "object",
    "description": "Problem details (RFC 9457). Members beyond these depend on the kind.",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"enum": [f"/api/#{one.name}" for one in KINDS]},
        "title": _TEXT,
        "status": {"type": "integer"},
        "detail": _TEXT,
        "problems": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["what", "cure", "weight", "where"],
                "properties": {
                    "what": _TEXT,
                    "cure": _TEXT,
                    "weight": {"enum": ["error", "warning"]},
                    "where": {"type": "object"},
                },
            },
        },
    },
}


def nothing_here(_request: HttpRequest) -> HttpResponse:
    """Answer an address of the interface that leads nowhere."""
    return problem("not-here", "There is nothing at this address of the interface.")
