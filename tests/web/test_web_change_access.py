"""What changed: every address × every role × own and other practice, the wrong way of asking, few queries."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import pytest
from change_cast import Story, record_repeats, record_story
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver, reverse
from web_cast import EVERYONE, Cast

from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Comparison, Horse
from saddlebench.practice.rules import may
from saddlebench.web.base.access import access_of

KINDS = {
    "change:change": "change",
    "change:report": "change",
    "change:picture": "change",
    "change:then_and_now": "then_and_now",
    "change:hand": "hand",
    "change:hand_picture": "hand",
    "change:fitters": "fitters",
    "change:fitters_picture": "fitters",
}
NAMES = {"change:picture": "map", "change:hand_picture": "numbers"}
POSTED = {"change:to_diary": {"on": "2027-01-04"}}


def addresses() -> dict[str, Any]:
    root: Any = get_resolver()
    found = next(one for one in root.url_patterns if getattr(one, "namespace", None) == "change")
    return {f"change:{one.name}": one for one in found.url_patterns}


def comparison(cast: Cast, who: str, kind: str) -> Comparison:
    """Return a comparison as it would be recorded; what it says is nothing, and is said to be unreadable."""
    actor = cast.actors[who]
    return Comparison.objects.create(
        practice_id=actor.practice_id,
        horse=Horse.objects.filter(practice_id=actor.practice_id).order_by("id")[0],
        kind=kind,
        label="Elsewhere or here",
        asked=f"{kind}-{who}",
        made_of={"backs": [], "figures": [], "rider_kg": 70, "tries": 8},
        told={},
        schema_id="",
        document="{}",
        sha256=f"{kind}-{who}",
        engine_version="",
        made_at="2026-03-01T00:00:00Z",
        made_by_id=actor.user_id,
    )


def filled(cast: Cast, who: str, name: str, pattern: Any) -> str:
    values = {}
    if "uuid" in pattern.pattern.converters:
        owner = cast.elsewhere if who == "other" else cast.here
        values["uuid"] = comparison(cast, who, KINDS[name]).uuid if name in KINDS else owner[Subject.HORSE]
    if "name" in pattern.pattern.converters:
        values["name"] = NAMES[name]
    return reverse(name, kwargs=values)


@pytest.mark.parametrize("name", sorted(addresses()))
def test_nobody_gets_what_is_not_theirs(cast: Cast, name: str) -> None:
    pattern = addresses()[name]
    declared = access_of(pattern.callback)
    assert declared is not None
    assert declared.action is not None
    path = filled(cast, "owner", name, pattern)
    for method in ("GET", "POST"):
        for who in EVERYONE:
            answer = cast.browser(who).generic(
                method,
                path,
                data=urlencode(POSTED.get(name, {})),
                content_type="application/x-www-form-urlencoded",
            )
            said = f"{method} {path} as {who}: {answer.status_code}"
            if method not in declared.methods:
                assert answer.status_code == 405, said
            elif who == "nobody":
                assert answer.status_code == (302 if method == "GET" else 401), said
            elif who == "other" and pattern.pattern.converters:
                assert answer.status_code == 404, said
            elif not may(cast.actors[who], declared.action, cast.actors[who].practice_id):
                assert answer.status_code == 403, said
            else:
                assert answer.status_code in {200, 302, 422}, said


@pytest.mark.parametrize("name", [n for n, p in sorted(addresses().items()) if p.pattern.converters])
def test_records_of_another_practice_are_not_there(cast: Cast, name: str) -> None:
    pattern = addresses()[name]
    path = filled(cast, "other", name, pattern)
    declared = access_of(pattern.callback)
    assert declared is not None
    for method in declared.methods:
        answer = cast.browser("owner").generic(
            method,
            path,
            data=urlencode(POSTED.get(name, {})),
            content_type="application/x-www-form-urlencoded",
        )
        assert answer.status_code == 404, f"{method} {path}"
        assert "Elsewhere" not in answer.content.decode()


def test_pages_ask_the_tables_as_often_with_more_records(
    cast: Cast, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    client = cast.browser("fitter")

    def counted(story: Story) -> dict[str, int]:
        found = {}
        for page in ("changed", "trend", "then-and-now"):
            with count_queries() as queries:
                assert client.get(f"/horses/{story.horse}/{page}/").status_code == 200
            found[page] = len(queries)
        return found

    few = record_story(cast, (0, 3, 6), numbers=True)
    many = record_story(cast, (0, 2, 3, 4, 6, 8), numbers=True)
    counted(few)
    assert counted(few) == counted(many)
    record_repeats(cast, 3)
    with count_queries() as first:
        client.get("/check-me/")
    assert len(first) < 12
