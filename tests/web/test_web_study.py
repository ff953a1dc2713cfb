"""Fit checks over the web: asked for, refused, watched, stopped, shown, drawn, changed; and by whom."""

import gzip
import re
import uuid as uuids
from collections.abc import Callable

import pytest
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from study_cast import Checked, record_checked, treeless
from web_cast import Cast, do_waiting

from saddlebench.engine.fit.loads import MORE_CASES
from saddlebench.exchange.drawings import as_svg
from saddlebench.exchange.limits import limit_groups
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Job
from saddlebench.practice.queries.studies import study_page
from saddlebench.practice.rules import may
from saddlebench.practice.services.long_work import interrupt_jobs
from saddlebench.web.base.access import access_of
from saddlebench.web.base.checks.loading import scene_of, study_of_run
from saddlebench.web.base.checks.pictures import HALT, PHONE, PUT, draw
from saddlebench.web.base.checks.request import CASES
from saddlebench.web.base.checks.running import DRAWS
from saddlebench.web.study import urls
from saddlebench.web.study.findings import MOST_WORST, FindingShown, grouped
from support.drawn import assert_looks_the_same

PICTURES = ("overview", "section", "sections", "plan", "side", "load", "findings")


def _text(client: Client, path: str, code: int = 200) -> str:
    answer = client.get(path)
    assert answer.status_code == code, path
    return answer.content.decode()


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


def _asked(checked: Checked, **more: str) -> dict[str, str]:
    return {
        "form": str(uuids.uuid4()),
        "back": checked.back_version,
        "saddle": checked.saddle_version,
        "rider_mass": "72,5",
        "pads": "as_the_saddle_is_recorded",
        "says.rocking": "not right",
        **more,
    }


# asking


def test_the_form_offers_versions_and_asks_for_the_fitters_verdict_first(
    cast: Cast, checked: Checked
) -> None:
    text = _text(cast.browser("fitter"), f"/horses/{checked.horse}/check/")
    assert (
        text.index("What did you find?") < text.index("Which back, which saddle?") < text.index("Run the fit")
    )
    assert checked.back_version in text
    assert checked.saddle_version in text
    assert "the veterinary surgeon first" in text


def test_a_visit_leads_to_its_saddle_and_a_check_to_its_versions(cast: Cast, checked: Checked) -> None:
    client = cast.browser("fitter")
    address = f"/horses/{checked.horse}/check/"
    for named in (checked.saddle, checked.saddle_version):
        answer = client.get(address, {"saddle": named, "visit": cast.here[Subject.VISIT]})
        chosen = re.findall(r'<option value="([0-9a-f-]+)" selected>', answer.content.decode())
        assert chosen == [checked.saddle_version, cast.here[Subject.VISIT]]


def test_load_cases_are_those_of_the_engine() -> None:
    assert list(CASES.values()) == [case.name for case in MORE_CASES]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"says.rocking": ""}, "your own verdict comes first"),
        ({"says.rocking": "splendid"}, "is no answer"),
        ({"rider_mass": ""}, "Rider, dressed"),
        ({"rider_mass": "1,234"}, "can be read as"),
        ({"rider_mass": "900"}, "outside 15 to 200"),
        ({"back": "no-such"}, "no back is chosen"),
        ({"saddle": ""}, "no saddle is chosen"),
        ({"pads": "another_pad"}, "Another pad: made of"),
        ({"off_centre": "300"}, "outside"),
        ({"build": "dragon"}, "is not one of the choices"),
        ({"more_cases": "gallop"}, "is not one of the choices"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_is_kept(
    cast: Cast, checked: Checked, wrong: dict[str, str], said: str
) -> None:
    sent = _asked(checked, near_stirrup="55", **wrong)
    answer = cast.browser("fitter").post(f"/horses/{checked.horse}/check/", sent)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert said in text
    assert 'value="55"' in text
    assert sent["form"] in text


def test_a_back_of_another_practice_cannot_be_chosen(cast: Cast, checked: Checked) -> None:
    theirs = record_checked(cast, "other")
    for name, value in (("back", theirs.back_version), ("saddle", theirs.saddle_version)):
        answer = cast.browser("fitter").post(
            f"/horses/{checked.horse}/check/", _asked(checked, **{name: value})
        )
        assert answer.status_code == 422


# running


def _finished(client: Client, path: str) -> str:
    """Do what waits, and return the page or the address that a run ends on."""
    do_waiting()
    answer = client.get(path)
    return str(answer["Location"]) if answer.status_code == 302 else answer.content.decode()


def test_a_check_is_run_beside_the_pages_and_recorded_once(
    cast: Cast, checked: Checked, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("saddlebench.web.base.checks.running.DRAWS", 8)
    client = cast.browser("fitter")
    sent = _asked(checked, more_cases="rising", pads="no_pad", horse_mass="520", flat_withered="yes")
    answer = client.post(f"/horses/{checked.horse}/check/", sent)
    assert answer["Location"] == reverse("job", args=[sent["form"]])
    again = client.post(f"/horses/{checked.horse}/check/", sent)
    assert again["Location"] == answer["Location"]
    assert cast.browser("other").get(answer["Location"]).status_code == 404
    page = _finished(client, answer["Location"])
    assert page == f"/checks/{sent['form']}/"
    look = client.get(f"/checks/{sent['form']}/first-look.svg")
    assert (look.status_code, look["Content-Type"]) == (200, "image/svg+xml")
    # Nothing is judged before it is known how sure that is.
    words = re.sub(r"<[^>]+>", " ", look.content.decode()).casefold()
    assert not [one for one in ("fine", "borderline", "not right", "cannot tell") if one in words]
    assert cast.browser("other").get(f"/checks/{sent['form']}/first-look.svg").status_code == 404
    # The page shows that picture, not drawn again: it looks as the one that the record gives.
    recorded = study_of_run(
        cast.actors["fitter"], study_page(cast.actors["fitter"], uuids.UUID(sent["form"]))
    )
    drawn = draw(recorded, scene_of(recorded, HALT, PUT), "overview", width=PHONE, s_mm=0.0)
    assert_looks_the_same(as_svg(drawn), look.content.decode())
    assert look.content == client.get(f"{page}runs/1/overview.svg").content
    text = _text(client, page)
    assert "Rider 72.5 kg; horse 520 kg; no pad; varied 8 times" in text
    assert "Rising, stride mean" in text
    assert re.search(
        r"<td>Rocking</td><td>not right</td><td>(fine|borderline|not right|cannot tell)</td>", text
    )
    studies = len(queries.horse_page(cast.actors["fitter"], uuids.UUID(checked.horse)).studies)
    assert studies == 3
    assert DRAWS == 256

    same = client.post(f"/checks/{sent['form']}/runs/1/again/")
    assert "The same result, byte for byte" in _finished(client, same["Location"])


def test_a_check_that_was_recorded_before_its_run_was_killed_is_not_recorded_twice(
    cast: Cast, checked: Checked, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("saddlebench.web.base.checks.running.DRAWS", 0)
    client, actor = cast.browser("fitter"), cast.actors["fitter"]
    running = client.post(f"/horses/{checked.horse}/check/", sent := _asked(checked))["Location"]
    page = _finished(client, running)
    Job.objects.filter(uuid=sent["form"]).update(state="running")
    assert interrupt_jobs() == 1
    assert "Interrupted" in _text(client, running)
    monkeypatch.setattr(
        "saddlebench.practice.services.compute_check", lambda *_all, **_more: pytest.fail("computed twice")
    )
    client.post(f"{running}again/")
    assert _finished(client, running) == page
    assert len(queries.horse_page(actor, uuids.UUID(checked.horse)).studies) == 3


def test_a_saddle_that_is_not_rigid_cannot_be_judged_and_says_so(cast: Cast, checked: Checked) -> None:
    soft = services.record_saddle(
        cast.actors["fitter"], uuids.UUID(checked.saddle), treeless(), seen=2
    ).version
    client = cast.browser("fitter")
    answer = client.post(f"/horses/{checked.horse}/check/", _asked(checked, saddle=str(soft.uuid)))
    text = _finished(client, answer["Location"])
    assert "cannot be judged" in text
    assert f"/horses/{checked.horse}/check/" in text


def test_a_run_is_stopped_and_nothing_is_recorded(cast: Cast, checked: Checked) -> None:
    client = cast.browser("fitter")
    sent = _asked(checked)
    running = client.post(f"/horses/{checked.horse}/check/", sent)["Location"]
    assert "Waiting for the one before it" in _text(client, running)
    client.post(f"{running}stop/")
    assert "Stopped, as you asked. Nothing was recorded." in _finished(client, running)
    assert client.get(f"/checks/{sent['form']}/").status_code == 404


# looking


def test_a_check_says_number_limit_whose_confidence_and_what_would_help(cast: Cast, checked: Checked) -> None:
    text = _text(cast.browser("reader"), f"/checks/{checked.study}/")
    assert text.index("overview.svg") < text.index('id="findings"')
    for said in (
        "the program’s default, common practice",
        "95 of 100 tries:",
        "tries within the measuring errors say",
        "screening aid, not a diagnosis",
        "the veterinary surgeon comes first",
        "Near (left)",
        "before the check was run",
        "16 times within the measuring errors",
    ):
        assert said in text, said
    for unsaid in ("residual", "convergence", "settle"):
        assert unsaid not in re.sub(r"<[^>]+>", " ", text).casefold()
    assert "style=" not in text
    assert "Run again" not in text


def test_findings_are_filtered_by_verdict(cast: Cast, checked: Checked) -> None:
    client = cast.browser("reader")
    whole = _text(client, f"/checks/{checked.study}/")
    table = re.findall(r'class="f-verdict">.*?verdict-([a-z-]+)', whole, re.DOTALL)
    fine = re.findall(
        r'class="f-verdict">.*?verdict-([a-z-]+)',
        _text(client, f"/checks/{checked.study}/?verdict=fine"),
        re.DOTALL,
    )
    assert set(fine) == {"fine"}
    assert len(fine) == table.count("fine") < len(table)
    order = ["not-right", "borderline", "cannot-tell", "fine"]
    assert table == sorted(table, key=order.index)


@pytest.mark.parametrize("state", ["placed", "girthed", "halt", "trot, peak", "no such state"])
def test_every_load_can_be_looked_at_where_it_is_put_and_works_to(
    cast: Cast, checked: Checked, state: str
) -> None:
    for place in ("put", "works", "elsewhere"):
        answer = cast.browser("reader").get(f"/checks/{checked.study}/", {"state": state, "place": place})
        assert answer.status_code == 200
        assert ("where it works to</summary>" in answer.content.decode()) is (place == "works")


def test_pictures_are_drawings_that_are_kept_and_asked_about(cast: Cast, checked: Checked) -> None:
    client = cast.browser("reader")
    seen = set()
    for name in PICTURES:
        path = f"/checks/{checked.study}/runs/1/{name}.svg?s=40"
        answer = client.get(path)
        assert answer.status_code == 200
        assert answer["Content-Type"] == "image/svg+xml"
        assert set(answer["Cache-Control"].split(", ")) == {"private", "no-cache"}
        assert "default-src 'none'" in answer["Content-Security-Policy"]
        text = answer.content.decode()
        assert text.startswith("<?xml")
        assert "<title" in text
        seen.add(text)
        again = client.get(path, headers={"If-None-Match": answer["ETag"]})
        assert (again.status_code, again.content) == (304, b"")
        packed = client.get(path, headers={"Accept-Encoding": "gzip"})
        assert gzip.decompress(packed.content).decode() == text
        assert "Accept-Encoding" in packed["Vary"]
    assert len(seen) == len(PICTURES)


def test_a_section_is_cut_where_it_is_asked_for(cast: Cast, checked: Checked) -> None:
    client = cast.browser("reader")
    for asked, said in (("160", "160"), ("-40", "40"), ("nonsense", "0"), ("99999", "0")):
        text = client.get(f"/checks/{checked.study}/runs/1/section.svg?s={asked}").content.decode()
        assert f"section-{'-' if asked.startswith('-') else ''}{said}" in text


@pytest.mark.parametrize(
    "path",
    [
        "runs/1/portrait.svg",
        "runs/9/plan.svg",
        "runs/9/shape.bin",
        "runs/9/report.pdf",
        "?run=9",
        "?run=nine",
        "change/?what=paint&by=3",
        "change/?what=pad&by=three",
        "change/?what=pad&by=50",
        "change/?what=width&by=1e9",
        "change/?what=width&by=nan",
        "runs/1/changed/plan.svg?what=paint&by=3",
        "beside/?run=0",
    ],
)
def test_what_there_is_not_is_refused_in_words(cast: Cast, checked: Checked, path: str) -> None:
    answer = cast.browser("reader").get(f"/checks/{checked.study}/{path}")
    assert answer.status_code in {404, 422}
    assert "The program failed" not in answer.content.decode()


def test_the_shape_comes_only_when_asked_and_is_compact(cast: Cast, checked: Checked) -> None:
    client = cast.browser("reader")
    page = _text(client, f"/checks/{checked.study}/")
    address = re.search(r'data-shape="([^"]+)"', page)
    assert address is not None
    answer = client.get(address[1].replace("&amp;", "&"), headers={"Accept-Encoding": "gzip"})
    assert answer["Content-Type"] == "application/octet-stream"
    assert len(answer.content) < 400_000
    length = int.from_bytes(gzip.decompress(answer.content)[:4], "little")
    assert 100 < length < 4000
    assert "three" not in page


@pytest.mark.parametrize(
    ("what", "by", "said"), [("pad", "5", "thicker"), ("width", "-4,5", "narrower"), ("place", "20", "back")]
)
def test_one_thing_changed_is_shown_before_and_after_and_not_recorded(
    cast: Cast, checked: Checked, what: str, by: str, said: str
) -> None:
    client = cast.browser("workshop")
    text = client.get(f"/checks/{checked.study}/change/", {"what": what, "by": by}).content.decode()
    assert re.search(rf"<h2>[^<]*mm[^<]*{said}", text)
    assert "Before" in text
    assert "changed" in text or "The same in both" in text
    before = client.get(f"/checks/{checked.study}/runs/1/changed/plan.svg").content
    after = client.get(f"/checks/{checked.study}/runs/1/changed/plan.svg", {"what": what, "by": by}).content
    assert before == client.get(f"/checks/{checked.study}/runs/1/plan.svg").content
    assert after != before
    page = queries.versions_of(cast.actors["owner"], Subject.STUDY, uuids.UUID(checked.study))
    assert len(page) == 1


def test_a_change_shows_the_saddles_own_limits_and_is_refused_beyond_them(
    cast: Cast, checked: Checked
) -> None:
    client, path = cast.browser("workshop"), f"/checks/{checked.study}/change/"
    text = _text(client, path)
    assert "15 mm less to 15 mm more. By bent steel, cold" in text
    assert "The pad next to the horse is 6 mm, at most 15 mm" in text
    for what, by, said in (
        ("width", "15,5", "beyond what the saddle&#x27;s record allows, 15 mm less to 15 mm more"),
        ("pad", "9,5", "beyond what the saddle&#x27;s record allows, 6 mm less to 9 mm more"),
    ):
        assert said in _text(client, f"{path}?what={what}&by={by}", 422)
        picture = client.get(f"/checks/{checked.study}/runs/1/changed/plan.svg", {"what": what, "by": by})
        assert picture.status_code == 422


def test_two_places_and_two_loads_are_set_side_by_side(cast: Cast, checked: Checked) -> None:
    client = cast.browser("reader")
    put = _text(client, f"/checks/{checked.study}/beside/")
    assert put.count("place=works") >= 3
    assert "Where it works to" in put
    rider = _text(client, f"/checks/{checked.study}/beside/?by=rider")
    assert "state=girthed" in rider
    assert "state=halt" in rider


@pytest.mark.parametrize("more", ["", "beside/", "change/"])
def test_a_record_that_cannot_be_read_says_so_and_leads_to_its_versions(cast: Cast, more: str) -> None:
    uuid = cast.here[Subject.STUDY]
    text = _text(cast.browser("reader"), f"/checks/{uuid}/{more}", 422)
    assert "cannot be shown" in text
    assert f"/records/study/{uuid}/versions/" in text


def test_the_tally_counts_this_practice(cast: Cast, checked: Checked) -> None:
    assert "Rocking" in _text(cast.browser("reader"), "/checks/agreement/")
    assert "No verdict was set beside" in _text(cast.browser("other"), "/checks/agreement/")


# who, how, and how much it costs


LIMIT = limit_groups()[0].slug
OF_THE_PRACTICE = {"agreement", "limits", "limits_file", "limit", "default_limit"}


def _paths(checked: Checked) -> dict[str, str]:
    filled = {
        "new": [checked.horse],
        "agreement": [],
        "limits": [],
        "limits_file": [],
        "limit": [LIMIT],
        "default_limit": [LIMIT],
        "again": [checked.study, 1],
        "report": [checked.study, 1],
        "shape": [checked.study, 1],
        "picture": [checked.study, 1, "load"],
        "change_picture": [checked.study, 1, "load"],
    }
    names = [pattern.name for pattern in urls.urlpatterns]
    return {name: reverse(f"study:{name}", args=filled.get(name, [checked.study])) for name in names}


@pytest.mark.parametrize("who", ["owner", "fitter", "workshop", "reader", "other", "nobody"])
def test_every_role_against_every_address_and_method(cast: Cast, checked: Checked, who: str) -> None:
    client = cast.browser(who)
    declared = {pattern.name: access_of(pattern.callback) for pattern in urls.urlpatterns}
    for name, path in _paths(checked).items():
        access = declared[name]
        assert access is not None
        assert access.action is not None
        for method in ("GET", "POST"):
            code = client.generic(method, path).status_code
            said = f"{method} {path} as {who}: {code}"
            if method not in access.methods:
                assert code == 405, said
            elif who == "nobody":
                assert code in {302, 401}, said
            elif who == "other":
                # What names no record is their own practice's, which they own.
                own = {200, 302, 422} if name in OF_THE_PRACTICE else {404}
                assert code in own, said
            elif not may(cast.actors[who], access.action, cast.actors[who].practice_id):
                assert code == 403, said
            elif name == "first_look":
                # Of a run under way, which there is none of here.
                assert code == 404, said
            else:
                assert code in {200, 302, 422}, said


def test_the_workshop_reads_and_does_not_run(cast: Cast, checked: Checked) -> None:
    assert not may(cast.actors["workshop"], Action.RECORD_STUDY, cast.actors["workshop"].practice_id)
    assert "Another check" not in _text(cast.browser("workshop"), f"/checks/{checked.study}/")
    assert "Another check" in _text(cast.browser("fitter"), f"/checks/{checked.study}/")


def test_twice_the_records_cost_as_many_queries(
    cast: Cast, checked: Checked, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    client = cast.browser("fitter")
    paths = (f"/checks/{checked.study}/", f"/horses/{checked.horse}/check/", "/checks/agreement/")

    def cost() -> list[int]:
        found = []
        for path in paths:
            client.get(path)
            with count_queries() as counted:
                client.get(path)
            found.append(len(counted))
        return found

    before = cost()
    for _ in range(3):
        record_checked(cast)
    assert cost() == before
    assert max(before) <= 15


def test_the_worst_few_stand_open_and_the_rest_is_folded_by_its_verdict(cast: Cast, checked: Checked) -> None:
    text = cast.browser("fitter").get(f"/checks/{checked.study}/").content.decode()
    before, *folds = text[text.index('id="findings"') :].split('<details class="fold" data-fold>')
    worst = re.findall(r'class="f-verdict">.*?(not right|borderline|cannot tell|fine)</', before, re.DOTALL)
    assert len(worst) <= MOST_WORST
    assert bool(worst) is not ("Nothing is found not right or borderline" in text)
    assert set(worst) <= {"not right", "borderline"}
    rows = [
        re.findall(r'class="f-verdict">.*?(not right|borderline|cannot tell|fine)</', one, re.DOTALL)
        for one in folds
    ]
    order = ["not right", "borderline", "cannot tell", "fine"]
    said = [*worst, *(verdict for one in rows for verdict in one)]
    assert said == sorted(said, key=order.index)
    assert len(said) == int(re.search(r'All <span class="count">(\d+)', text)[1])  # type: ignore[index]
    for name in ("section", "above", "side", "load", "made-of", "doubt", "report"):
        assert f'id="{name}"' in text
    # Nothing hides behind a script: what is folded is an element that every browser opens.
    assert text.count("<details") == text.count("<summary")


def test_findings_in_groups() -> None:
    def one(verdict: str) -> FindingShown:
        empty = dict.fromkeys(
            ("name", "title", "number", "limits", "whose", "sure", "interval", "remark"), ""
        )
        return FindingShown(verdict=verdict, details=(), **empty)

    calm = grouped([one("cannot tell"), one("fine"), one("fine")])
    assert [(each.verdict, each.summary) for each in calm] == [
        ("cannot tell", "1 finding"),
        ("fine", "2 findings"),
    ]
    bad = grouped([*(one("not right") for _ in range(4)), *(one("borderline") for _ in range(3))])
    assert [(each.summary, len(each.findings)) for each in bad] == [("", 5), ("2 more that are not fine", 2)]
    assert grouped([]) == ()
