"""Yard cards on the pages: who may, what stands on them in which order, and typing them in afterwards."""

import io
import re
import uuid as uuids
from datetime import date
from html import unescape

import pikepdf
import pypdf
import pytest
from django.utils import timezone
from web_cast import Cast

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.instruments import example_instrument, example_names
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.records import BackDocument, parse_document
from saddlebench.exchange.retelling import noting_missed
from saddlebench.practice import queries, services
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Purpose, Subject, VisitState
from saddlebench.report.yard_card import Answer, rows_of, yard_card_pdf
from saddlebench.web.capture.asked import parts_of
from saddlebench.web.capture.planned import plan_values
from saddlebench.web.cards.filling import Sections, Wanted, back_parts, card_stops, yard_card
from saddlebench.web.visit.path import SADDLE_PARTS, STEPS
from support.german import slipped
from support.reports import NAMELESS

GERMAN = Reader(language=Language.GERMAN)
BY_HAND = tuple(name for name in example_names() if name != "scan")
BACK_ONLY = Wanted(visit=False, saddle=False)


def visit_of(cast: Cast, on: date | None = None) -> uuids.UUID:
    started = services.start_visit(
        cast.actors["fitter"],
        on=on or timezone.localdate(),
        purpose=Purpose.FIRST,
        horse=uuids.UUID(cast.here[Subject.HORSE]),
        state=VisitState.PLANNED,
    )
    return started.uuid


def text_of(content: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


# What stands on it


@pytest.mark.parametrize("name", BY_HAND)
def test_the_back_is_asked_as_the_capture_page_asks_it(cast: Cast, name: str) -> None:
    tool, sections = example_instrument(name), Sections(first_mm=-40.0, apart_mm=120.0, count=4)
    values = plan_values(-40.0, 120.0, 4, "heights")
    wanted = [
        (one.words, one.side)
        for part in parts_of(tool, values)
        for one in part.asked
        if part.key != "topline" or one.on_pad
    ]
    card = yard_card(tool, sections, BACK_ONLY)
    assert [(field.words, field.side) for field in card.fields] == wanted
    assert sum("again" in part.words for part in card.parts) == 1


def test_every_field_of_a_visit_stands_on_it_once_in_the_order_of_the_steps(cast: Cast) -> None:
    tool = example_instrument("tape-hand")
    card = yard_card(tool, wanted=Wanted(back=False))
    held = [field.words for field in card.fields]
    head = {"label", "date", "starts_at", "zone", "purpose"}
    wanted = [VISIT_FIELDS[name].words for step in STEPS for name in step.fields if name in VISIT_FIELDS]
    seen = [one.partition(": where, and what")[0] for one in held]
    places = [seen.index(words) for words in wanted]
    assert places == sorted(places)
    assert len(places) == len(VISIT_FIELDS) - 4, "all but the stops, which stand at the top"
    assert head.isdisjoint(VISIT_FIELDS)
    n_saddle = sum(len(part.fields) for part in SADDLE_PARTS)
    assert len(VISIT_SADDLE_FIELDS) == n_saddle
    # With the saddle's name, and what was said of a stop.
    assert len(held) == len(places) + n_saddle + 2


def test_stops_are_the_catalogues_own(cast: Cast) -> None:
    stops = card_stops()
    assert [stop.title for stop in stops] == ["Stop, vet first", "Stop, not today", "Stop, do not ride"]
    fields = [VISIT_FIELDS[name] for name in ("stops_vet_first", "stops_not_today", "stops_do_not_ride")]
    assert [len(stop.causes) for stop in stops] == [len(field.choices) for field in fields]


@pytest.mark.parametrize("name", BY_HAND)
def test_every_reading_of_the_instrument_has_room(cast: Cast, name: str) -> None:
    tool = example_instrument(name)
    asked = [one for part in parts_of(tool, plan_values(-80.0, 80.0, 3, "heights")) for one in part.asked]
    numbers = [one for one in asked if one.kind == "number" and one.on_pad]
    fields = {
        (field.words, field.side): field for field in yard_card(tool, Sections(count=3), BACK_ONLY).fields
    }
    for one in numbers:
        field = fields[one.words, one.side]
        assert field.answer is Answer.NUMBER
        assert one.low is not None
        assert one.high is not None
        for value in (one.low, one.high):
            shown = f"{abs(value):.{field.decimals}f}"
            assert len(shown.partition(".")[0]) <= field.digits, one.words
        assert field.has_sign == (one.low < 0)
        assert abs(one.step * 10**field.decimals - round(one.step * 10**field.decimals)) < 1e-9


def test_near_joints_stand_beside_off_joints(cast: Cast) -> None:
    chain = example_instrument("chain-12x30")
    (section,) = [part for part in back_parts(chain, Sections(count=1)) if part.words == "Section 1"]
    rows = rows_of(section.groups[0])
    assert [(near.words, off.words) for near, off in rows[:12] if near and off] == [
        (f"Joint {j}", f"Joint {j}") for j in range(1, 13)
    ]


def test_the_pin_over_the_midline_ends_the_near_column(cast: Cast) -> None:
    comb = example_instrument("comb-41x10")
    (section,) = [part for part in back_parts(comb, Sections(count=1)) if part.words == "Section 1"]
    near, off = zip(*rows_of(section.groups[0])[:21], strict=True)
    assert [one.words for one in near if one] == [f"Pin {pin}" for pin in range(1, 22)]
    assert [one.words for one in off if one] == [f"Pin {pin}" for pin in range(22, 42)]


def test_a_scan_has_no_card_and_nothing_wanted_is_no_card(cast: Cast) -> None:
    with pytest.raises(InputProblemsError, match="not read by hand"):
        yard_card(example_instrument("scan"), wanted=BACK_ONLY)
    with pytest.raises(InputProblemsError, match="nothing is to stand on the card"):
        yard_card(example_instrument("tape-hand"), wanted=Wanted(visit=False, back=False, saddle=False))


@pytest.mark.parametrize("by_chain", [False, True])
@pytest.mark.parametrize("name", BY_HAND)
def test_no_english_word_slips_into_a_german_card(cast: Cast, name: str, by_chain: bool) -> None:
    # A practice's own name of an instrument stays as it was written.
    with read_by(GERMAN), noting_missed() as missed:
        card = yard_card(example_instrument(name), Sections(count=2, by_chain=by_chain), horse=NAMELESS)
        text = text_of(yard_card_pdf([card]))
    assert missed == []
    # What the page's tick is called is said as it stands there.
    assert "„Von einer Stallkarte eingetippt“ (auf englischen Seiten „Typed in from a yard card“)" in text
    assert slipped(text.replace("Typed in from a yard card", "")) == set()


def test_a_word_with_two_meanings_is_told_by_what_it_means_here(cast: Cast) -> None:
    with read_by(GERMAN):
        fields = yard_card(example_instrument("tape-hand"), wanted=Wanted(visit=False, back=False)).fields
    by_words = {field.words: field.choices for field in fields}
    assert by_words["Waage des Sitzes"][0] == "Waagerecht"
    assert by_words["Wandert"] == ("Nein", "Nach vorn", "Nach hinten")


# On the pages


def test_a_visits_card_is_chosen_and_given(cast: Cast) -> None:
    uuid = visit_of(cast)
    fitter = cast.browser("fitter")
    assert f"/visits/{uuid}/card/" in fitter.get(f"/visits/{uuid}/").content.decode()
    page = fitter.get(f"/visits/{uuid}/card/").content.decode()
    assert "tape and hand, two widths and an angle" in page
    assert "hand-held scan" not in page
    given = {"instrument": "tape-hand", "part": "back", "sections": "3", "paper": "us-letter"}
    answer = fitter.get(f"/visits/{uuid}/card.pdf", given)
    assert answer["Content-Type"] == "application/pdf"
    reader = pypdf.PdfReader(io.BytesIO(answer.content))
    assert [float(one) for one in reader.pages[0].mediabox[2:]] == pytest.approx([612, 792], abs=0.5)
    text = text_of(answer.content)
    horse = queries.visit_page(cast.actors["fitter"], uuid).horse
    assert horse is not None
    assert horse.label in text
    assert str(uuid) in text
    assert "Width 30 mm down" in text
    assert "Why today" not in text
    # A paper that may lie about names the horse and nobody else.
    assert "Wilma" not in text
    assert "Livery" not in text


def test_a_card_is_given_in_german(cast: Cast) -> None:
    uuid = visit_of(cast, on=date(2026, 3, 9))
    fitter = cast.browser("fitter")
    assert 'name="language"' in fitter.get(f"/visits/{uuid}/card/").content.decode()
    answer = fitter.get(f"/visits/{uuid}/card.pdf", {"language": "de"})
    text = text_of(answer.content)
    assert "9. März 2026" in text
    assert "Warum heute" in text
    assert "Why today" not in text
    with pikepdf.open(io.BytesIO(answer.content)) as held:
        assert str(held.Root.Lang).startswith("de")
    in_english = fitter.get(f"/visits/{uuid}/card.pdf", {"language": "something"})
    assert "9 March 2026" in text_of(in_english.content)


def test_the_days_cards_are_one_file(cast: Cast) -> None:
    day = date(2026, 3, 9)
    one, other = visit_of(cast, on=day), visit_of(cast, on=day)
    visit_of(cast, on=date(2026, 3, 10))
    fitter = cast.browser("fitter")
    page = fitter.get("/diary/cards/", {"day": "2026-03-09"}).content.decode()
    assert f"/visits/{one}/" in page
    assert f"/visits/{other}/" in page
    answer = fitter.get("/diary/cards.pdf", {"day": "2026-03-09", "part": "back", "sections": "1"})
    text = text_of(answer.content)
    assert str(one) in text
    assert str(other) in text
    assert text.count("Before anything else") == 2
    assert "/diary/cards/" in fitter.get("/diary/").content.decode()
    empty = fitter.get("/diary/cards/", {"day": "2026-03-11"}).content.decode()
    assert "No visit is planned for this day." in empty
    assert fitter.get("/diary/cards.pdf", {"day": "2026-03-11"}).status_code == 422
    # What is no day is today.
    assert fitter.get("/diary/cards/", {"day": "soon"}).status_code == 200


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"sections": "40"}, "40 is outside 1 to 12"),
        ({"sections": "2.5"}, "2.5 is outside 1 to 12"),
        ({"apart": "wide"}, "Apart"),
        ({"first": "-900"}, "-900 is outside -400 to 600"),
    ],
)
def test_what_cannot_be_is_said(cast: Cast, given: dict[str, str], said: str) -> None:
    answer = cast.browser("fitter").get(f"/visits/{visit_of(cast)}/card.pdf", given)
    assert answer.status_code == 422
    assert said in unescape(answer.content.decode())


def test_whose_visit_it_is(cast: Cast) -> None:
    uuid = visit_of(cast)
    for path in (f"/visits/{uuid}/card/", f"/visits/{uuid}/card.pdf"):
        assert cast.browser("other").get(path).status_code == 404
        assert cast.browser("nobody").get(path).status_code in {302, 401, 403}
        assert cast.browser("fitter").post(path).status_code == 405
    nothing = cast.browser("fitter").get(f"/visits/{visit_of(cast)}/card.pdf", {"instrument": "nothing"})
    assert nothing.status_code == 404


# Typed in afterwards


def test_what_is_typed_in_from_a_card_says_so_and_keeps_both_days(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    form = {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-03-09",
        "instrument": "tape-hand",
        "first": "0",
        "spacing": "130",
        "count": "4",
        "how": "heights",
        "from_card": "1",
        "uuid": str(uuids.uuid4()),
    }
    where = fitter.post("/measure/new/", form)["Location"]
    uuid = uuids.UUID(where.split("/")[2])
    # The pages ask in the card's order: section by section, word by word.
    tool = example_instrument("tape-hand")
    parts = list(back_parts(tool, Sections(first_mm=0.0, apart_mm=130.0, count=4)))
    for key, part in zip(("marks", "stance", "topline", "s1r0", "s2r0"), parts, strict=False):
        page = unescape(fitter.get(f"{where}part/{key}/").content.decode())
        labels = re.findall(r"<(?:label for=\"in-\d+\"|legend)>(?:<span[^>]*>[^<]*</span>)?([^<]*)", page)
        shown = [one.strip() for one in labels]
        wanted = [field.words for group in part.groups for field in group.fields]
        places = [shown.index(words) for words in dict.fromkeys(wanted)]
        assert places == sorted(places), key
    page = queries.capture_page(cast.actors["fitter"], uuid)
    assert page.measured_on == date(2026, 3, 9)
    assert page.values["source/card"] is True
    assert page.values["source/typed_on"] == timezone.localdate().isoformat()
    values = {f"mark/{name}": place for name, place in (("withers", -20), ("lowest", 240), ("last_rib", 390))}
    for s, widths in enumerate(((110, 320), (150, 370), (180, 410), (200, 420)), start=1):
        values |= {f"s{s}r0/width/{k}": width for k, width in enumerate(widths, start=1)}
    values |= {f"top/{row}/height": height for row, height in enumerate((1530, 1500, 1480, 1490), start=1)}
    entries = [
        services.Entered(field=name, value=float(value), key=uuids.uuid4(), seen=99)
        for name, value in values.items()
    ]
    services.enter_readings(cast.actors["fitter"], uuid, entries)
    assert fitter.post(f"{where}finish/").status_code == 302
    back = queries.back_page(cast.actors["fitter"], uuid)
    record = parse_document(BackDocument, back.document, "the back").record()
    assert record.measured_on == date(2026, 3, 9)
    today = timezone.localdate().isoformat()
    assert record.notes == f"Written on a yard card at the horse; typed in later, on {today}."


def begun(cast: Cast, **more: str) -> tuple[str, uuids.UUID]:
    form = {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-03-11",
        "instrument": "tape-hand",
        "first": "0",
        "spacing": "130",
        "count": "3",
        "how": "heights",
        "uuid": str(uuids.uuid4()),
        **more,
    }
    where = cast.browser("fitter").post("/measure/new/", form)["Location"]
    return where, uuids.UUID(where.split("/")[2])


def test_the_hour_on_the_card_is_kept_and_said(cast: Cast) -> None:
    where, uuid = begun(cast, from_card="1", begun_at="14:20")
    assert queries.capture_page(cast.actors["fitter"], uuid).values["source/begun_at"] == "14:20"
    page = cast.browser("fitter").get(where).content.decode()
    today = timezone.localdate().isoformat()
    assert f"Written on a yard card at the horse, begun at 14:20; typed in later, on {today}." in page


def test_a_measuring_begun_without_saying_so_is_marked_and_gets_the_cards_day(cast: Cast) -> None:
    where, uuid = begun(cast)
    fitter, actor = cast.browser("fitter"), cast.actors["fitter"]
    assert "Written on a yard card" not in fitter.get(where).content.decode()
    marked = {"from_card": "1", "day": "2026-03-09", "begun_at": "09:05", "form": str(uuids.uuid4())}
    for _ in range(2):  # Sent twice, it counts once.
        assert fitter.post(f"{where}card/", marked).status_code == 302
    page = queries.capture_page(actor, uuid)
    assert page.measured_on == date(2026, 3, 9)
    assert page.label.endswith(", 2026-03-09")
    assert page.values["source/card"] is True
    assert "begun at 09:05" in fitter.get(where).content.decode()
    assert fitter.post(f"{where}card/", {"form": str(uuids.uuid4())}).status_code == 302
    taken_back = queries.capture_page(actor, uuid)
    assert not {"source/card", "source/typed_on", "source/begun_at"} & set(taken_back.values)
    assert taken_back.measured_on == date(2026, 3, 9), "the day that was said is the day, card or not"


@pytest.mark.parametrize(
    ("given", "said"),
    [({"day": "9 March"}, "is no day"), ({"begun_at": "25:10"}, "is no time of day")],
)
def test_a_card_without_a_day_or_hour_that_can_be_is_refused_in_words(
    cast: Cast, given: dict[str, str], said: str
) -> None:
    where, uuid = begun(cast)
    before = queries.capture_page(cast.actors["fitter"], uuid)
    form = {"from_card": "1", "form": str(uuids.uuid4()), **given}
    answer = cast.browser("fitter").post(f"{where}card/", form)
    assert answer.status_code == 422
    assert said in unescape(answer.content.decode())
    assert queries.capture_page(cast.actors["fitter"], uuid) == before


def test_the_day_of_a_recorded_back_stands(cast: Cast) -> None:
    where, uuid = begun(cast)
    actor = cast.actors["fitter"]
    document = Document(text='{"format": "saddlebench back record", "version": 1}')
    services.finish_capture(actor, uuid, document)
    services.take_up_again(actor, uuid)
    form = {"from_card": "1", "day": "2026-03-09", "form": str(uuids.uuid4())}
    answer = cast.browser("fitter").post(f"{where}card/", form)
    assert answer.status_code == 422
    assert "recorded as measured on 2026-03-11, and that stands" in unescape(answer.content.decode())
    assert queries.capture_page(actor, uuid).measured_on == date(2026, 3, 11)


def test_who_may_say_that_it_was_a_card(cast: Cast) -> None:
    where, _ = begun(cast)
    for who, status in (("reader", {403}), ("other", {404}), ("nobody", {302, 401, 403})):
        assert cast.browser(who).post(f"{where}card/", {"from_card": "1"}).status_code in status
    assert cast.browser("fitter").get(f"{where}card/").status_code == 405


def test_without_a_card_nothing_is_said_of_one(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    form = {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-03-09",
        "instrument": "tape-hand",
        "first": "0",
        "spacing": "130",
        "count": "3",
        "how": "heights",
        "uuid": str(uuids.uuid4()),
    }
    where = fitter.post("/measure/new/", form)["Location"]
    page = queries.capture_page(cast.actors["fitter"], uuids.UUID(where.split("/")[2]))
    assert not [name for name in page.values if name.startswith("source/")]
