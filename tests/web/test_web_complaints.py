"""What users of such programs complain about elsewhere, where no other test holds it: numbers, and hours."""

import datetime as dt
import re
import uuid as uuids
from pathlib import Path

import icalendar
import pytest
from web_cast import Cast

import saddlebench.web
from saddlebench.practice import crossing, queries, services
from saddlebench.practice.enums import Purpose, Subject, VisitState

TEMPLATES = sorted(Path(saddlebench.web.__file__).parent.rglob("*.html"))
_INPUT = re.compile(r"<input[^>]*>")


def test_no_field_lets_the_browsers_language_decide_what_a_number_is() -> None:
    assert len(TEMPLATES) > 60
    wrong = [
        str(one) for one in TEMPLATES if re.search(r"""type=["']?number""", one.read_text(encoding="utf-8"))
    ]
    assert wrong == []


def test_numbers_are_typed_as_text_on_a_keyboard_of_digits_and_come_back_with_their_unit(cast: Cast) -> None:
    fitter, horse = cast.browser("fitter"), cast.here[Subject.HORSE]
    text = fitter.get(f"/horses/{horse}/edit/").content.decode()
    (field,) = [one for one in _INPUT.findall(text) if 'name="rider_mass_kg"' in one]
    assert 'inputmode="decimal"' in field
    assert 'type="text"' in field or "type=" not in field
    for typed, shown in (("70,5", "70.5"), ("71.25", "71.25")):
        seen = queries.horse_page(cast.actors["fitter"], uuids.UUID(horse)).revision
        posted = {
            "rider_mass_kg": typed,
            "rider_mass_kg.seen": str(seen),
            "rider_mass_kg.key": str(uuids.uuid4()),
        }
        said = fitter.post(f"/records/horse/{horse}/field/", posted).content.decode()
        assert "saved at" in said
        assert f'value="{shown}"' in said
        page = fitter.get(f"/horses/{horse}/").content.decode().replace("\xa0", " ")
        assert f"{shown} kg" in page
    ambiguous = {"rider_mass_kg": "1,234", "rider_mass_kg.seen": "9", "rider_mass_kg.key": str(uuids.uuid4())}
    asked = fitter.post(f"/records/horse/{horse}/field/", ambiguous)
    assert "can be read as 1234 or as 1.234" in asked.content.decode()
    assert queries.horse_page(cast.actors["fitter"], uuids.UUID(horse)).values["rider_mass_kg"] == 71.25


@pytest.mark.parametrize(
    ("day", "hour", "at_utc"),
    [
        (dt.date(2026, 3, 29), "01:30", "01:30"),  # The hour that is left out when summer time begins.
        (dt.date(2026, 10, 25), "01:30", "00:30"),  # The hour that comes twice when it ends: the first.
        (dt.date(2026, 7, 1), "01:30", "00:30"),
    ],
    ids=["left out", "twice", "summer"],
)
def test_an_hour_of_the_clocks_change_is_taken_and_shown_as_it_was_written(
    cast: Cast, day: dt.date, hour: str, at_utc: str
) -> None:
    visit = services.start_visit(
        cast.actors["fitter"],
        on=day,
        purpose=Purpose.RECHECK,
        horse=uuids.UUID(cast.here[Subject.HORSE]),
        starts_at=hour,
        zone="Europe/London",
        state=VisitState.PLANNED,
    )
    fitter = cast.browser("fitter")
    page = fitter.get(f"/visits/{visit.uuid}/", follow=True).content.decode()
    assert f"{day.day} {day:%b}" in page or day.isoformat() in page
    (entry,) = [
        one for one in queries.diary(cast.actors["fitter"], day, day).entries if one.uuid == visit.uuid
    ]
    assert (entry.day, f"{entry.starts_at:%H:%M}") == (day, hour)
    text = crossing.diary_calendar(cast.actors["fitter"], day, day)
    events = {str(one["UID"]): one for one in icalendar.Calendar.from_ical(text).walk("VEVENT")}
    event = events[f"{visit.uuid}@saddlebench"]
    assert f"{event['DTSTART'].dt.astimezone(dt.UTC):%H:%M}" == at_utc
