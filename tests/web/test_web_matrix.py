"""Every address × every role × own and other practice, GET and POST: nobody gets what is not theirs.

The list of addresses comes from the program, so that a new one cannot be forgotten: it is refused here
until it says who may call it, and its arguments are known.
"""

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from web_cast import EVERYONE, ROLES, Cast, Invented

from saddlebench.practice.enums import Action, Role, Subject
from saddlebench.practice.rules import Actor, may
from saddlebench.web.base.access import access_of
from saddlebench.web.links import DEEDS, PAGES
from saddlebench.web.slices import SLICES

# Which record of the cast fills the `uuid` of an address; those with a `subject` take each that they serve.
RECORDS: dict[str, Subject] = {
    "records:horse": Subject.HORSE,
    "records:edit_horse": Subject.HORSE,
    "records:timeline": Subject.HORSE,
    "records:client": Subject.CLIENT,
    "records:edit_client": Subject.CLIENT,
    "records:erase": Subject.CLIENT,
    "records:yard": Subject.YARD,
    "records:edit_yard": Subject.YARD,
    "records:saddle": Subject.SADDLE,
    "records:edit_saddle": Subject.SADDLE,
    "records:to_stock": Subject.SADDLE,
    "records:used_on": Subject.SADDLE,
}
SUBJECTS: dict[str, tuple[Subject, ...]] = {
    "records:enter_field": (Subject.CLIENT, Subject.YARD, Subject.HORSE, Subject.SADDLE),
    "records:entries": (Subject.CLIENT, Subject.YARD, Subject.HORSE, Subject.SADDLE),
    "records:versions": (Subject.BACK, Subject.SADDLE, Subject.STUDY),
    "records:withdraw": (Subject.CLIENT, Subject.YARD, Subject.HORSE, Subject.SADDLE, Subject.BACK),
    "records:put_back": (Subject.CLIENT, Subject.HORSE, Subject.STUDY),
}
# No long work has a record's uuid: what is tested of it is in test_web_jobs.
JOBS = ("job", "job_stop", "job_again")
# A token's own tests have tokens of this practice and another; here the address is tried with none of them.
MEMBER_URLS = (
    "accounts:member_role",
    "accounts:member_password",
    "accounts:member_end",
    "accounts:token_end",
)
TEXTS = {"home:calendar_feed": {"token": "no-such-token"}, "records:choose": {"what": "client"}}
# A service may ask for more than the address does: the address is the first door, not the only one.
ALSO_NEEDS: dict[tuple[str, Subject], Action] = {
    ("records:enter_field", Subject.CLIENT): Action.EDIT_PEOPLE,
    ("records:enter_field", Subject.YARD): Action.EDIT_PEOPLE,
    ("records:enter_field", Subject.HORSE): Action.EDIT_HORSES,
    ("records:enter_field", Subject.SADDLE): Action.EDIT_SADDLES,
    ("records:versions", Subject.BACK): Action.SEE_HORSES,
    ("records:versions", Subject.STUDY): Action.SEE_HORSES,
}
POSTED: dict[str, dict[str, str]] = {
    "accounts:member_role": {"role": "fitter"},
    "accounts:member_password": {"new": "another-invented-phrase"},
    "accounts:member_end": {"sure": "yes"},
    "records:enter_field": {"label": "x", "label.was": "y", "label.key": "", "label.seen": "0"},
}


def every_url() -> Iterator[tuple[str, URLPattern]]:
    """Return every address of the program with its full name."""

    def walk(patterns: list[Any], namespace: str) -> Iterator[tuple[str, URLPattern]]:
        for one in patterns:
            if isinstance(one, URLResolver):
                yield from walk(one.url_patterns, f"{one.namespace}:" if one.namespace else namespace)
            else:
                yield f"{namespace}{one.name}", one

    yield from walk(get_resolver().url_patterns, "")


OURS = ("home", "accounts", "records", "")
URLS = sorted((name for name, _ in every_url()), key=str)
PATTERNS = dict(every_url())
MINE = [name for name in URLS if (name.split(":")[0] if ":" in name else "") in OURS]


def arguments(name: str, invented: Invented) -> list[tuple[dict[str, str], Subject | None]]:
    if name in RECORDS:
        return [({"uuid": invented[RECORDS[name]]}, RECORDS[name])]
    if name in SUBJECTS:
        return [({"subject": s.value, "uuid": invented[s]}, s) for s in SUBJECTS[name]]
    if name in MEMBER_URLS:
        return [({"uuid": invented.member}, None)]
    if name in JOBS:
        return [({"uuid": invented[Subject.HORSE]}, None)]
    return [(TEXTS.get(name, {}), None)]


def may_all(actor: Actor, name: str, subject: Subject | None, action: Action) -> bool:
    needed = [action]
    if subject is not None and (name, subject) in ALSO_NEEDS:
        needed.append(ALSO_NEEDS[name, subject])
    return all(may(actor, one, actor.practice_id) for one in needed)


def test_every_address_says_who_may_call_it() -> None:
    silent = [name for name, pattern in every_url() if access_of(pattern.callback) is None]
    assert silent == []


def test_every_address_of_these_slices_is_known_here() -> None:
    unknown = []
    for name in MINE:
        wanted = set(PATTERNS[name].pattern.converters)
        known = {
            *(("uuid",) if name in RECORDS or name in MEMBER_URLS or name in JOBS else ()),
            *(("subject", "uuid") if name in SUBJECTS else ()),
            *TEXTS.get(name, {}),
        }
        if wanted != known:
            unknown.append((name, sorted(wanted)))
    assert unknown == []


def test_every_page_and_deed_that_slices_meet_by_leads_somewhere() -> None:
    installed = {one.name for one in SLICES}
    named = [*PAGES.values(), *(deed.url for deed in DEEDS)]
    lost = [url for url in named if url.partition(":")[0] in installed and url not in PATTERNS]
    assert lost == []
    for deed in DEEDS:
        if deed.url in PATTERNS:
            wants = set(PATTERNS[deed.url].pattern.converters)
            assert wants == (set() if deed.query else {"uuid"}), deed.url


@pytest.mark.parametrize("name", MINE)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_nobody_gets_what_is_not_theirs(cast: Cast, name: str, method: str) -> None:
    declared = access_of(PATTERNS[name].callback)
    assert declared is not None
    # The owner last: what the owner does here shuts others out.
    browsers = {who: cast.browser(who) for who in sorted(EVERYONE, key=lambda one: one == "owner")}
    for values, subject in arguments(name, cast.here):
        path = reverse(name, kwargs=values)
        for who, client in browsers.items():
            answer = client.generic(
                method,
                path,
                data=urlencode(POSTED.get(name, {})),
                content_type="application/x-www-form-urlencoded",
            )
            code = answer.status_code
            said = f"{method} {path} as {who}: {code}"
            if method not in declared.methods:
                assert code == 405, said
            elif declared.action is None:
                assert code in {200, 302, 404, 422, 429}, said
            elif who == "nobody":
                assert code == (302 if method == "GET" else 401), said
                assert method == "POST" or answer["Location"].startswith("/sign-in/"), said
            elif who == "other" and values.get("uuid"):
                assert code == 404, said
            elif not may_all(cast.actors[who], name, subject, declared.action):
                assert code == 403, said
            else:
                # Withdrawn by the role before, or refused for what was sent: the door is open.
                assert code in {200, 302, 404, 409, 422}, said


@pytest.mark.parametrize("name", [name for name in MINE if PATTERNS[name].pattern.converters])
def test_records_of_another_practice_are_not_there(cast: Cast, name: str) -> None:
    declared = access_of(PATTERNS[name].callback)
    assert declared is not None
    if declared.action is None or name == "records:choose":
        pytest.skip("carries no record of a practice")
    for values, _subject in arguments(name, cast.elsewhere):
        for method in declared.methods:
            answer = cast.browser("owner").generic(
                method,
                reverse(name, kwargs=values),
                data=urlencode(POSTED.get(name, {})),
                content_type="application/x-www-form-urlencoded",
            )
            assert answer.status_code == 404, f"{method} {name}"
            assert "Elsewhere" not in answer.content.decode()


@pytest.mark.parametrize("who", ROLES)
def test_pages_show_people_only_to_those_who_may_see_them(cast: Cast, who: str) -> None:
    actor = cast.actors[who]
    sees = may(actor, Action.SEE_PEOPLE, actor.practice_id)
    assert sees is (actor.role is not Role.WORKSHOP)
    client = cast.browser(who)
    for path in (
        "/",
        "/horses/",
        "/horses/?q=wilma",
        "/saddles/",
        "/saddles/?q=wilma",
        "/diary/",
        "/withdrawn/",
        f"/horses/{cast.here[Subject.HORSE]}/",
        f"/horses/{cast.here[Subject.HORSE]}/timeline/",
        f"/saddles/{cast.here[Subject.SADDLE]}/",
        f"/saddles/{cast.here[Subject.SADDLE]}/edit/",
    ):
        text = client.get(path).content.decode().replace("q=wilma", "").replace("“wilma”", "")
        if not sees:
            assert "Wilma Fernlea" not in text, path
    assert ("Wilma Fernlea" in client.get("/horses/").content.decode()) is sees
