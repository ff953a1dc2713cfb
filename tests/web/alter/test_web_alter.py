"""What to do about a fit check: sought, tried by hand, saved, and ordered; who may, and what is refused."""

import re
import uuid as uuids
from collections.abc import Callable

import pytest
from django.test.utils import CaptureQueriesContext
from planned_cast import recorded_plan
from study_cast import Checked, record_checked
from web_cast import Cast, do_waiting

from saddlebench.practice.models import Plan
from saddlebench.practice.queries.plans import list_plans, plan_page


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


def seek(cast: Cast, checked: Checked, who: str = "fitter", **more: str) -> uuids.UUID:
    """Seek a plan as somebody would on the page, and return its name."""
    key = str(uuids.uuid4())
    form = {"form": key, "arch": "yes", "shims": "yes", "straps": "yes", **more}
    answer = cast.browser(who).post(f"/checks/{checked.study}/what-to-do/", form)
    assert answer.status_code == 302, answer.content.decode()[:400]
    do_waiting()
    return uuids.UUID(key)


def test_a_plan_is_sought_recorded_and_shown_with_every_finding(cast: Cast, checked: Checked) -> None:
    fitter = cast.browser("fitter")
    asked = fitter.get(f"/checks/{checked.study}/what-to-do/").content.decode()
    assert "Fit the bigger shoulder" in asked
    plan = seek(cast, checked)
    page = plan_page(cast.actors["fitter"], plan)
    assert page.row.run == 1
    assert page.row.told["better"] > 0
    shown = fitter.get(f"/plans/{plan}/").content.decode()
    assert f"{page.row.told['better']} better" in shown
    assert "on the bench" in shown.casefold()
    assert "veterinary surgeon" in shown
    assert "of 100 tries" in shown
    assert "The measuring errors are those that the instrument states." in shown
    assert f"/plans/{plan}/" in fitter.get(f"/checks/{checked.study}/what-to-do/").content.decode()


def test_both_pictures_of_a_plan_are_drawn(cast: Cast, checked: Checked) -> None:
    plan = recorded_plan(cast, checked)
    fitter = cast.browser("fitter")
    for name in ("underside", "before-and-after"):
        answer = fitter.get(f"/plans/{plan}/{name}.svg")
        assert answer["Content-Type"] == "image/svg+xml"
        assert b"<svg" in answer.content
    assert fitter.get(f"/plans/{plan}/portrait.svg").status_code == 422


def test_asked_twice_with_one_key_it_is_sought_once(cast: Cast, checked: Checked) -> None:
    key = str(uuids.uuid4())
    for _ in range(2):
        cast.browser("fitter").post(f"/checks/{checked.study}/what-to-do/", {"form": key, "arch": "yes"})
    do_waiting()
    assert Plan.objects.filter(uuid=key).count() == 1


def test_what_is_set_by_hand_follows_at_once_and_is_the_plan_when_saved(cast: Cast, checked: Checked) -> None:
    fitter = cast.browser("fitter")
    set_by_hand = {"near-front": "5", "off-front": "5", "arch": "10", "run": "1"}
    answer = fitter.get(f"/checks/{checked.study}/try/", set_by_hand, headers={"HX-Request": "true"})
    part = answer.content.decode()
    assert answer.status_code == 200
    assert "<html" not in part
    said = re.search(r"(\d+) better, (\d+) worse", part)
    assert said is not None
    picture = fitter.get(f"/checks/{checked.study}/runs/1/tried/before-and-after.svg", set_by_hand)
    assert b"<svg" in picture.content
    key = str(uuids.uuid4())
    saved = fitter.post(f"/checks/{checked.study}/try/save/", {**set_by_hand, "form": key})
    assert saved.status_code == 302
    do_waiting()
    told = plan_page(cast.actors["fitter"], uuids.UUID(key)).row.told
    assert told["by_hand"]
    assert (str(told["better"]), str(told["worse"])) == said.groups()
    begun = fitter.get(f"/checks/{checked.study}/try/?plan={key}").content.decode()
    assert re.search(r'name="near-front"[^>]*value="5"', begun)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("near-front", "40", "near front"),
        ("off-rear", "x", "off rear"),
        ("arch", "99", "front arch"),
        ("pad", "lead", "choices"),
    ],
)
def test_beyond_the_saddles_own_limits_nothing_is_computed(
    cast: Cast, checked: Checked, field: str, value: str, said: str
) -> None:
    answer = cast.browser("fitter").get(f"/checks/{checked.study}/try/", {field: value})
    assert answer.status_code == 422
    assert "Not computed" in answer.content.decode()
    assert said in answer.content.decode()


def test_halves_begin_from_the_whole_zone_and_differ_then(cast: Cast, checked: Checked) -> None:
    fitter = cast.browser("fitter")
    whole = fitter.get(f"/checks/{checked.study}/try/?near-front=4&halves=1").content.decode()
    assert re.search(r'name="near-front-inner"[^>]*value="4"', whole)
    apart = fitter.get(f"/checks/{checked.study}/try/?near-front-inner=4&near-front-outer=0&halves=1")
    assert "near front, inner half" in apart.content.decode()


@pytest.mark.parametrize("who", ["workshop", "reader"])
def test_others_may_look_but_not_plan(cast: Cast, checked: Checked, who: str) -> None:
    plan = recorded_plan(cast, checked)
    other = cast.browser(who)
    assert other.get(f"/plans/{plan}/").status_code == (404 if who == "workshop" else 200)
    assert other.get(f"/checks/{checked.study}/try/?near-front=5").status_code == 200
    form = {"form": str(uuids.uuid4())}
    assert other.post(f"/checks/{checked.study}/what-to-do/", form).status_code == 403
    assert other.post(f"/checks/{checked.study}/try/save/", {"near-front": "5"}).status_code == 403
    assert list_plans(cast.actors["fitter"]).total == 1


def test_another_practice_finds_nothing(cast: Cast, checked: Checked) -> None:
    plan = recorded_plan(cast, checked)
    other, nobody = cast.browser("other"), cast.browser("nobody")
    for path in (
        f"/plans/{plan}/",
        f"/plans/{plan}/underside.svg",
        f"/checks/{checked.study}/what-to-do/",
        f"/checks/{checked.study}/try/?near-front=5",
        f"/checks/{checked.study}/runs/1/tried/underside.svg?near-front=5",
        f"/plans/{plan}/order/",
    ):
        assert other.get(path).status_code == 404, path
        assert nobody.get(path).status_code == 302, path
    assert other.post(f"/checks/{checked.study}/try/save/", {"near-front": "5"}).status_code == 404
    assert nobody.post(f"/checks/{checked.study}/try/save/", {}).status_code == 401
    assert cast.browser("fitter").get(f"/checks/{checked.study}/try/save/").status_code == 405


def test_twice_the_plans_take_no_more_queries(
    cast: Cast, checked: Checked, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    def queries() -> int:
        with count_queries() as counted:
            cast.browser("fitter").get(f"/checks/{checked.study}/what-to-do/")
        return len(counted)

    recorded_plan(cast, checked)
    queries()
    one = queries()
    recorded_plan(cast, checked)
    assert queries() == one
