"""Every operation × role × own and other practice × state of a token: nobody gets what is not theirs.

The operations come from the interface's own description, so that a new one cannot be forgotten.
"""

import json
import uuid as uuids
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from api_cast import V1, Caller, caller
from django.test import Client
from django.utils import timezone
from web_cast import EVERYONE, Cast, Invented

from saddlebench.practice.enums import Action, Role, Subject
from saddlebench.practice.models import Token
from saddlebench.practice.rules import may
from saddlebench.practice.services import end_membership
from saddlebench.practice.services.tokens import end_token, make_token
from saddlebench.web.api.interface import description

KINDS = {
    "clients": Subject.CLIENT,
    "yards": Subject.YARD,
    "horses": Subject.HORSE,
    "saddles": Subject.SADDLE,
    "visits": Subject.VISIT,
    "backs": Subject.BACK,
    "studies": Subject.STUDY,
    "rechecks": Subject.RECHECK,
}
OPERATIONS = [
    (method.upper(), path.removeprefix(V1), Action(one["x-action"]))
    for path, methods in description()["paths"].items()
    for method, one in methods.items()
]
# What is not in the cast has tests of its own with records of both; captures' stand in `test_api_drafts`.
ELSEWHERE = {
    "captures",
    "photos",
    "jobs",
    "instruments",
    "rebuild-files",
    "rebuild-checks",
    "plans",
    "orders",
    "choices",
}
NOBODYS = "00000000-0000-4000-8000-000000000000"
# A service may ask for more than the address does: the address is the first door, not the only one.
ALSO_NEEDS = {
    ("POST", "backs/current"): Action.RECORD_BACK,
    ("POST", "studies/current"): Action.RECORD_STUDY,
}


def addresses(path: str, invented: Invented) -> Iterator[tuple[str, str]]:
    """Return an operation's addresses with records of a practice, and which kind of record each names."""
    filled = path.replace("{tried}", NOBODYS).replace("{key}", NOBODYS).replace("{number}", "1")
    filled = filled.replace("{subject}", "horse")
    filled = filled.replace("trace-sheets/{kind}/{paper}", "trace-sheets/sections/a4")
    if "{kind}" in filled:
        versions = any(part in filled for part in ("versions", "document", "differences", "current"))
        for kind in ("backs", "saddles", "studies") if versions else KINDS:
            yield filled.format(kind=kind, uuid=invented[KINDS[kind]]), kind
        return
    kind = filled.split("/")[0]
    if kind == "entries":
        kind = "horses"
    named = invented[KINDS[kind]] if kind in KINDS else NOBODYS
    yield filled.replace("{uuid}", named), kind


@pytest.mark.parametrize(("method", "path", "action"), OPERATIONS, ids=str)
def test_nobody_gets_what_is_not_theirs(cast: Cast, method: str, path: str, action: Action) -> None:
    # The owner last: what the owner does here takes records away.
    programs = {who: caller(cast, who) for who in sorted(EVERYONE, key=lambda one: one == "owner")}
    for address, kind in addresses(path, cast.here):
        for who, program in programs.items():
            code = program.send(method, address, {}).status_code
            said = f"{method} {address} as {who}: {code}"
            if who == "nobody":
                assert code == 401, said
                continue
            actor = cast.actors[who]
            more = ALSO_NEEDS.get((method, f"{kind}/{path.rsplit('/', 1)[-1]}"), action)
            if not may(actor, action, actor.practice_id):
                assert code == 403, said
            elif who == "other":
                # Refused for what was sent before it is looked for, or not there for them.
                wanted = {200, 201, 202} if "{uuid}" not in path or path == "entries/{uuid}" else set()
                assert code in {404, 422, *wanted}, said
            elif not may(actor, more, actor.practice_id):
                assert code in {403, 422}, said
            else:
                assert code in {200, 201, 202, 404, 409, 422}, said


RIGHT_BODIES: dict[tuple[str, str], Any] = {
    ("PATCH", "clients/{uuid}"): {"values": {"town": "Stolen"}, "seen": 0},
    ("PATCH", "yards/{uuid}"): {"values": {"town": "Stolen"}, "seen": 0},
    ("PATCH", "horses/{uuid}"): {"values": {"colour": "Stolen"}, "seen": 0},
    ("PATCH", "saddles/{uuid}"): {"values": {"colour": "Stolen"}, "seen": 0},
    ("PATCH", "visits/{uuid}"): {"values": {"label": "Stolen"}, "seen": 0},
    ("PATCH", "visits/{uuid}/saddles/{tried}"): {"values": {}, "seen": 0},
    ("POST", "clients/{uuid}/erase"): {"name": "Percy Elsewhere"},
    ("PUT", "saddles/{uuid}/horses"): {"horses": []},
    ("POST", "saddles/{uuid}/sell"): {"client": NOBODYS},
    ("POST", "horses/{uuid}/numbers"): {},
    ("POST", "changes/{uuid}/again"): {},
    ("POST", "then-and-now/{uuid}/again"): {},
    ("POST", "fitter-comparisons/{uuid}/again"): {},
    ("POST", "visits/{uuid}/saddles"): {"saddle": NOBODYS},
    ("POST", "visits/{uuid}/advice"): {"said": "Stolen"},
    ("POST", "rechecks/{uuid}/answer"): {"visit": NOBODYS},
    ("POST", "{kind}/{uuid}/current"): {"number": 1},
    ("PATCH", "captures/{uuid}/readings"): {"values": {"s1r0/near/1": 3}, "seen": 0},
    ("POST", "captures/{uuid}/finish"): {},
    ("POST", "backs/{uuid}/as-set"): {"instrument": "comb-41x10", "stations": [{"station": 1}]},
    ("POST", "backs/{uuid}/rebuild-files"): {"what": "ribs"},
    ("PATCH", "photos/{uuid}"): {"shot": "", "note": "Stolen"},
    ("POST", "packs/{uuid}/links"): {"days": 1, "most_uses": 1},
    ("POST", "saddles/{uuid}/draft/record"): {},
    ("PATCH", "saddles/{uuid}/draft"): {"fields": {"tree.width": "250"}},
    ("POST", "saddles/{uuid}/scans/{key}/looks"): {"uuid": NOBODYS, "unit": "m"},
    ("POST", "saddles/{uuid}/tracings/{key}"): {"photos": [NOBODYS], "behind": [20.0]},
    ("POST", "saddles/{uuid}/tracings/{key}/photos/{number}/corners"): {
        "uuid": NOBODYS,
        "corners": [[0, 0], [9, 0], [9, 9], [0, 9]],
    },
    ("POST", "studies/{uuid}/try"): {"fields": {"near-front": "5"}},
    ("POST", "orders/{uuid}/move"): {"to": "sent", "seen": 1},
    ("POST", "orders/{uuid}/done"): {"done_mm": [], "seen": 1},
    ("PUT", "saddles/{uuid}/stock"): {"number": "Stolen", "seen": 0},
    ("POST", "scans/{uuid}/looks"): {"level": "axis"},
    ("POST", "scans/{uuid}/record"): {"unit": "m"},
    ("PUT", "scans/{uuid}/marks"): {"mark": "WITHERS", "at": None},
    ("POST", "tracings/{uuid}/photos"): {"uuid": NOBODYS, "photos": [NOBODYS]},
    ("POST", "tracings/{uuid}/photos/{number}/corners"): {
        "uuid": NOBODYS,
        "corners": [[10, 10], [900, 10], [900, 600], [10, 600]],
        "width": 420,
        "height": 297,
    },
    ("PUT", "photos/{uuid}/marks/{key}"): {"kind": "line", "points": [[0.1, 0.1], [0.9, 0.9]]},
}
QUERIES = {
    "studies/{uuid}/runs/{number}/changed": "?what=pad&by=3",
    "studies/{uuid}/runs/{number}/changed/picture": "?what=pad&by=3",
    "backs/{uuid}/settings": "?instrument=comb-41x10",
    "{kind}/{uuid}/differences": "?before=1&after=1",
    "saddles/{uuid}/scans/{key}": "?unit=m",
    "scans/{uuid}": f"?horse={NOBODYS}&measured_on=2026-05-04",
    "scans/{uuid}/pieces": f"?horse={NOBODYS}&measured_on=2026-05-04&unit=m",
}
# These make a record under a uuid that the caller chooses; one of another practice cannot be taken.
MAKING = {
    "backs/{uuid}",
    "photos/{uuid}",
    "instruments/{uuid}",
    "saddles/{uuid}/record",
    "backs/{uuid}/record",
}


@pytest.mark.parametrize(
    ("method", "path"),
    [(method, path) for method, path, _ in OPERATIONS if "{uuid}" in path and path not in MAKING],
    ids=str,
)
def test_records_of_another_practice_are_not_there(cast: Cast, method: str, path: str) -> None:
    owner = caller(cast, "owner")
    for address, _ in addresses(path, cast.elsewhere):
        answer = owner.send(method, address + QUERIES.get(path, ""), RIGHT_BODIES.get((method, path)))
        assert "Elsewhere" not in answer.content.decode()
        if path == "entries/{uuid}":
            assert answer.json() == []
        else:
            assert answer.status_code == 404, f"{method} {address}: {answer.content.decode()[:200]}"


def test_links_to_records_of_another_practice_are_refused(cast: Cast) -> None:
    owner, other = caller(cast, "owner"), cast.elsewhere
    for path, body in (
        ("horses", {"values": {"label": "X", "client": other[Subject.CLIENT]}}),
        ("saddles", {"values": {"label": "X", "client": other[Subject.CLIENT]}}),
        ("visits", {"on": "2026-05-01", "purpose": "first", "horse": other[Subject.HORSE]}),
        ("rechecks", {"horse": other[Subject.HORSE], "on": "2026-05-01"}),
        (
            "captures",
            {"horse": other[Subject.HORSE], "instrument": "comb-41x10", "measured_on": "2026-05-01"},
        ),
    ):
        assert owner.post(path, body).status_code in {404, 422}, path
    for kind in ("horses", "visits", "backs", "studies", "photos"):
        for name in ("horse", "saddle", "visit"):
            listed = owner.get(f"{kind}?{name}={other.uuids.get(Subject(name), NOBODYS)}").content.decode()
            assert "Elsewhere" not in listed
            assert "Thistle" not in listed


@pytest.mark.parametrize("who", ["fitter", "workshop", "reader"])
def test_a_token_of_a_lesser_role_may_less_than_its_maker(cast: Cast, who: str) -> None:
    secret = make_token(cast.actors["owner"], "lesser", Role(who)).secret
    me = Caller(Client(), secret).get("me").json()
    actor = cast.actors[who]
    assert me["role"] == who
    assert set(me["may"]) == {one.value for one in Action if may(actor, one, actor.practice_id)}
    assert Caller(Client(), secret).post("horses", {}).status_code == (422 if who == "fitter" else 403)


def test_a_token_that_does_not_stand_is_none(cast: Cast) -> None:
    fitter = cast.actors["fitter"]
    withdrawn = make_token(fitter, "withdrawn", Role.FITTER)
    end_token(fitter, withdrawn.token.uuid)
    today = timezone.now().date()
    ran_out = make_token(fitter, "ran out", Role.FITTER, expires_on=today)
    assert Caller(Client(), ran_out.secret).get("me").status_code == 200
    Token.objects.filter(pk=ran_out.token.pk).update(expires_on=today - timedelta(days=1))
    left = make_token(cast.actors["reader"], "left", Role.READER)
    end_membership(cast.actors["owner"], uuids.UUID(cast.here.member))
    for secret in (withdrawn.secret, ran_out.secret, left.secret, "saddlebench_x", "x" * 5000, "ü"):
        answer = Caller(Client(), secret).get("horses")
        assert answer.status_code == 401, secret[:40]
        assert answer.json()["type"] == "/api/#no-token"
        assert answer["WWW-Authenticate"].startswith("Bearer")


def test_a_signed_in_browser_is_nobody_here_so_no_form_elsewhere_can_use_its_cookie(cast: Cast) -> None:
    browser = cast.browser("owner", checks_forms=True)
    assert browser.get("/account/").status_code == 200
    for method in ("GET", "POST"):
        answer = browser.generic(method, "/api/v1/horses", data=json.dumps({"values": {"label": "X"}}))
        assert answer.status_code == 401
    with_token = make_token(cast.actors["owner"], "x", Role.OWNER).secret
    browser.cookies["Authorization"] = f"Bearer {with_token}"
    assert browser.get(f"/api/v1/horses?token={with_token}").status_code == 401


def test_nothing_that_comes_in_a_header_is_trusted_as_a_caller_inside(cast: Cast) -> None:
    for name in ("saddlebench.actor", "Saddlebench-Actor", "saddlebench_actor"):
        assert Client().get("/api/v1/me", headers={name: "owner"}).status_code == 401
    assert cast
