"""People and horses out and in again; the diary as a calendar; everything when leaving."""

import csv
import io
import json
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import icalendar
import pytest
import vobject
from django.apps import apps
from hypothesis import given
from hypothesis import strategies as st
from practice_cast import Cast, key
from practice_invented import BACK, CHIP, SADDLE, STUDY, invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import crossing, services
from saddlebench.practice.catalogue import CLIENT_FIELDS
from saddlebench.practice.crossing.cards import card_of, read_cards
from saddlebench.practice.crossing.leaving import TABLES
from saddlebench.practice.crossing.tables import LARGEST_BYTES, read_table, write_table
from saddlebench.practice.enums import Purpose, RecheckReason, Subject, VisitState
from saddlebench.practice.keeping.archive import verify
from saddlebench.practice.keeping.files import store
from saddlebench.practice.models import Client, Horse, OpenErasure, Yard
from saddlebench.practice.services import Entered

COLUMNS = {"label": "Name", "phone": "Telephone", "note": "Note"}


def test_people_and_horses_go_to_another_practice_and_are_the_same_there(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    # A record's own number stays with its practice; elsewhere it is a new record.
    people = crossing.export_people(cast.fitter).replace(str(yard.client.uuid), "")
    horses = crossing.export_horses(cast.fitter).replace(str(yard.horse.uuid), "")
    assert crossing.import_people(cast.other, people.encode()).taken_on == 1
    done = crossing.import_horses(cast.other, horses.encode())
    assert (done.taken_on, done.yards_made) == (1, 1)
    there = Horse.objects.get(practice=cast.other_practice)
    assert (there.label, there.microchip, there.height_cm) == ("Juniper", CHIP, 157.5)
    assert there.client is not None
    assert (there.client.label, there.client.phone) == ("Wilma Fernlea", "+44 1632 960123")
    assert there.yard is not None
    assert there.yard.label == "Hollow Ash Livery"


def test_bringing_the_same_file_twice_changes_nothing(cast: Cast) -> None:
    invented_yard(cast.fitter)
    for export, bring, model in (
        (crossing.export_people, crossing.import_people, Client),
        (crossing.export_horses, crossing.import_horses, Horse),
    ):
        before = model.objects.count()
        done = bring(cast.fitter, export(cast.fitter).encode())
        assert (done.taken_on, done.already_here, model.objects.count()) == (0, 1, before)
    plain = b"label;email\nHedda Quist;hedda@quist.example\n"
    assert crossing.import_people(cast.fitter, plain).taken_on == 1
    assert crossing.import_people(cast.fitter, plain).already_here == 1


def test_a_fitters_own_table_in_any_order_with_semicolons_and_words(cast: Cast) -> None:
    table = (
        "Yard;Microchip number;Name;Height;Year of birth\n"
        "Hollow Ash;985 000 123 456 789;Ash;15.2 hh;2014\n"
        "\n"
        ";;Bo;;\n"
    )
    done = crossing.import_horses(cast.fitter, b"\xef\xbb\xbf" + table.encode())
    assert (done.taken_on, done.yards_made) == (2, 1)
    ash = Horse.objects.get(label="Ash")
    assert (ash.microchip, ash.height_cm, ash.born_in) == (CHIP, 157.5, 2014)


def test_every_problem_of_a_table_is_told_by_row_and_field_and_nothing_is_taken_on(cast: Cast) -> None:
    services.take_on_client(cast.fitter, {"label": "Same Name", "phone": "1"})
    services.take_on_client(cast.fitter, {"label": "Same Name", "phone": "2"})
    table = (
        "label,microchip,born_in,client,uuid\n"
        f"Ash,{CHIP},2014,,\n"
        ",12,soon,Nobody,\n"
        f"Copy,{CHIP},,,\n"
        "Bo,,,Same Name,\n"
        "Cy,,,,not-a-number\n"
    )
    with pytest.raises(InputProblemsError) as caught:
        crossing.import_horses(cast.fitter, table.encode(), "horses.csv")
    places = {(p.where.file, p.where.row, p.where.field) for p in caught.value.problems}
    assert places == {
        ("horses.csv", 3, "Name"),
        ("horses.csv", 3, "Microchip number"),
        ("horses.csv", 3, "Year of birth"),
        ("horses.csv", 3, "client"),
        ("horses.csv", 4, "Microchip number"),
        ("horses.csv", 5, "client"),
        ("horses.csv", 6, "uuid"),
    }
    assert not Horse.objects.exists()
    assert not Yard.objects.exists()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02", "no text"),
        (b"\xff\xfe", "UTF-8"),
        (b"Name\nAnn\xe9\n", "UTF-8 in line 2"),
        (b"Name,Hat\nAnn,red\n", "not the name of a column"),
        (b"Name,label\nAnn,Ann\n", "twice"),
        (b"Name,Note\nAnn,red,green\n", "3 cells"),
        (b'Name\n"Ann\n', "no table"),
        (b"Name\n" + b"A\n" * 5_001, "more than 5000 rows"),
        (b"x" * (LARGEST_BYTES + 1), "larger"),
    ],
)
def test_what_is_no_such_table_is_refused_in_a_sentence(content: bytes, said: str) -> None:
    with pytest.raises(InputProblemsError, match=said):
        read_table(content, COLUMNS, "people.csv")


@given(st.binary(max_size=200))
def test_any_bytes_are_rows_or_problems(content: bytes) -> None:
    rows: list[object] = []
    try:
        rows += read_table(content, COLUMNS, "people.csv")
    except InputProblemsError as error:
        rows += error.problems
    assert all(hasattr(row, "cells") for row in rows) or all(hasattr(row, "cure") for row in rows)


_cells = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=30).map(str.strip)


@given(
    st.lists(
        st.fixed_dictionaries({"label": _cells.filter(bool), "phone": _cells, "note": _cells}), max_size=5
    )
)
def test_what_is_written_is_read_back(rows: list[dict[str, str]]) -> None:
    text = write_table(list(COLUMNS), rows)
    assert [row.cells for row in read_table(text.encode(), COLUMNS, "x")] == rows


@pytest.mark.parametrize("text", ["=1+2", "+cmd", "-2+3", "@SUM(A1)", "'=1+2"])
def test_a_text_is_never_a_formula_in_a_spreadsheet(text: str) -> None:
    (cell,) = list(csv.reader(io.StringIO(write_table(["label"], [{"label": text}]))))[1]
    assert cell[0] == "'"
    assert write_table(["phone"], [{"phone": "+44 1632 960123"}]).splitlines()[1] == "+44 1632 960123"


def _client(cast: Cast) -> Client:
    return services.take_on_client(
        cast.fitter,
        {
            "label": "Wilma Ångström, Fernlea; the younger",
            "organisation": "Ash; Oak, and Sons",
            "email": "wilma@fernlea.example",
            "phone": "+44 1632 960123",
            "phone_2": "01632 960124",
            "street": "12 High Street; top bell",
            "town": "Dunmoor",
            "postcode": "ZZ9 9ZZ",
            "country": "United Kingdom",
            "note": "Dogs loose.\nRing first, backslash \\ and so on; " + "long " * 40,
        },
    )


def test_a_card_is_read_the_same_by_another_library(cast: Cast) -> None:
    client = _client(cast)
    text = crossing.export_cards(cast.fitter)
    # RFC 6350, 3.2: lines end with CRLF and are folded at 75 octets.
    assert text.endswith("END:VCARD\r\n")
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    card = vobject.readOne(text)
    assert (card.version.value, card.fn.value) == ("4.0", client.label)
    assert card.email.value == "wilma@fernlea.example"
    assert [number.value for number in card.tel_list] == ["+44 1632 960123", "01632 960124"]
    assert (card.adr.value.street, card.adr.value.city) == ("12 High Street; top bell", "Dunmoor")
    assert card.org.value == ["Ash; Oak, and Sons"]
    assert card.note.value == client.note


def test_cards_come_back_as_they_went(cast: Cast) -> None:
    client = _client(cast)
    text = crossing.export_cards(cast.fitter)
    ((uuid, values),) = read_cards(text.encode())
    assert uuid == client.uuid
    kept = {name: getattr(client, name) for name in CLIENT_FIELDS if getattr(client, name)}
    assert values == kept
    assert crossing.import_cards(cast.fitter, text.encode()).already_here == 1


def test_a_phones_own_card_is_taken_on(cast: Cast) -> None:
    card = (
        "BEGIN:VCARD\r\nVERSION:3.0\r\nN:Quist;Hedda;;;\r\nFN:Hedda Quist\r\n"
        "item1.TEL;type=CELL;type=pref:+46 70 174 06 05\r\nitem1.X-ABLabel:mobile\r\n"
        "EMAIL;type=INTERNET:hedda@quist.example\r\nPHOTO;ENCODING=b;TYPE=JPEG:AAAA\r\n BBBB\r\nEND:VCARD\r\n"
    )
    assert crossing.import_cards(cast.fitter, card.encode()).taken_on == 1
    hedda = Client.objects.get(label="Hedda Quist")
    assert (hedda.phone, hedda.email) == ("+46 70 174 06 05", "hedda@quist.example")


@pytest.mark.parametrize(
    "content", [b"", b"hello", b"BEGIN:VCARD\r\nFN:x\r\n", b"\xff\xfe\x00", b"FN:x\r\nEND:VCARD\r\n"]
)
def test_what_is_no_file_of_cards_is_refused(content: bytes) -> None:
    with pytest.raises(InputProblemsError):
        read_cards(content)


@given(st.text(max_size=120))
def test_any_text_is_cards_or_a_sentence(text: str) -> None:
    found: list[object] = []
    try:
        found += read_cards(f"BEGIN:VCARD\r\n{text}\r\nEND:VCARD\r\n".encode("utf-8", "replace"))
    except InputProblemsError as error:
        found += error.problems
    assert found


def test_a_card_without_a_name_is_told_by_its_place(cast: Cast) -> None:
    cards = b"BEGIN:VCARD\r\nFN:A\r\nEND:VCARD\r\nBEGIN:VCARD\r\nEMAIL:nonsense\r\nEND:VCARD\r\n"
    with pytest.raises(InputProblemsError) as caught:
        crossing.import_cards(cast.fitter, cards)
    assert {(p.where.row, p.where.field) for p in caught.value.problems} == {(2, "Name"), (2, "E-mail")}
    assert not Client.objects.filter(label="A").exists()


def test_the_diary_is_a_calendar_that_another_program_reads(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    visit = services.start_visit(
        cast.fitter,
        on=date(2026, 10, 25),
        purpose=Purpose.DELIVERY,
        horse=yard.horse.uuid,
        starts_at="09:30",
        zone="Europe/London",
        state=VisitState.PLANNED,
    )
    recheck = services.set_recheck(
        cast.fitter, yard.horse.uuid, visit_uuid=visit.uuid, reasons=[RecheckReason.YOUNG]
    )
    text = crossing.diary_calendar(cast.fitter, date(2026, 10, 1), date(2026, 12, 31))
    assert max(len(line) for line in text.split(b"\r\n")) <= 75
    events = {str(e["UID"]): e for e in icalendar.Calendar.from_ical(text).walk("VEVENT")}
    at, due = events[f"{visit.uuid}@saddlebench"], events[f"{recheck.uuid}@saddlebench"]
    # The clocks went back that night: half past nine is in winter time, as on the yard's wall.
    assert at["DTSTART"].dt.astimezone(UTC) == datetime(2026, 10, 25, 9, 30, tzinfo=UTC)
    assert at["DTSTART"].dt.astimezone(ZoneInfo("Europe/London")).hour == 9
    assert (due["DTSTART"].dt, due["DTEND"].dt) == (date(2026, 12, 20), date(2026, 12, 21))
    assert str(due["SUMMARY"]) == "Juniper: Re-check due: Young horse"
    # RFC 5545, 3.6.1: UID and DTSTAMP are needed in every event, DTSTAMP in UTC.
    for event in events.values():
        assert event["DTSTAMP"].dt.utcoffset().total_seconds() == 0
    read = vobject.readOne(text.decode())
    assert len(read.vevent_list) == 2
    assert b"BEGIN:VTIMEZONE" in text


def test_leaving_takes_everything_in_open_formats(cast: Cast, home: Path) -> None:
    yard = invented_yard(cast.fitter)
    stored = store(home, b"\xff\xd8\xffinvented")
    services.attach_photo(
        cast.fitter, stored, services.PhotoFacts(original_sha256="1" * 64), visit=yard.visit.uuid
    )
    back = services.record_back(cast.fitter, yard.horse.uuid, BACK, measured_on=date(2026, 3, 1)).version
    saddle = services.record_saddle(cast.fitter, yard.saddle.uuid, SADDLE).version
    services.record_study(cast.fitter, STUDY, back_version=back.uuid, saddle_version=saddle.uuid)
    services.enter(
        cast.fitter,
        Subject.VISIT,
        yard.visit.uuid,
        [Entered(field="reason", value="Rubs", key=key(), seen=0)],
    )
    services.withdraw(cast.fitter, Subject.HORSE, yard.horse.uuid)
    services.take_on_client(cast.other, {"label": "Not Yours"})
    path = home / "everything.zip"
    manifest = crossing.leave(cast.owner, path, home)
    assert verify(path) == manifest
    with zipfile.ZipFile(path) as archive:
        texts = {name: archive.read(name) for name in archive.namelist()}
    horses = json.loads(texts["json/horse.json"])
    assert [(h["label"], h["client"]) for h in horses] == [("Juniper", str(yard.client.uuid))]
    assert texts[f"backs/{back.back.uuid}/1.json"].decode() == BACK.text
    assert texts[f"photos/{stored.sha256}.jpg"] == b"\xff\xd8\xffinvented"
    assert "Rubs" in texts["tables/answer.csv"].decode("utf-8-sig")
    assert vobject.readOne(texts["people.vcf"].decode()).fn.value == "Wilma Fernlea"
    whole = b"".join(texts.values())
    for secret in (b"Not Yours", b"una@gorse.example", b"md5$", b"password"):
        assert secret not in whole
    assert card_of(yard.client).encode() == texts["people.vcf"]


def test_no_kind_of_record_is_forgotten_when_one_leaves() -> None:
    taken = {model for model, _ in TABLES}
    # An erasure under way holds nothing of the practice's.
    assert set(apps.get_app_config("practice").get_models()) - taken == {OpenErasure}
