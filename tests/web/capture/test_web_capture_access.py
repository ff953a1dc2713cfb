"""Every address of measuring × every role × own and other practice, GET and POST."""

import json
import uuid as uuids
from typing import Any

import pytest
from capture_invented import begin
from capture_readings import invented_values
from django.urls import get_resolver
from web_cast import ROLES, Cast

from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.rules import may
from saddlebench.web.base.access import Access, access_of

ENTRIES = json.dumps({"seen": 0, "entries": []})


def addresses() -> dict[str, Any]:
    (ours,) = [one for one in get_resolver().url_patterns if getattr(one, "namespace", "") == "capture"]
    return {one.name: one for one in ours.url_patterns}


NAMES = sorted(addresses())


def path_of(cast: Cast, name: str) -> str:
    """Return an address with a record of this practice in it."""
    actor = cast.actors["owner"]
    measured = begin(cast, "comb-24x15-foot", invented_values("comb-24x15-foot"))
    saddle, back = cast.here[Subject.SADDLE], cast.here[Subject.BACK]
    if name == "instrument":
        text = '{"family": "traced curve", "name": "our curve"}'
        return f"/instruments/{services.describe_instrument(actor, 'our curve', Document(text=text)).uuid}/"
    return {
        "home": "/measure/",
        "start": "/measure/new/",
        "overview": measured,
        "part": f"{measured}part/s1r0/",
        "readings": f"{measured}part/s1r0/readings/",
        "moved": f"{measured}part/s1r0/moved/",
        "again": f"{measured}again/",
        "repeat": f"{measured}repeat/",
        "from_card": f"{measured}card/",
        "add_section": f"{measured}section/",
        "table": f"{measured}table/",
        "finish": f"{measured}finish/",
        "take_up": f"{measured}take-up/",
        "back": f"/backs/{back}/",
        "instruments": "/instruments/",
        "new_instrument": "/instruments/new/",
        "instrument_picture": "/instruments/picture/",
        "shipped": "/instruments/shipped/curve-mm/",
        "measure_saddle": f"/saddles/{saddle}/measure/",
        "leave_saddle_draft": f"/saddles/{saddle}/measure/leave/",
        "saddle_preview": f"/saddles/{saddle}/measure/picture/",
        "measured_saddle": f"/saddles/{saddle}/measured/",
    }[name]


OPEN_TO_EACH = {"home", "start", "instruments", "new_instrument", "instrument_picture", "shipped"}
"""Addresses that name no record: another practice sees its own there."""


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_nobody_gets_what_is_not_theirs(cast: Cast, name: str, method: str) -> None:
    declared = access_of(addresses()[name].callback)
    assert isinstance(declared, Access)
    assert declared.action is not None
    path = path_of(cast, name)
    for who in (*ROLES, "other", "nobody"):
        client = cast.browser(who)
        kind = "application/json" if name == "readings" else "application/x-www-form-urlencoded"
        answer = client.generic(method, path, data=ENTRIES if name == "readings" else "", content_type=kind)
        code, said = answer.status_code, f"{method} {path} as {who}: {answer.status_code}"
        if method not in declared.methods:
            assert code == 405, said
        elif who == "nobody":
            assert code == (302 if method == "GET" else 401), said
        elif who == "other" and name not in OPEN_TO_EACH:
            assert code == 404, said
        elif not may(cast.actors[who], declared.action, cast.actors[who].practice_id):
            assert code == 403, said
        else:
            assert code in {200, 302, 404, 409, 422}, said


def test_what_is_withdrawn_is_not_found(cast: Cast) -> None:
    where = begin(cast, "comb-24x15-foot")
    services.withdraw(cast.actors["owner"], Subject.CAPTURE, uuids.UUID(where.split("/")[2]))
    assert cast.browser("owner").get(where).status_code == 404


def test_a_form_without_its_token_is_refused(cast: Cast) -> None:
    where = begin(cast, "comb-24x15-foot")
    client = cast.browser("owner", checks_forms=True)
    answer = client.post(f"{where}part/marks/readings/", ENTRIES, content_type="application/json")
    assert answer.status_code == 403


def test_no_page_of_measuring_holds_a_script_or_style_of_its_own(cast: Cast) -> None:
    owner = cast.browser("owner")
    for name in NAMES:
        if "GET" not in (access_of(addresses()[name].callback) or Access(action=None, methods=())).methods:
            continue
        text = owner.get(path_of(cast, name)).content.decode()
        assert " style=" not in text, name
        assert "<style" not in text, name
        assert "<script>" not in text, name
        assert " onclick=" not in text, name
