"""Carrying in and out, and the diary for other calendars."""

import csv
import io
from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.utils import timezone
from icalendar import Calendar
from web_cast import PASSWORD, Cast

from saddlebench.practice import services
from saddlebench.practice.enums import Purpose, Subject, VisitState
from saddlebench.practice.services.passwords import change_password
from saddlebench.web.records import crossing


def send(cast: Cast, what: str, content: bytes, name: str = "file.csv", who: str = "fitter") -> object:
    given = {"what": what, "file": SimpleUploadedFile(name, content)}
    return cast.browser(who).post("/crossing/import/", given, follow=True)


def test_people_go_out_and_come_back_as_a_table(cast: Cast) -> None:
    answer = cast.browser("fitter").post("/crossing/people.csv")
    assert answer["Content-Disposition"] == 'attachment; filename="people.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert len(rows) == 1
    assert "Wilma Fernlea" in rows[0].values()
    again = send(cast, "people", answer.content)
    assert "0 taken on, 1 were here already." in again.content.decode()


def test_horses_go_out_as_a_table_with_their_people(cast: Cast) -> None:
    text = cast.browser("fitter").post("/crossing/horses.csv").content.decode("utf-8-sig")
    assert "Juniper" in text
    assert "Wilma Fernlea" in text


def test_people_go_out_as_cards_and_come_into_another_practice(cast: Cast) -> None:
    cards = cast.browser("fitter").post("/crossing/people.vcf")
    assert cards["Content-Type"].startswith("text/vcard")
    taken = cards.content.replace(cast.here[Subject.CLIENT].encode(), b"")
    answer = cast.browser("other").post(
        "/crossing/import/", {"what": "cards", "file": SimpleUploadedFile("p.vcf", taken)}, follow=True
    )
    assert "1 taken on" in answer.content.decode()
    assert "Wilma Fernlea" in cast.browser("other").get("/people/").content.decode()


def test_giving_out_is_no_link_that_a_page_elsewhere_could_plant(cast: Cast) -> None:
    assert cast.browser("fitter").get("/crossing/people.csv").status_code == 405


def test_a_bad_table_is_refused_whole_with_every_problem_by_row(cast: Cast) -> None:
    table = "label,email\nGood One,good@place.example\n,bad\nWorse,also bad\n"
    answer = send(cast, "people", table.encode())
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "row 3" in text
    assert "row 4" in text
    assert "Good One" not in cast.browser("fitter").get("/people/").content.decode()


@pytest.mark.parametrize(
    ("what", "content"),
    [("people", b"\xff\xfe\x00"), ("cards", b"\x89PNG\r\n"), ("horses", b""), ("nothing", b"label\nx\n")],
)
def test_what_is_no_table_is_refused_in_words(cast: Cast, what: str, content: bytes) -> None:
    answer = send(cast, what, content)
    assert answer.status_code == 422
    assert "Nothing was taken in" in answer.content.decode()


def test_a_file_too_large_is_refused_unread(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crossing, "LARGEST_BYTES", 10)
    answer = send(cast, "people", b"label\nsomebody\n")
    assert answer.status_code == 422
    assert "larger than 20 MB" in answer.content.decode()


def test_no_file_at_all_is_refused_in_words(cast: Cast) -> None:
    assert cast.browser("fitter").post("/crossing/import/", {"what": "people"}).status_code == 422


class TestDiary:
    """Today, the weeks ahead, and the feed."""

    @pytest.fixture(autouse=True)
    def _planned(self, cast: Cast) -> None:
        actor, horse = cast.actors["owner"], cast.here[Subject.HORSE]
        day = timezone.localdate()
        with timezone.override("Europe/London"):
            day = timezone.localdate()
        services.start_visit(
            actor, on=day, purpose=Purpose.TRIAL, horse=horse, starts_at="09:30", state=VisitState.PLANNED
        )
        services.set_recheck(actor, horse, on=day + timedelta(days=3))

    def test_the_day_shows_visits_rechecks_and_work(self, cast: Cast) -> None:
        text = cast.browser("fitter").get("/").content.decode()
        assert "Saddles on trial" in text
        assert "09:30" in text
        assert "Overdue" in text or "due by" in text
        assert "Fit check" in text
        # A server's keeper backs it up; a database file is ours to keep.
        assert ("No backup yet" in text) is (connection.vendor == "sqlite")

    def test_a_reader_is_not_told_of_backups(self, cast: Cast) -> None:
        assert "backup" not in cast.browser("reader").get("/").content.decode()

    def feed(self, cast: Cast, who: str) -> str:
        text = cast.browser(who).get("/diary/").content.decode()
        return urlsplit(text.split("<code>")[1].split("</code>")[0]).path

    def test_the_feed_needs_no_sign_in_and_follows_the_diary(self, cast: Cast) -> None:
        path = self.feed(cast, "fitter")
        answer = Client().get(path)
        assert answer["Content-Type"] == "text/calendar; charset=utf-8"
        events = Calendar.from_ical(answer.content).walk("VEVENT")
        assert any("Juniper: Saddles on trial" in str(event["summary"]) for event in events)
        assert Client().get(path.replace("/diary/feed/", "/diary/feed/x")).status_code == 404

    def test_the_workshops_feed_names_no_people(self, cast: Cast) -> None:
        content = Client().get(self.feed(cast, "workshop")).content.decode()
        assert "Juniper" in content
        assert "Wilma" not in content

    def test_the_feed_ends_with_the_password(self, cast: Cast) -> None:
        path = self.feed(cast, "fitter")
        change_password(cast.actors["fitter"], PASSWORD, "another-invented-phrase")
        assert Client().get(path).status_code == 404

    def test_the_feed_ends_with_the_membership(self, cast: Cast) -> None:
        path = self.feed(cast, "reader")
        assert Client().get(path).status_code == 200
        services.end_membership(cast.actors["owner"], cast.here.member)
        assert Client().get(path).status_code == 404

    def test_the_file_is_the_same_diary(self, cast: Cast) -> None:
        answer = cast.browser("reader").get("/diary/diary.ics")
        assert answer["Content-Disposition"] == 'attachment; filename="diary.ics"'
        assert b"Juniper" in answer.content
