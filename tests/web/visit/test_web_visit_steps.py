"""The steps of a visit: every field there, saved one by one or as a form, two people, stops."""

import json
import re
import uuid as uuids
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from web_cast import Cast

from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_HEAD_FIELDS, VISIT_SADDLE_FIELDS
from saddlebench.practice.enums import Purpose, Subject
from saddlebench.practice.services import Entered, enter, give_advice, start_visit, try_saddle
from saddlebench.web.visit.path import ALL_FIELDS, BY_NAME, PARTS_BY_NAME, STEPS, UNASKED

Counting = Callable[[], AbstractContextManager[list[object]]]
PART = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def visit(cast: Cast) -> str:
    return cast.here[Subject.VISIT]


@pytest.fixture
def fitter(cast: Cast) -> Client:
    return cast.browser("fitter")


def _save(
    client: Client, visit: str, name: str, *texts: str, seen: int = 0, key: str = ""
) -> tuple[int, str]:
    posted = {name: list(texts), f"{name}.key": key or str(uuids.uuid4()), f"{name}.seen": str(seen)}
    if not texts:
        posted[f"{name}.shown"] = "1"
    answer = client.post(reverse("visit:save", args=[visit]), posted, **PART)
    return answer.status_code, answer.content.decode()


def _held(cast: Cast, visit: str, name: str) -> object:
    return queries.visit_page(cast.actors["owner"], uuids.UUID(visit)).answers[name].value


def test_every_field_of_the_catalogue_stands_on_exactly_one_step() -> None:
    listed = [name for step in BY_NAME.values() for group in step.groups for name in group.fields]
    assert sorted((*listed, *UNASKED)) == sorted((*VISIT_HEAD_FIELDS, *VISIT_FIELDS))
    about_saddles = [
        name for part in PARTS_BY_NAME.values() for group in part.groups for name in group.fields
    ]
    assert sorted(about_saddles) == sorted(VISIT_SADDLE_FIELDS)


def test_every_field_is_shown_where_it_can_be_filled(cast: Cast, fitter: Client, visit: str) -> None:
    text = ""
    for step in BY_NAME:
        answer = fitter.get(reverse("visit:step", args=[visit, step]))
        assert answer.status_code == 200
        text += answer.content.decode()
    for name in set(ALL_FIELDS) - {*UNASKED, "palpation", "muscle"}:
        assert f'name="{name}"' in text, name
    assert 'data-marks="palpation"' in text
    assert 'data-marks="muscle"' in text
    tried = try_saddle(cast.actors["fitter"], uuids.UUID(visit), uuids.UUID(cast.here[Subject.SADDLE]))
    text = "".join(
        fitter.get(reverse("visit:saddle", args=[visit, tried.uuid, part])).content.decode()
        for part in PARTS_BY_NAME
    )
    for name in VISIT_SADDLE_FIELDS:
        assert f'name="{name}"' in text, name


@pytest.mark.parametrize(
    ("name", "typed", "kept", "said"),
    [
        ("heart_girth_cm", "187,5", 187.5, "187.5\N{NO-BREAK SPACE}cm saved at"),
        ("heart_girth_cm", "187.5", 187.5, "187.5\N{NO-BREAK SPACE}cm saved at"),
        ("condition_score", "5", 5, "saved at"),
        ("coat", "clipped", "clipped", "saved at"),
        ("level_ground", "no", False, "saved at"),
        ("vet_on", "2026-02-11", "2026-02-11", "saved at"),
        ("pads", "felt\r\nwool", ["felt", "wool"], "saved at"),
        ("reason", "Bucks at\r\ncanter", "Bucks at\ncanter", "saved at"),
    ],
)
def test_a_field_is_saved_as_it_is_left(
    cast: Cast, fitter: Client, visit: str, name: str, typed: str, kept: object, said: str
) -> None:
    code, text = _save(fitter, visit, name, typed)
    assert code == 200
    assert _held(cast, visit, name) == kept
    assert said in text
    assert re.search(r"saved at \d\d:\d\d", text)
    step = next(step.name for step in BY_NAME.values() if name in step.fields)
    page = fitter.get(reverse("visit:step", args=[visit, step])).content.decode()
    assert re.search(rf'id="about-{name}".*?saved at \d\d:\d\d', page, re.DOTALL)


def test_several_choices_are_saved_and_cleared(cast: Cast, fitter: Client, visit: str) -> None:
    code, _ = _save(fitter, visit, "leave_to_talk_to", "therapist", "vet")
    assert (code, _held(cast, visit, "leave_to_talk_to")) == (200, ["vet", "therapist"])
    seen = queries.visit_page(cast.actors["fitter"], uuids.UUID(visit)).revision
    code, _ = _save(fitter, visit, "leave_to_talk_to", seen=seen)
    assert (code, _held(cast, visit, "leave_to_talk_to")) == (200, None)


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("heart_girth_cm", "1,870", "can be read as 1870 or as 1.870"),
        ("heart_girth_cm", "1870", "outside 50 to 280 cm"),
        ("condition_score", "10", "outside 1 to 9"),
        ("coat", "mohair", "not one of the choices"),
        ("vet_on", "yesterday", "not a date"),
    ],
)
def test_what_cannot_be_kept_is_said_beside_the_field(
    cast: Cast, fitter: Client, visit: str, name: str, typed: str, said: str
) -> None:
    code, text = _save(fitter, visit, name, typed)
    assert code == 422
    assert said in text
    assert "Not saved" in text
    assert "saved at" not in text
    assert _held(cast, visit, name) is None


def test_the_same_entry_sent_twice_is_one_entry(cast: Cast, fitter: Client, visit: str) -> None:
    key = str(uuids.uuid4())
    first = _save(fitter, visit, "girth_size_cm", "115", key=key)
    again = _save(fitter, visit, "girth_size_cm", "115", key=key)
    assert first[0] == again[0] == 200
    rows = queries.entries_of(cast.actors["fitter"], uuids.UUID(visit), field="girth_size_cm")
    assert len(rows) == 1


def test_the_second_of_two_people_is_told_and_shown_both(cast: Cast, fitter: Client, visit: str) -> None:
    owner = cast.browser("owner")
    assert _save(owner, visit, "girth_size_cm", "115")[0] == 200
    code, text = _save(fitter, visit, "girth_size_cm", "120")
    assert code == 409
    assert "Orla Invented entered “115\N{NO-BREAK SPACE}cm”" in text
    assert 'data-keep="theirs" data-values="[&quot;115&quot;]"' in text
    assert _held(cast, visit, "girth_size_cm") == 115
    # Both stand on the page of whoever comes next; and mine, chosen with theirs before my eyes, is applied.
    page = owner.get(reverse("visit:step", args=[visit, "back"])).content.decode()
    assert "Fitter Invented entered “120\N{NO-BREAK SPACE}cm”" in page
    seen = int(re.search(r'name="girth_size_cm.seen" value="(\d+)"', text)[1])  # type: ignore[index]
    assert _save(fitter, visit, "girth_size_cm", "120", seen=seen)[0] == 200
    assert _held(cast, visit, "girth_size_cm") == 120


def _form(client: Client, path: str, **changed: str) -> tuple[int, str]:
    """Send a page's whole form as a browser without script does."""
    page = client.get(path).content.decode()
    form = re.search(r'<form method="post" novalidate.*?</form>', page, re.DOTALL)
    assert form is not None
    posted: dict[str, str] = {}
    for name, value in re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form[0]):
        posted[name] = value
        if name.endswith(".was"):
            posted.setdefault(name.removesuffix(".was"), value)
    answer = client.post(path, {**posted, **changed})
    return answer.status_code, answer.content.decode()


def test_without_script_a_step_is_one_form(cast: Cast, fitter: Client, visit: str) -> None:
    path = reverse("visit:step", args=[visit, "stance"])
    code, _ = _form(fitter, path, stance="square", heart_girth_cm="190,5", condition_ribs="6")
    assert code == 302
    assert _held(cast, visit, "stance") == "square"
    assert _held(cast, visit, "heart_girth_cm") == 190.5
    assert _held(cast, visit, "condition_ribs") == 6
    after = fitter.get(reverse("visit:step", args=[visit, "photos"])).content.decode()
    assert "Stance and condition: what you entered is kept." in after


def test_without_script_all_problems_stand_together_and_nothing_typed_is_lost(
    cast: Cast, fitter: Client, visit: str
) -> None:
    path = reverse("visit:step", args=[visit, "stance"])
    code, text = _form(fitter, path, heart_girth_cm="9", body_length_cm="1,700", symmetry="Near hollow")
    assert code == 422
    assert "outside 50 to 280 cm" in text
    assert "can be read as 1700" in text
    assert "Near hollow</textarea>" in text
    assert _held(cast, visit, "symmetry") is None


def test_without_script_the_second_of_two_people_is_told_too(cast: Cast, fitter: Client, visit: str) -> None:
    path = reverse("visit:step", args=[visit, "back"])
    page = fitter.get(path).content.decode()
    _save(cast.browser("owner"), visit, "girth_size_cm", "115")
    posted = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page))
    answer = fitter.post(path, {**posted, "girth_size_cm": "120", "girth_groove_mm": "40"})
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "Somebody else entered something meanwhile" in text
    assert 'value="120"' in text
    assert "115\N{NO-BREAK SPACE}cm" in text
    assert _held(cast, visit, "girth_groove_mm") == 40


def test_the_weight_is_estimated_and_its_source_named(cast: Cast, fitter: Client, visit: str) -> None:
    _save(fitter, visit, "heart_girth_cm", "190")
    _, text = _save(fitter, visit, "body_length_cm", "165")
    # 190² × 165 / 11 900 = 500.5 kg, Carroll and Huntington 1988.
    assert "About 501 kg" in text
    assert "Carroll CL, Huntington PJ (1988)" in text
    _save(fitter, visit, "rider_mass_kg", "75")
    _, text = _save(fitter, visit, "tack_mass_kg", "10")
    assert "17.0 %" in text


@pytest.mark.parametrize(
    ("field", "cause", "title", "first"),
    [
        ("stops_vet_first", "lame_or_unsteady", "Stop, vet first", "veterinary surgeon comes first"),
        ("stops_not_today", "contagious_skin", "Stop, not today", "Not today"),
        ("stops_do_not_ride", "tree_in_doubt", "Stop, do not ride", "The saddler comes first"),
    ],
)
def test_a_stop_ends_the_fitting_and_says_who_comes_first(
    cast: Cast, fitter: Client, visit: str, field: str, cause: str, title: str, first: str
) -> None:
    _, text = _save(fitter, visit, field, cause)
    assert title in text
    assert first in text
    for step in STEPS:
        assert title in fitter.get(reverse("visit:step", args=[visit, step.name])).content.decode()
    assert "no fit check is made" in fitter.get(reverse("visit:step", args=[visit, "fit"])).content.decode()
    saddles = fitter.get(reverse("visit:step", args=[visit, "saddles"])).content.decode()
    assert "no other saddle is tried" in saddles
    page = fitter.get(reverse("visit:step", args=[visit, "stop"])).content.decode()
    assert f"{title}:" in re.search(r"<textarea id=\"said\".*?</textarea>", page, re.DOTALL)[0]  # type: ignore[index]


def test_a_stop_follows_from_an_answer(fitter: Client, visit: str) -> None:
    _, text = _save(fitter, visit, "sedated", "yes")
    assert "Stop, not today" in text
    assert "Sedated" in text


def test_a_saddle_in_doubt_is_not_ridden_and_the_others_are(cast: Cast, fitter: Client, visit: str) -> None:
    tried = try_saddle(cast.actors["fitter"], uuids.UUID(visit), uuids.UUID(cast.here[Subject.SADDLE]))
    path = reverse("visit:save_saddle", args=[visit, tried.uuid])
    answer = fitter.post(
        path, {"tree_squeeze": "broken", "tree_squeeze.key": "", "tree_squeeze.seen": "0"}, **PART
    )
    assert "Stop, do not ride: Juniper&#x27;s brown jumping" in answer.content.decode()
    states = fitter.get(reverse("visit:saddle", args=[visit, tried.uuid, "states"])).content.decode()
    assert 'name="girthed.seat"' in states
    assert 'name="rider_up.seat"' not in states
    assert "Stop, do not ride" in states
    assert (
        "Stop, do not ride" not in fitter.get(reverse("visit:step", args=[visit, "photos"])).content.decode()
    )


def test_advice_declined_is_kept_with_its_time(fitter: Client, visit: str) -> None:
    path = reverse("visit:advise", args=[visit])
    form = str(uuids.uuid4())
    posted = {"said": "Ring the vet", "declined": "yes", "declined_by": "the owner", "form": form}
    for _ in range(2):
        assert fitter.post(path, posted).status_code == 302
    text = fitter.get(reverse("visit:step", args=[visit, "decision"])).content.decode()
    assert text.count("Ring the vet") == 1
    assert re.search(r"\d\d:\d\d · Fitter Invented.*declined by the owner", text, re.DOTALL)
    assert fitter.post(path, {"said": " "}).status_code == 422


def _mark(client: Client, visit: str, **posted: str) -> tuple[int, str]:
    answer = client.post(reverse("visit:add_mark", args=[visit, "palpation"]), posted, **PART)
    return answer.status_code, answer.content.decode()


def test_marks_are_set_by_touch_or_from_the_list_beside_others_and_taken_off(
    cast: Cast, fitter: Client, visit: str
) -> None:
    key = str(uuids.uuid4())
    code, text = _mark(fitter, visit, kind="sore", degree="2", x="0.37", y="0.47", key=key)
    assert code == 200
    assert "Sore, clear: Long muscle under the saddle, near" in text
    _mark(fitter, visit, kind="sore", degree="2", x="0.37", y="0.47", key=key)
    _mark(cast.browser("owner"), visit, kind="heat", degree="0", place="withers")
    held = _held(cast, visit, "palpation")
    assert isinstance(held, list)
    assert [(one["kind"], one["side"]) for one in held] == [("sore", "near"), ("heat", "middle")]
    taken = json.dumps(held[0], sort_keys=True)
    off = fitter.post(reverse("visit:take_mark_off", args=[visit, "palpation"]), {"mark": taken})
    assert off.status_code == 302
    left = _held(cast, visit, "palpation")
    assert isinstance(left, list)
    assert [one["kind"] for one in left] == ["heat"]


@pytest.mark.parametrize(
    ("posted", "said"),
    [
        ({"kind": "sore"}, "Choose a place"),
        ({"kind": "sore", "x": "nan", "y": "0.5"}, "Not saved|no number"),
        ({"kind": "sore", "x": "1.5", "y": "0.5"}, "outside 0 to 1"),
        ({"kind": "ticklish", "place": "withers"}, "is not a kind of mark"),
    ],
)
def test_a_mark_that_means_nothing_is_refused(
    cast: Cast, fitter: Client, visit: str, posted: dict[str, str], said: str
) -> None:
    code, text = _mark(fitter, visit, **posted)
    assert code == 422
    assert re.search(said, text)
    assert _held(cast, visit, "palpation") is None


def _queries(count_queries: Counting, client: Client, path: str) -> int:
    client.get(path)
    with count_queries() as counted:
        assert client.get(path).status_code == 200
    return len(counted)


@pytest.mark.parametrize("step", [*BY_NAME, "summary", "list"])
def test_twice_as_much_takes_as_many_queries(
    cast: Cast, fitter: Client, visit: str, count_queries: Counting, step: str
) -> None:
    actor = cast.actors["fitter"]
    paths = {"summary": reverse("visit:summary", args=[visit]), "list": reverse("visit:visits")}
    path = paths.get(step) or reverse("visit:step", args=[visit, step])

    def grow(start: int, count: int) -> None:
        for number in range(start, start + count):
            saddle = services.take_on_saddle(actor, {"label": f"Saddle {number}"})
            tried = try_saddle(actor, uuids.UUID(visit), saddle.uuid)
            entry = Entered(field="straps", value="worn", key=uuids.uuid4(), seen=0)
            enter(actor, Subject.VISIT_SADDLE, tried.uuid, [entry])
            give_advice(actor, uuids.UUID(visit), f"Advice {number}")
            name = list(VISIT_FIELDS)[number]
            if VISIT_FIELDS[name].kind == "long_text":
                enter(
                    actor,
                    Subject.VISIT,
                    uuids.UUID(visit),
                    [Entered(field=name, value="x", key=uuids.uuid4(), seen=0)],
                )
            start_visit(actor, on=date(2026, 3, 2), purpose=Purpose.TRIAL, label=f"Horse {number}")

    grow(7, 3)
    before = _queries(count_queries, fitter, path)
    grow(10, 6)
    assert _queries(count_queries, fitter, path) == before
    assert before <= 15


def test_saving_a_field_takes_as_many_queries_with_a_full_visit(
    cast: Cast, fitter: Client, visit: str, count_queries: Counting
) -> None:
    counts = []
    _save(fitter, visit, "symmetry", "uneven")
    for texts in (("sound",), ("tight",)):
        with count_queries() as counted:
            code, _ = _save(fitter, visit, "symmetry", *texts, seen=10_000)
        assert code == 200
        counts.append(len(counted))
        for name in ("coat", "hooves", "girthy"):
            _save(fitter, visit, name, VISIT_FIELDS[name].choices[0])
    assert counts[0] == counts[1]
