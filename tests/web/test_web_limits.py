"""A practice's own limits on the pages: set, refused in words, named in a check, kept by it, undone."""

import tomllib
import uuid as uuids
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse
from study_cast import record_checked
from web_cast import Cast

from saddlebench.engine.fit.loads import Rider
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.limits import limit_groups
from saddlebench.exchange.records import StudyDocument, parse_document
from saddlebench.practice import queries, services
from saddlebench.practice.models import OwnLimit
from saddlebench.practice.services.checking import run_again

Counting = Callable[[], AbstractContextManager[list[object]]]
EDGE = next(one.slug for one in limit_groups() if one.slug.startswith("edge_share"))
TOP = next(one.slug for one in limit_groups() if one.slug.startswith("withers_top-"))


def test_the_owner_sets_a_limit_and_everybody_sees_whose_it_is(cast: Cast) -> None:
    owner = cast.browser("owner")
    form = owner.get(reverse("study:limit", args=[TOP])).content.decode()
    assert 'name="fine_from" value="30"' in form
    assert 'name="fine_to"' not in form
    answer = owner.post(reverse("study:limit", args=[TOP]), {"fine_from": "35,5", "borderline_from": "22"})
    assert answer["Location"] == reverse("study:limits")
    text = cast.browser("reader").get(reverse("study:limits"), {"own": "1"}).content.decode()
    assert "Fine from 35.5\N{NO-BREAK SPACE}mm, not right below 22\N{NO-BREAK SPACE}mm" in text
    assert "the practice&#x27;s own" in text
    assert cast.actors["owner"].label in text
    assert "Change" not in text.split("<main")[1]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"fine_from": "", "borderline_from": "20"}, "this end of the limit is missing"),
        ({"fine_from": "thirty", "borderline_from": "20"}, "is not a number"),
        ({"fine_from": "1,250", "borderline_from": "20"}, "can be read as"),
        ({"fine_from": "20", "borderline_from": "30"}, "does not lie within"),
        ({"fine_from": "9000", "borderline_from": "30"}, "outside -500 to 500"),
    ],
)
def test_what_cannot_be_a_limit_is_said_at_its_end(cast: Cast, typed: dict[str, str], said: str) -> None:
    answer = cast.browser("owner").post(reverse("study:limit", args=[TOP]), typed)
    assert answer.status_code == 422
    assert said in answer.content.decode().lower()
    assert not OwnLimit.objects.exists()


def test_only_the_owner_may_and_a_limit_that_is_none_is_not_found(cast: Cast) -> None:
    typed = {"fine_from": "35", "borderline_from": "22"}
    for who in ("fitter", "workshop", "reader"):
        assert cast.browser(who).post(reverse("study:limit", args=[TOP]), typed).status_code == 403
        assert cast.browser(who).post(reverse("study:default_limit", args=[TOP])).status_code == 403
    assert cast.browser("owner").get(reverse("study:limit", args=["no-such"])).status_code == 404
    assert not OwnLimit.objects.exists()


def test_changes_are_added_never_written_over_and_the_default_comes_back(cast: Cast) -> None:
    owner, path = cast.browser("owner"), reverse("study:limit", args=[EDGE])
    for level in ("5", "8"):
        owner.post(path, {"fine_to": level, "borderline_to": "20"})
    owner.post(reverse("study:default_limit", args=[EDGE]))
    assert [row.ends for row in OwnLimit.objects.order_by("id")] == [
        {"fine_to": 5.0, "borderline_to": 20.0},
        {"fine_to": 8.0, "borderline_to": 20.0},
        None,
    ]
    text = owner.get(path).content.decode()
    history = text[text.index("Who changed it when") :]
    assert [history.index(words) for words in ("Back to the default", "up to 8%", "up to 5%")] == sorted(
        history.index(words) for words in ("Back to the default", "up to 8%", "up to 5%")
    )
    assert queries.own_limits(cast.actors["owner"]) is None
    with pytest.raises(DatabaseError), transaction.atomic():
        OwnLimit.objects.all().delete()
    with pytest.raises(DatabaseError), transaction.atomic():
        OwnLimit.objects.update(ends=None)


def test_a_practice_sees_and_uses_its_own_limits_alone(cast: Cast) -> None:
    cast.browser("owner").post(reverse("study:limit", args=[EDGE]), {"fine_to": "5", "borderline_to": "20"})
    assert queries.own_limits(cast.actors["other"]) is None
    assert not any(one.is_own for one in queries.limits_page(cast.actors["other"]))


def test_a_check_is_judged_by_the_practices_limits_and_keeps_them(cast: Cast) -> None:
    checked = record_checked(cast)
    actor = cast.actors["owner"]
    services.set_own_limit(actor, EDGE, {"fine_to": "0", "borderline_to": "0"})
    versions = {
        "back_version": uuids.UUID(checked.back_version),
        "saddle_version": uuids.UUID(checked.saddle_version),
    }
    document = services.compute_check(actor, StudyRequest(rider=Rider(mass_kg=70.0), draws=0), **versions)
    study = services.record_study(actor, document, **versions).version.study
    text = cast.browser("reader").get(reverse("study:study", args=[study.uuid])).content.decode()
    practice = queries.limit_page(actor, EDGE).whose
    assert f"{practice}: the practice&#x27;s own" in text
    # The practice changes its mind; the check that was made stays, and comes out the same when run again.
    services.set_own_limit(actor, EDGE, None)
    again = run_again(actor, study.uuid, 1)
    assert again.is_same
    first = parse_document(StudyDocument, document.text, "check").study()
    assert practice in first.inputs.criteria_label
    fresh = services.compute_check(actor, StudyRequest(rider=Rider(mass_kg=70.0), draws=0), **versions)
    assert practice not in parse_document(StudyDocument, fresh.text, "check").study().inputs.criteria_label


def test_the_file_holds_the_own_limits_as_the_commands_read_them(cast: Cast) -> None:
    services.set_own_limit(cast.actors["owner"], EDGE, {"fine_to": "5", "borderline_to": "12,5"})
    answer = cast.browser("fitter").get(reverse("study:limits_file"))
    (table,) = tomllib.loads(answer.content.decode())["limits"]
    assert table["finding"] == "load on the outer edges"
    assert (table["fine_to"], table["borderline_to"]) == (5.0, 12.5)


def test_however_many_limits_are_set_the_page_asks_as_often(cast: Cast, count_queries: Counting) -> None:
    fitter = cast.browser("fitter")

    def counted() -> int:
        with count_queries() as found:
            assert fitter.get(reverse("study:limits")).status_code == 200
        return len(found)

    counted()
    before = counted()
    for group in limit_groups()[:12]:
        ends = {name: str(value) for name, value in group.ends.items()}
        services.set_own_limit(cast.actors["owner"], group.slug, ends)
    assert counted() == before
