"""The description is valid OpenAPI 3.1, complete, and what is answered follows it."""

import json
import re
from importlib import import_module
from typing import Any, get_origin

import pytest
from api_cast import V1, caller
from django.test import Client
from jsonschema import Draft202012Validator
from web_cast import Cast

from saddlebench.practice.enums import Action, Subject
from saddlebench.web.api.interface import MOST_A_MINUTE, description, operations
from saddlebench.web.api.problems import KINDS
from saddlebench.web.base.interface import ByToken
from saddlebench.web.slices import SLICES

# The fixed structure of an OpenAPI 3.1 document, as its specification (sections 4.7 and 4.8) states it,
# for the objects that occur here; schemas are checked against the JSON Schema dialect itself.
_TEXT: dict[str, Any] = {"type": "string"}
_CONTENT = {
    "type": "object",
    "minProperties": 1,
    "additionalProperties": {
        "type": "object",
        "properties": {"schema": {"type": ["object", "boolean"]}},
        "additionalProperties": False,
    },
}
_RESPONSE = {
    "oneOf": [
        {
            "type": "object",
            "required": ["$ref"],
            "properties": {"$ref": _TEXT},
            "additionalProperties": False,
        },
        {
            "type": "object",
            "required": ["description"],
            "properties": {"description": _TEXT, "content": _CONTENT},
            "additionalProperties": False,
        },
    ]
}
_PARAMETER = {
    "type": "object",
    "required": ["name", "in", "schema"],
    "properties": {
        "in": {"enum": ["path", "query", "header", "cookie"]},
        "name": _TEXT,
        "schema": {"type": "object"},
    },
    "if": {"properties": {"in": {"const": "path"}}},
    "then": {"required": ["required"], "properties": {"required": {"const": True}}},
}
_OPERATION = {
    "type": "object",
    "required": ["operationId", "responses", "security", "tags", "description", "x-action"],
    "properties": {
        "operationId": {"type": "string", "pattern": "^[A-Za-z0-9_]+$"},
        "parameters": {"type": "array", "items": _PARAMETER},
        "requestBody": {
            "type": "object",
            "required": ["content"],
            "properties": {"content": _CONTENT, "required": {"type": "boolean"}, "description": _TEXT},
            "additionalProperties": False,
        },
        "responses": {
            "type": "object",
            "minProperties": 2,
            "patternProperties": {"^([1-5][0-9][0-9]|default)$": _RESPONSE},
            "additionalProperties": False,
        },
    },
}
STRUCTURE = {
    "type": "object",
    "required": ["openapi", "info", "paths", "components"],
    "properties": {
        "openapi": {"type": "string", "pattern": r"^3\.1\.\d+$"},
        "info": {"type": "object", "required": ["title", "version"]},
        "servers": {"type": "array", "items": {"type": "object", "required": ["url"]}},
        "paths": {
            "type": "object",
            "patternProperties": {
                "^/": {
                    "type": "object",
                    "propertyNames": {"enum": ["get", "put", "post", "delete", "patch"]},
                    "additionalProperties": _OPERATION,
                }
            },
            "additionalProperties": False,
        },
        "components": {
            "type": "object",
            "propertyNames": {"enum": ["schemas", "securitySchemes", "responses"]},
            "properties": {
                "securitySchemes": {
                    "type": "object",
                    "additionalProperties": {
                        "properties": {"type": {"const": "http"}, "scheme": {"const": "bearer"}}
                    },
                }
            },
        },
    },
    "additionalProperties": False,
}


def each(part: Any) -> Any:
    """Yield every object within a document."""
    if isinstance(part, dict):
        yield part
        for value in part.values():
            yield from each(value)
    elif isinstance(part, list):
        for value in part:
            yield from each(value)


@pytest.mark.usefixtures("web_home")
def test_the_description_has_the_structure_that_openapi_asks_for() -> None:
    told = json.loads(Client().get(V1 + "openapi.json").content)
    Draft202012Validator.check_schema(STRUCTURE)
    assert list(Draft202012Validator(STRUCTURE).iter_errors(told)) == []
    for schema in told["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)


def test_every_reference_leads_somewhere_and_every_name_is_there_once() -> None:
    told = description()
    for part in each(told):
        reference = part.get("$ref")
        if isinstance(reference, str):
            at: Any = told
            for name in reference.removeprefix("#/").split("/"):
                at = at[name]
    names = [one["operationId"] for methods in told["paths"].values() for one in methods.values()]
    assert len(names) == len(set(names))
    for path, methods in told["paths"].items():
        wanted = set(re.findall(r"{(\w+)}", path))
        for one in methods.values():
            assert {p["name"] for p in one["parameters"] if p["in"] == "path"} == wanted, path


def test_two_shapes_never_share_a_name() -> None:
    """The description names a shape by its class alone: a second class of the name would hide the first."""
    modules = [import_module(f"saddlebench.web.{one.name}.api") for one in SLICES if one.has_interface]
    own = (
        "shapes",
        "clients",
        "horses",
        "saddles",
        "visits",
        "backs",
        "versions",
        "undoing",
        "finding",
        "lists",
    )
    modules += [import_module(f"saddlebench.web.api.{name}") for name in own]
    modules.append(import_module("saddlebench.web.base.interface"))
    found: dict[str, set[str]] = {}
    for module in modules:
        for name, one in vars(module).items():
            if isinstance(one, type) and hasattr(one, "model_fields"):
                found.setdefault(name, set()).add(one.__module__)
    shared = {name: where for name, where in found.items() if len(where) > 1}
    assert shared == {}


def test_every_operation_asks_for_a_token_and_an_action() -> None:
    found = list(operations())
    assert len(found) > 80
    for one in found:
        assert [type(auth) for auth in one.auth_callbacks] == [ByToken], one.path
        assert isinstance(one.auth_callbacks[0].action, Action)
        assert one.throttle_objects, one.path


def test_lists_are_answered_as_lists() -> None:
    """A pair would be taken for a status and a body: two rows would be a fault, one or three none."""
    for one in operations():
        for model in one.response_models.values():
            shape = model.model_fields["response"].annotation if hasattr(model, "model_fields") else None
            if get_origin(shape) is list:
                assert get_origin(one.view_func.__annotations__["return"]) is list, one.path


@pytest.mark.parametrize(
    ("path", "named"),
    [
        ("/horses", None),
        ("/horses/{uuid}", Subject.HORSE),
        ("/horses/{uuid}/timeline", Subject.HORSE),
        ("/clients/{uuid}", Subject.CLIENT),
        ("/saddles/{uuid}", Subject.SADDLE),
        ("/visits/{uuid}", Subject.VISIT),
        ("/backs", None),
        ("/studies", None),
        ("/studies/{uuid}", Subject.STUDY),
        ("/me", None),
        ("/instruments", None),
    ],
)
def test_what_is_answered_follows_the_description(cast: Cast, path: str, named: Subject | None) -> None:
    told = description()
    answered = told["paths"][f"/api/v1{path}"]["get"]["responses"]["200"]["content"]["application/json"]
    schema = {**answered["schema"], "components": told["components"]}
    address = path.replace("{uuid}", cast.here[named]) if named else path
    answer = caller(cast, "fitter").get(address.lstrip("/"))
    assert answer.status_code == 200
    errors = list(
        Draft202012Validator(schema, format_checker=Draft202012Validator.FORMAT_CHECKER).iter_errors(
            answer.json()
        )
    )
    assert errors == []


def test_problems_follow_the_description(cast: Cast) -> None:
    schema = {"$ref": "#/components/schemas/Problem", "components": description()["components"]}
    fitter, nobody = caller(cast, "fitter"), caller(cast, "nobody")
    for answer, status in (
        (nobody.get("horses"), 401),
        (fitter.get("horses/00000000-0000-4000-8000-000000000000"), 404),
        (fitter.get("nowhere/at/all"), 404),
        (fitter.get("birds/00000000-0000-4000-8000-000000000000/versions"), 404),
        (fitter.send("DELETE", "horses"), 405),
        (fitter.post("horses", {"values": {"label": ""}}), 422),
        (fitter.get("horses?page=0"), 422),
        (caller(cast, "reader").post("horses", {}), 403),
    ):
        assert answer.status_code == status
        assert answer["Content-Type"] == "application/problem+json"
        assert answer["Saddlebench-Interface"] == "1"
        assert list(Draft202012Validator(schema).iter_errors(answer.json())) == []
        assert answer.json()["status"] == status


def test_too_many_requests_are_told_to_wait(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    throttles = {one for operation in operations() for one in operation.throttle_objects}
    assert {(one.num_requests, one.duration) for one in throttles} == {(MOST_A_MINUTE, 60)}
    for one in throttles:
        # So few that a slow machine sends them within the minute.
        monkeypatch.setattr(one, "num_requests", 5)
    fitter, other = caller(cast, "fitter"), caller(cast, "owner")
    codes = [fitter.send("GET", "fields/visit_saddle").status_code for _ in range(5)]
    assert codes == [200] * 5
    refused = fitter.get("me")
    assert (refused.status_code, refused.json()["type"]) == (429, "/api/#too-many")
    assert 1 <= int(refused["Retry-After"]) <= 60
    assert other.get("me").status_code == 200


def test_wrong_tokens_are_counted_and_right_ones_go_on(cast: Cast) -> None:
    fitter = caller(cast, "fitter")
    wrong = type(fitter)(Client(), "saddlebench_wrong")
    codes = {wrong.get("me").status_code for _ in range(61)}
    assert codes == {401, 429}
    assert fitter.get("me").status_code == 200


def test_the_page_lists_every_operation_and_kind_of_problem(cast: Cast) -> None:
    assert Client().get("/api/").status_code == 302
    text = cast.browser("workshop").get("/api/").content.decode()
    for path in description()["paths"]:
        assert path in text
    for kind in KINDS:
        assert f'id="{kind.name}"' in text
    assert "<script>" not in text
    assert "style=" not in text
    assert not re.search(r'(?:src|href)="(?:https?:)?//', text)
