"""A saddle by its numbers: every family, and what cannot be, said at its number."""

import json
import re
import uuid as uuids
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test.utils import CaptureQueriesContext
from web_cast import Cast

from saddlebench.demo.saddles import SADDLES
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.records import SaddleDocument, as_json, parse_document
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Family, Subject
from saddlebench.web.capture.saddle_drawings import saddle_drawing
from saddlebench.web.capture.saddle_fields import FAMILIES, MAIN, MORE
from saddlebench.web.capture.saddle_form import Named, record_of_form, texts_of_record
from saddlebench.web.capture.saddle_pictures import drawn_from_numbers

PANELLED = {
    "lengths_in": "mm",
    "tree.width": "265",
    "tree.depth": "160",
    "tree.angle": "88°",
    "tree.rise": "60",
    "panel.channel.front": "76",
    "panel.channel.waist": "72,5",
    "panel.channel.rear": "7.6 cm",
    "seat.size": "17.5",
    "pad1.made_of": "felt",
    "pad1.thickness": "12",
    "pad1.cut": "pulled down on the spine",
    "arch": "bent steel",
    "notes": "Creaks.",
}


def where(cast: Cast) -> str:
    return f"/saddles/{cast.here[Subject.SADDLE]}/"


def record_of(cast: Cast) -> SaddleRecord:
    text = queries.saddle_document(cast.actors["fitter"], uuids.UUID(cast.here[Subject.SADDLE]))
    return parse_document(SaddleDocument, text, "the saddle").record()


def test_a_saddle_is_recorded_from_its_numbers(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    answer = fitter.post(f"{where(cast)}measure/", PANELLED | {"seen": "1", "why": "measured"})
    assert answer["Location"] == f"{where(cast)}measured/"
    record = record_of(cast)
    assert isinstance(record.numbers, PanelledNumbers)
    assert record.numbers.tree.width_mm == 265.0
    assert record.numbers.panel.channel_mm == (76.0, 72.5, 76.0)
    assert record.numbers.fittings.seat.size_in == 17.5
    assert [(pad.thickness_mm[0], pad.cut.value) for pad in record.pads] == [
        (12.0, "pulled down on the spine")
    ]
    assert "panel.length" in record.assumed
    text = fitter.get(answer["Location"]).content.decode()
    assert "265&nbsp;mm" in text
    assert 'class="drawn saddle-picture"' in text
    again = fitter.get(f"{where(cast)}measure/").content.decode()
    assert 'name="panel.channel.waist" value="72.5"' in again
    assert 'name="panel.length" value=""' in again


def test_an_older_page_does_not_take_the_place_of_a_newer_version(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    fitter.post(f"{where(cast)}measure/", PANELLED | {"seen": "1"})
    late = fitter.post(f"{where(cast)}measure/", PANELLED | {"seen": "1", "tree.width": "270"}, follow=True)
    assert "Somebody else recorded another meanwhile" in late.content.decode()
    assert record_of(cast).numbers.tree.width_mm == 265.0  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"tree.width": "26,5"}, "tree.width", "reads like centimetres or inches"),
        ({"tree.width": ""}, "tree.width", "is missing"),
        ({"tree.width": "1,265"}, "tree.width", "could be a decimal number or a number in thousands"),
        ({"tree.width": "wide"}, "tree.width", "is not a number"),
        ({"tree.width": "265 furlongs"}, "tree.width", "is not a unit of length"),
        ({"panel.channel.rear": ""}, "panel.channel.rear", "is missing"),
        ({"seat.size": "44"}, "seat.size", "Seat size is in inches"),
        ({"pad1.thickness": "200"}, "pad1.thickness", "between 0 and 80 mm thick"),
        ({"stirrups.apart": "9000"}, "stirrups.apart", "cannot be"),
    ],
)
def test_what_cannot_be_is_said_at_its_number_and_nothing_is_recorded(
    cast: Cast, given: dict[str, str], field: str, said: str
) -> None:
    answer = cast.browser("fitter").post(f"{where(cast)}measure/", PANELLED | given)
    text = answer.content.decode()
    assert answer.status_code == 422
    place = text.index(f'name="{field}"')
    assert said in text[place : place + 900]
    assert queries.saddle_page(cast.actors["fitter"], uuids.UUID(cast.here[Subject.SADDLE])).n_versions == 1


def test_all_problems_are_told_at_once(cast: Cast) -> None:
    wrong = {"tree.width": "x", "tree.depth": "y", "panel.channel.front": "z"}
    text = cast.browser("fitter").post(f"{where(cast)}measure/", PANELLED | wrong).content.decode()
    assert len(re.findall(r'class="field-problem"', text)) == 3


@pytest.mark.parametrize("family", sorted(MAIN))
def test_every_familys_numbers_are_on_its_drawing_and_every_drawn_number_is_asked(family: str) -> None:
    drawn = re.findall(r'class="dim" data-shows="([^"]+)"', saddle_drawing(family))
    assert sorted(drawn) == sorted(one.path for one in MAIN[family] if one.letter)
    letters = [one.letter for one in MAIN[family] if one.letter]
    assert len(set(letters)) == len(letters)
    assert "style=" not in saddle_drawing(family)


def test_every_family_of_the_records_has_its_numbers() -> None:
    assert set(FAMILIES) == set(Family)
    assert set(FAMILIES.values()) == set(MAIN) == set(MORE)


@pytest.mark.parametrize("record", SADDLES, ids=lambda record: record.label)
def test_an_invented_saddle_comes_through_the_form_and_is_drawn(record: SaddleRecord) -> None:
    texts = texts_of_record(record)
    named = Named(label=record.label, serial=record.serial, family=record.family.value)
    again = record_of_form(named, texts)
    first, second = texts_of_record(record), texts_of_record(again)
    assert second == first
    drawn = drawn_from_numbers(record)
    if record.family.value in {"treeless", "flexible tree"}:
        assert drawn.startswith("Recorded, and not drawn")
    else:
        assert drawn.startswith('<svg class="drawn saddle-picture"')
        assert "nan" not in drawn


def test_sections_of_the_underside_come_in_as_a_table(cast: Cast) -> None:
    rows = ["behind,side,y,z"]
    for behind in range(40, 420, 60):
        for side in ("near", "off"):
            rows += [f"{behind},{side},{y},{(y - 40) * -0.6:.1f}" for y in (40, 70, 100, 130)]
    fitter = cast.browser("fitter")
    table = SimpleUploadedFile("underside.csv", "\n".join(rows).encode(), content_type="text/csv")
    assert fitter.post(f"{where(cast)}measure/", PANELLED | {"table": table, "seen": "1"}).status_code == 302
    underside = record_of(cast).underside
    assert isinstance(underside, tuple)
    assert [one.behind_mm for one in underside] == [40.0, 100.0, 160.0, 220.0, 280.0, 340.0, 400.0]
    fitter.post(f"{where(cast)}measure/", PANELLED | {"seen": "2"})
    assert record_of(cast).underside is not None
    fitter.post(f"{where(cast)}measure/", PANELLED | {"seen": "3", "forget_underside": "1"})
    assert record_of(cast).underside is None
    bad = SimpleUploadedFile("underside.csv", b"behind,side,y,z\n40,nearby,1,2\n", content_type="text/csv")
    answer = fitter.post(f"{where(cast)}measure/", PANELLED | {"table": bad})
    assert answer.status_code == 422
    assert "“nearby” is not a side" in answer.content.decode()


def test_the_saddle_is_drawn_while_its_numbers_are_entered(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    drawn = fitter.post(f"{where(cast)}measure/picture/", PANELLED).content.decode()
    assert 'class="drawn saddle-picture"' in drawn
    lacking = fitter.post(f"{where(cast)}measure/picture/", PANELLED | {"tree.width": ""}).content.decode()
    assert "Width between the point ends, inside" in lacking
    assert "<svg" not in lacking


def test_a_record_that_this_program_cannot_read_is_said_and_not_lost(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    assert "cannot be read by this program" in fitter.get(f"{where(cast)}measured/").content.decode()
    assert fitter.get(f"{where(cast)}measure/").status_code == 200


def test_another_family_starts_from_nothing(cast: Cast) -> None:
    saddle = services.take_on_saddle(cast.actors["fitter"], {"label": "Trail"})
    fitter = cast.browser("fitter")
    at = f"/saddles/{saddle.uuid}/measure/"
    assert "bar.length" in fitter.get(f"{at}?family=bars").content.decode()
    assert "tree.width" in fitter.get(f"{at}?family=spoons").content.decode()
    assert (
        fitter.post(at, {"family": "bars", "lengths_in": "cm", "bar.length": "52", "seen": "0"}).status_code
        == 302
    )
    text = queries.saddle_document(cast.actors["fitter"], saddle.uuid)
    assert json.loads(text)["numbers"]["bars"]["bar"]["length_mm"] == 520.0


def test_a_page_asks_the_database_as_often_with_many_versions_as_with_one(
    cast: Cast, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    fitter, uuid, counts = cast.browser("fitter"), uuids.UUID(cast.here[Subject.SADDLE]), []
    fitter.get("/measure/")
    for i in range(2):
        for path in ("measure/", "measured/"):
            with count_queries() as counted:
                fitter.get(f"{where(cast)}{path}")
            counts.append(len(counted))
        document = Document(text=as_json(SaddleDocument.of(SADDLES[i])))
        for seen in (1, 2):
            services.record_saddle(cast.actors["fitter"], uuid, document, seen=seen)
    assert counts[:2] == counts[2:]
    assert max(counts) <= 15


def test_the_workshop_may_take_numbers_and_a_reader_may_look(cast: Cast) -> None:
    assert cast.browser("workshop").get(f"{where(cast)}measure/").status_code == 200
    assert cast.browser("reader").get(f"{where(cast)}measure/").status_code == 403
    assert cast.browser("reader").get(f"{where(cast)}measured/").status_code == 200
