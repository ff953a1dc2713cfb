# ruff: noqa: ARG005 - every page is called the same way
"""Twice the rows, the same number of database queries; and what the pages show."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from practice_cast import Cast, key
from practice_invented import BACK, SADDLE, STUDY, Invented, invented_yard

from saddlebench.practice import crossing, queries, services
from saddlebench.practice.enums import Purpose, RecheckReason, Subject, VisitState
from saddlebench.practice.keeping.files import StoredFile
from saddlebench.practice.services import Entered, PhotoFacts
from saddlebench.practice.services.visits import give_advice

DAY = date(2026, 3, 1)


def _grow(cast: Cast, yard: Invented, count: int) -> None:
    """Add to everything that a page may show."""
    for number in range(count):
        client = services.take_on_client(cast.fitter, {"label": f"Client {number}"})
        services.take_on_horse(cast.fitter, {"label": f"Horse {number}", "client": str(client.uuid)})
        services.take_on_horse(cast.fitter, {"label": f"Second {number}", "client": str(yard.client.uuid)})
        saddle = services.take_on_saddle(cast.fitter, {"label": f"Saddle {number}"})
        services.use_saddle_on(cast.fitter, saddle.uuid, [yard.horse.uuid])
        visit = services.start_visit(
            cast.fitter, on=DAY + timedelta(days=number), purpose=Purpose.TRIAL, horse=yard.horse.uuid
        )
        services.try_saddle(cast.fitter, yard.visit.uuid, saddle.uuid)
        back = services.record_back(
            cast.fitter, yard.horse.uuid, BACK, measured_on=DAY, visit_uuid=visit.uuid
        ).version
        services.correct_back(cast.fitter, back.back.uuid, BACK, why="", seen=1)
        measured = services.record_saddle(cast.fitter, saddle.uuid, SADDLE).version
        services.record_study(
            cast.fitter, STUDY, back_version=back.uuid, saddle_version=measured.uuid, visit_uuid=visit.uuid
        )
        services.set_recheck(cast.fitter, yard.horse.uuid, visit_uuid=visit.uuid)
        services.attach_photo(
            cast.fitter,
            StoredFile(sha256="0" * 64, media_type="image/jpeg", size_bytes=1),
            PhotoFacts(original_sha256="0" * 64),
            visit=visit.uuid,
        )
        services.give_advice(cast.fitter, yard.visit.uuid, f"Advice {number}")


PAGES: dict[str, Callable[[Cast, Invented], object]] = {
    "find_horses": lambda c, y: queries.find_horses(c.fitter, "e"),
    "horse_page": lambda c, y: queries.horse_page(c.fitter, y.horse.uuid),
    "visit_page": lambda c, y: queries.visit_page(c.fitter, y.visit.uuid),
    "timeline": lambda c, y: queries.timeline(c.fitter, y.horse.uuid),
    "diary": lambda c, y: queries.diary(c.fitter, DAY, DAY + timedelta(days=365)),
    "calendar": lambda c, y: crossing.diary_calendar(c.fitter, DAY, DAY + timedelta(days=365)),
    "find_clients": lambda c, y: queries.find_clients(c.fitter),
    "client_page": lambda c, y: queries.client_page(c.fitter, y.client.uuid),
    "find_saddles": lambda c, y: queries.find_saddles(c.fitter),
    "saddle_page": lambda c, y: queries.saddle_page(c.fitter, y.saddle.uuid),
    "versions_of": lambda c, y: queries.versions_of(c.fitter, Subject.BACK, y.horse.backs.all()[0].uuid),
    "study_use": lambda c, y: queries.study_use(c.fitter, y.horse.studies.all()[0].uuid),
    "entries_of": lambda c, y: queries.entries_of(c.fitter, y.horse.uuid),
    "members": lambda c, y: queries.members(c.owner),
}


def test_twice_the_rows_same_number_of_queries(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    counts: list[dict[str, int]] = []
    for _ in range(2):
        _grow(cast, yard, 3)
        counts.append({})
        for name, page in PAGES.items():
            with CaptureQueriesContext(connection) as captured:
                page(cast, yard)
            counts[-1][name] = len(captured)
    assert counts[0] == counts[1]
    assert max(counts[0].values()) <= 15


def test_a_visits_page_shows_values_authors_and_what_is_held(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    for actor, value in ((cast.owner, "Rubs"), (cast.fitter, "Slips")):
        services.enter(
            actor, Subject.VISIT, yard.visit.uuid, [Entered(field="reason", value=value, key=key(), seen=0)]
        )
    shown = queries.visit_page(cast.fitter, yard.visit.uuid).answers["reason"]
    assert (shown.value, shown.entered_by, shown.revision) == ("Rubs", "Orla Invented", 1)
    assert [(held.value, held.by) for held in shown.held] == [("Slips", "Fitter Invented")]
    services.enter(
        cast.fitter,
        Subject.VISIT,
        yard.visit.uuid,
        [Entered(field="reason", value="Rubs and slips", key=key(), seen=1)],
    )
    settled = queries.visit_page(cast.fitter, yard.visit.uuid).answers["reason"]
    assert (settled.value, settled.held) == ("Rubs and slips", ())


def test_a_visits_page_estimates_weight_and_what_is_carried(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    values = {"heart_girth_cm": 180, "body_length_cm": 160, "rider_mass_kg": 70, "tack_mass_kg": 9}
    services.enter(
        cast.fitter,
        Subject.VISIT,
        yard.visit.uuid,
        [Entered(field=name, value=value, key=key(), seen=0) for name, value in values.items()],
    )
    page = queries.visit_page(cast.fitter, yard.visit.uuid)
    assert page.weight is not None
    assert page.weight.mass_kg == pytest.approx(435.6, abs=0.05)  # the printed digit of the worked example
    assert page.carried == pytest.approx(79 / 435.63, rel=1e-4)  # the weight above, to its printed digits
    services.enter(
        cast.fitter,
        Subject.VISIT,
        yard.visit.uuid,
        [Entered(field="weighed_kg", value="500", key=key(), seen=9)],
    )
    weighed = queries.visit_page(cast.fitter, yard.visit.uuid)
    assert (weighed.weight, weighed.carried) == (None, 79 / 500)


def test_the_diary_holds_visits_at_their_own_hour_and_rechecks_until_answered(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    services.start_visit(
        cast.fitter,
        on=date(2026, 4, 10),
        purpose=Purpose.DELIVERY,
        horse=yard.horse.uuid,
        starts_at="09:30",
        zone="America/New_York",
        state=VisitState.PLANNED,
    )
    recheck = services.set_recheck(
        cast.fitter, yard.horse.uuid, visit_uuid=yard.visit.uuid, reasons=[RecheckReason.YOUNG]
    )
    shown = queries.diary(cast.fitter, date(2026, 4, 1), date(2026, 4, 30))
    assert [(e.is_recheck, e.day, e.horse, e.client) for e in shown.entries] == [
        (False, date(2026, 4, 10), "Juniper", "Wilma Fernlea"),
        (True, date(2026, 4, 26), "Juniper", "Wilma Fernlea"),
    ]
    hour = shown.entries[0].starts_at
    assert hour == datetime(2026, 4, 10, 13, 30, tzinfo=ZoneInfo("UTC"))
    later = queries.diary(cast.fitter, date(2026, 6, 1), date(2026, 6, 30))
    assert [entry.uuid for entry in later.overdue] == [recheck.uuid]
    services.answer_recheck(cast.fitter, recheck.uuid, yard.visit.uuid)
    assert queries.diary(cast.fitter, date(2026, 6, 1), date(2026, 6, 30)).overdue == ()


def test_the_timeline_tells_everything_newest_first(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=date(2025, 12, 24)).version
    saddle = services.record_saddle(cast.workshop, yard.saddle.uuid, SADDLE).version
    services.record_study(
        cast.fitter,
        STUDY,
        back_version=back.uuid,
        saddle_version=saddle.uuid,
        visit_uuid=yard.visit.uuid,
    )
    told = queries.timeline(cast.reader, yard.horse.uuid)
    assert sorted(((e.subject.value, e.number, e.by) for e in told.events), key=str) == [
        ("back", 1, "Fitter Invented"),
        ("saddle", 1, "Workshop Invented"),
        ("study", 1, "Fitter Invented"),
        ("visit", None, "Fitter Invented"),
    ]
    days = [event.day for event in told.events]
    assert days == sorted(days, reverse=True)
    assert next(e.day for e in told.events if e.subject is Subject.BACK) == date(2025, 12, 24)
    assert next(e.day for e in told.events if e.subject is Subject.STUDY) == yard.visit.date


def test_advice_is_in_the_timeline_for_those_who_may_see_people(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    give_advice(cast.fitter, yard.visit.uuid, "Leave it two weeks.")
    give_advice(cast.fitter, yard.visit.uuid, "A wider tree.", declined=True, declined_by="Wilma")
    told = [e for e in queries.timeline(cast.reader, yard.horse.uuid).events if e.words]
    assert sorted((e.words, e.label, e.detail, e.uuid, e.day) for e in told) == [
        ("Advice declined", "A wider tree.", "declined by Wilma", yard.visit.uuid, yard.visit.date),
        ("Advice given", "Leave it two weeks.", "", yard.visit.uuid, yard.visit.date),
    ]
    assert not [e for e in queries.timeline(cast.workshop, yard.horse.uuid).events if e.words]


def test_who_entered_what_when(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    services.enter(
        cast.owner, Subject.HORSE, yard.horse.uuid, [Entered(field="work", value="hard", key=key(), seen=0)]
    )
    newest = queries.entries_of(cast.fitter, yard.horse.uuid)[0]
    assert (newest.by, newest.field, newest.before, newest.value) == ("Orla Invented", "work", None, "hard")
    assert {row.field for row in queries.entries_of(cast.fitter, yard.horse.uuid, field="label")} == {"label"}
