"""Strict headers on every answer, errors in words on pages of our own, and no script or style in any page."""

import re
from html.parser import HTMLParser

import pytest
from django.conf import settings
from django.test import Client, RequestFactory
from web_cast import Cast

from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.rules import NotAllowedError
from saddlebench.web.base import errors
from saddlebench.web.base.middleware import HEADERS

HTMX = {"HX-Request": "true"}


class Inline(HTMLParser):
    """Collects what the content policy would refuse, and labels that lead nowhere."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.ids: list[str] = []
        self.unlabelled: list[str] = []
        self.labels: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.found += [f"{tag} {name}" for name in given if name == "style" or name.startswith("on")]
        if tag == "style" or (tag == "script" and "src" not in given):
            self.found.append(tag)
        if given.get("href", "").startswith("javascript:"):
            self.found.append("javascript:")
        if "id" in given:
            self.ids.append(str(given["id"]))
        if tag == "label" and given.get("for"):
            self.labels.add(str(given["for"]))


def pages(cast: Cast) -> list[str]:
    here = cast.here
    return [
        *("/", "/diary/", "/horses/", "/people/", "/yards/", "/saddles/", "/withdrawn/", "/erasures/"),
        *("/crossing/", "/account/", "/practice/", "/practice/members/", "/nowhere/"),
        *("/horses/new/", "/people/new/", "/yards/new/", "/saddles/new/"),
        *(f"/horses/{here[Subject.HORSE]}/{rest}" for rest in ("", "edit/", "timeline/")),
        *(f"/people/{here[Subject.CLIENT]}/{rest}" for rest in ("", "edit/", "erase/")),
        *(f"/yards/{here[Subject.YARD]}/{rest}" for rest in ("", "edit/")),
        *(f"/saddles/{here[Subject.SADDLE]}/{rest}" for rest in ("", "edit/", "?horse=jun")),
        f"/records/study/{here[Subject.STUDY]}/versions/",
        f"/records/horse/{here[Subject.HORSE]}/entries/",
    ]


def test_no_page_has_a_script_or_a_style_in_it(cast: Cast) -> None:
    client = cast.browser("owner")
    for path in pages(cast):
        parsed = Inline()
        parsed.feed(client.get(path).content.decode())
        assert parsed.found == [], path
        assert sorted(set(parsed.ids)) == sorted(parsed.ids), path
        assert parsed.labels <= set(parsed.ids), path


def test_every_answer_has_the_headers(cast: Cast) -> None:
    client = cast.browser("owner")
    for path in ("/", "/nowhere/", "/health/", "/sign-in/", "/diary/diary.ics", "/horses/x/"):
        answer = client.get(path)
        policy = answer["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        for name, value in HEADERS.items():
            assert answer[name] == value, f"{path} {name}"
        assert "private" in answer["Cache-Control"]


def test_health_answers_anybody_and_says_nothing_of_people(cast: Cast) -> None:
    answer = Client().get("/health/")
    assert answer.json()["records"] == "answer"
    assert set(answer.json()) == {"saddlebench", "records"}


def test_an_address_that_leads_nowhere_is_worded(cast: Cast) -> None:
    for client in (cast.browser("owner"), Client()):
        answer = client.get("/nowhere/")
        assert answer.status_code == 404
        assert "There is nothing at this address" in answer.content.decode()


def test_a_record_that_is_not_there_is_worded(cast: Cast) -> None:
    answer = cast.browser("owner").get("/horses/00000000-0000-4000-8000-000000000000/")
    assert answer.status_code == 404
    assert "It may have been withdrawn" in answer.content.decode()


def test_what_a_role_may_not_do_is_worded(cast: Cast) -> None:
    answer = cast.browser("reader").get("/horses/new/")
    text = answer.content.decode()
    assert answer.status_code == 403
    assert "“Edit horses” is not open to: Reader" in text
    assert "Ask the practice&#x27;s owner." in text or "Ask the practice's owner." in text


def test_a_form_from_elsewhere_is_refused_in_words_and_changes_nothing(cast: Cast) -> None:
    client = cast.browser("owner", checks_forms=True)
    answer = client.post("/people/new/", {"label": "Forged"})
    assert answer.status_code == 403
    assert "The page was too old" in answer.content.decode()
    assert "Forged" not in cast.browser("owner").get("/people/").content.decode()


def test_a_form_with_its_token_is_taken(cast: Cast) -> None:
    client = cast.browser("owner", checks_forms=True)
    form = client.get("/people/new/").content.decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', form)
    assert token
    assert client.post("/people/new/", {"label": "Meant", "csrfmiddlewaretoken": token[1]}).status_code == 302


def test_too_much_at_once_is_refused_in_words(cast: Cast) -> None:
    answer = cast.browser("owner").post("/people/new/", {"label": "x", "note": "y" * (5 << 20)})
    assert answer.status_code == 413
    assert "larger than is taken at once" in answer.content.decode()
    many = {f"f{i}": "1" for i in range(settings.DATA_UPLOAD_MAX_NUMBER_FIELDS + 1)}
    assert cast.browser("owner").post("/people/new/", many).status_code == 413


@pytest.mark.parametrize(
    "path", ["/horses/?page=-1", "/horses/?page=99999999999999", "/horses/?q=%00", "/horses/?q=" + "ü" * 900]
)
def test_odd_questions_are_answered(cast: Cast, path: str) -> None:
    assert cast.browser("owner").get(path).status_code == 200


@pytest.mark.parametrize(
    "path", ["/horses/%ff%fe/", "/records/nothing/{}/entries/", "/records/user/{}/withdraw/"]
)
def test_odd_addresses_are_not_there(cast: Cast, path: str) -> None:
    assert cast.browser("owner").post(path.format(cast.here[Subject.HORSE])).status_code in {404, 405}


def test_part_of_a_page_gets_part_of_an_error(cast: Cast) -> None:
    answer = cast.browser("owner").get("/nowhere/", headers=HTMX)
    assert answer["HX-Retarget"] == "#said"
    assert "<html" not in answer.content.decode()


def test_a_fault_is_worded_without_asking_the_records(
    cast: Cast, count_queries: object, caplog: pytest.LogCaptureFixture
) -> None:
    request = RequestFactory().get("/horses/")
    with count_queries() as counted:  # type: ignore[operator]
        answer = errors.failed(request)
    text = answer.content.decode()
    assert len(counted) == 0
    assert answer.status_code == 500
    number = re.search(r"Number of this fault: ([0-9a-f]{8})", text)
    assert number
    assert number[1] in caplog.text
    assert "Traceback" not in text


def test_a_fault_in_a_view_reaches_that_page(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    client = cast.browser("owner")
    client.raise_request_exception = False
    monkeypatch.setattr("saddlebench.web.home.views.recent_work", lambda _actor: 1 / 0)
    answer = client.get("/")
    assert answer.status_code == 500
    assert "The program failed" in answer.content.decode()
    assert "ZeroDivisionError" not in answer.content.decode()


def test_every_action_has_words_for_the_refusal(cast: Cast) -> None:
    for action in Action:
        answer = errors.forbidden(RequestFactory().get("/"), NotAllowedError(action, cast.actors["reader"]))
        assert action.value not in answer.content.decode() or "_" not in action.value
