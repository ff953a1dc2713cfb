"""Measuring a back over the web: each reading kept, nothing twice, nobody overwritten, one record."""

import json
import re
import uuid as uuids
from collections.abc import Callable
from typing import Any

import pytest
from capture_invented import begin
from capture_readings import BY_HAND, MARKS, invented_values
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.test.utils import CaptureQueriesContext
from web_cast import Cast

from saddlebench.exchange.records import BackDocument, parse_document
from saddlebench.practice import queries
from saddlebench.practice.enums import Subject

COMB = "comb-24x15-foot"


def send(
    client: Client, where: str, part: str, *readings: tuple[str, str], seen: int = 0, **keys: str
) -> Any:
    entries = [
        {"field": field, "text": text, "key": keys.get("key", str(uuids.uuid4()))} for field, text in readings
    ]
    body = json.dumps({"seen": seen, "entries": entries})
    return client.post(f"{where}part/{part}/readings/", body, content_type="application/json")


def page_of(cast: Cast, where: str) -> queries.CapturePage:
    return queries.capture_page(cast.actors["fitter"], uuids.UUID(where.split("/")[2]))


def start_form(**more: str) -> dict[str, str]:
    given = {"day": "2026-05-04", "instrument": COMB, "first": "-80", "spacing": "80", "count": "3"}
    return given | {"how": "heights", "uuid": str(uuids.uuid4())} | more


# Starting


def test_measuring_starts_with_nothing_but_a_horses_name(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    form = start_form(new_horse="Bracken")
    answer = fitter.post("/measure/new/", form)
    assert answer.status_code == 302
    page = page_of(cast, answer["Location"])
    assert page.horse.label == "Bracken"
    assert {n: v for n, v in page.values.items() if n.startswith("s")} == {
        "s1r0/distance": -80.0,
        "s2r0/distance": 0.0,
        "s3r0/distance": 80.0,
        "s1r1/planned": True,
    }
    assert fitter.post("/measure/new/", form)["Location"] == answer["Location"]
    assert len(queries.find_horses(cast.actors["fitter"], "Bracken").rows) == 1


def test_the_form_finds_a_horse_and_keeps_what_was_chosen(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    found = fitter.post(
        "/measure/new/", start_form(asked="junip", look_up="1", spacing="70,5")
    ).content.decode()
    assert cast.here[Subject.HORSE] in found
    assert 'value="70,5"' in found
    chosen = fitter.get(f"/measure/new/?horse={cast.here[Subject.HORSE]}&visit={cast.here[Subject.VISIT]}")
    assert "<strong>Juniper</strong>" in chosen.content.decode()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "no horse is named"),
        ({"new_horse": "B", "first": "1.234"}, "could be a decimal number or a number in thousands"),
        ({"new_horse": "B", "spacing": "8"}, "8 is outside 15 to 300"),
        ({"new_horse": "B", "count": "2,5"}, "2.5 is outside 1 to 40"),
        ({"new_horse": "B", "count": "x"}, "“x” is not a number"),
        ({"new_horse": "B", "day": "yesterday"}, "this is not a date"),
        ({"new_horse": "B", "instrument": "scan"}, "a scan is not keyed in"),
    ],
)
def test_a_start_that_cannot_be_is_said_and_shown_again(cast: Cast, given: dict[str, str], said: str) -> None:
    answer = cast.browser("fitter").post("/measure/new/", start_form(**given))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert queries.unfinished_captures(cast.actors["fitter"]) == ()


@pytest.mark.parametrize("field", ["horse", "visit", "instrument"])
def test_what_is_another_practices_is_not_found(cast: Cast, field: str) -> None:
    theirs = {
        "horse": cast.elsewhere[Subject.HORSE],
        "visit": cast.elsewhere[Subject.VISIT],
        "instrument": str(uuids.uuid4()),
    }[field]
    answer = cast.browser("fitter").post("/measure/new/", start_form(**{"new_horse": "B", field: theirs}))
    assert answer.status_code == 404


# One reading at a time


def test_a_reading_is_kept_as_it_is_entered_with_comma_or_point(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    answer = send(cast.browser("fitter"), where, "s1r0", ("s1r0/pin/1", "12,5"), ("s1r0/pin/2", "11.5"))
    told = answer.json()
    assert answer.status_code == 200
    assert re.fullmatch(r"\d\d:\d\d", told["saved_at"])
    assert (told["values"]["s1r0/pin/1"], told["values"]["s1r0/pin/2"]) == ("12.5", "11.5")
    assert told["problems"] == []
    assert told["picture"].startswith("<svg")
    assert page_of(cast, where).values["s1r0/pin/1"] == 12.5


def test_a_reading_sent_twice_after_no_answer_counts_once(cast: Cast) -> None:
    where, key = begin(cast, COMB, {"s1r0/distance": 0.0}), str(uuids.uuid4())
    fitter = cast.browser("fitter")
    first = send(fitter, where, "s1r0", ("s1r0/pin/1", "12"), key=key).json()
    again = send(fitter, where, "s1r0", ("s1r0/pin/1", "12"), key=key).json()
    assert (again["revision"], again["problems"]) == (first["revision"], [])


def test_what_can_be_read_two_ways_is_asked_about_and_the_rest_is_kept(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    told = send(cast.browser("fitter"), where, "s1r0", ("s1r0/pin/1", "1,250"), ("s1r0/pin/2", "60")).json()
    (problem,) = told["problems"]
    assert problem["field"] == "s1r0/pin/1"
    assert "could be a decimal number or a number in thousands" in problem["words"]
    assert (told["values"]["s1r0/pin/1"], told["values"]["s1r0/pin/2"]) == ("", "60")


@pytest.mark.parametrize("text", ["abc", "--3", "1.2.3", "1e9", "9" * 30, "²", "nan", "inf"])
def test_what_is_no_number_is_said(cast: Cast, text: str) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    told = send(cast.browser("fitter"), where, "s1r0", ("s1r0/pin/1", text)).json()
    assert [one["field"] for one in told["problems"]] == ["s1r0/pin/1"]
    assert "s1r0/pin/1" not in page_of(cast, where).values


def test_a_reading_beyond_the_scale_is_kept_and_questioned_at_once(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    told = send(cast.browser("fitter"), where, "s1r0", ("s1r0/pin/12", "400")).json()
    assert told["values"]["s1r0/pin/12"] == "400"
    beyond = "Near: Pin 12 reads 400, beyond the range of 0 to 320."
    assert told["remarks"] == [f"{beyond} Read it again, or correct the instrument's range."]


def test_two_people_on_one_reading_are_both_heard(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    fitter, owner = cast.browser("fitter"), cast.browser("owner")
    before = page_of(cast, where).revision
    send(fitter, where, "s1r0", ("s1r0/pin/1", "12"), seen=before)
    told = send(owner, where, "s1r0", ("s1r0/pin/1", "21"), seen=before).json()
    (problem,) = told["problems"]
    assert "Fitter Invented entered “12” here" in problem["words"]
    assert told["values"]["s1r0/pin/1"] == "12"
    again = send(owner, where, "s1r0", ("s1r0/pin/1", "21"), seen=told["revision"]).json()
    assert (again["problems"], again["values"]["s1r0/pin/1"]) == ([], "21")


@pytest.mark.parametrize(
    "body",
    [
        "",
        "[]",
        "{}",
        '{"seen": 0}',
        '{"seen": -1, "entries": []}',
        '{"seen": "0", "entries": []}',
        '{"seen": true, "entries": []}',
        '{"seen": 0, "entries": [1]}',
        '{"seen": 0, "entries": [{"field": "a", "text": "1", "key": "no"}]}',
        '{"seen": 0, "entries": {"a": 1}}',
        "[" * 5000,
        "\udcff".encode("utf-8", "surrogatepass"),
    ],
)
def test_what_is_no_message_of_ours_is_refused_in_words(cast: Cast, body: str | bytes) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    answer = cast.browser("fitter").post(f"{where}part/s1r0/readings/", body, content_type="application/json")
    assert (answer.status_code, answer.json()) == (400, {"said": "This cannot be read. Load the page again."})


def test_a_reading_of_another_part_is_not_taken(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    told = send(cast.browser("fitter"), where, "s1r0", ("mark/withers", "5"), ("s1r0/pin/99", "5")).json()
    assert [one["field"] for one in told["problems"]] == ["mark/withers", "s1r0/pin/99"]
    assert set(page_of(cast, where).values) == {"s1r0/distance"}


def test_signed_out_in_the_middle_a_reading_is_answered_with_401(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    assert send(cast.browser("nobody"), where, "s1r0", ("s1r0/pin/1", "5")).status_code == 401


# The horse moved; measured again


def test_the_horse_moved_takes_the_section_back_and_keeps_the_entries(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0, "s1r0/pin/1": 12.0, "s1r0/done": True})
    fitter = cast.browser("fitter")
    answer = fitter.post(f"{where}part/s1r0/moved/")
    assert answer["Location"] == f"{where}part/s1r0/"
    assert page_of(cast, where).values == {"s1r0/distance": 0.0, "s1r0/moved": 1.0}
    assert fitter.post(f"{where}part/marks/moved/").status_code == 409


def test_a_repeat_is_never_filled_in_beforehand(cast: Cast) -> None:
    where = begin(cast, COMB, invented_values(COMB))
    fitter = cast.browser("fitter")
    answer = fitter.post(f"{where}again/", {"section": "s2r0", "form": str(uuids.uuid4())})
    assert answer["Location"] == f"{where}part/s2r1/"
    text = fitter.get(answer["Location"]).content.decode()
    assert "Section 2 again" in text
    assert set(re.findall(r'data-name="s2r1/pin/\d+" value="([^"]*)"', text)) == {""}
    fitter.post(f"{where}again/", {"section": "all", "form": str(uuids.uuid4())})
    planned = {name for name in page_of(cast, where).values if name.endswith("/planned")}
    assert planned == {"s1r1/planned", "s1r2/planned", "s2r1/planned", "s2r2/planned", "s3r1/planned"} | {
        "s4r1/planned",
        "s5r1/planned",
    }
    assert fitter.post(f"{where}again/", {"section": "s99r0"}).status_code == 409


def test_a_section_is_added_and_counted_by_its_place(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0, "s2r0/distance": 100.0, "top/how": "heights"})
    fitter = cast.browser("fitter")
    fitter.post(f"{where}section/", {"distance": "50,5", "form": str(uuids.uuid4())})
    text = fitter.get(f"{where}part/s3r0/").content.decode()
    assert "Section 2" in text
    assert "50.5 mm behind the shoulder mark" in text
    assert page_of(cast, where).values["top/1/distance"] == 50.5
    assert fitter.post(f"{where}section/", {"distance": "far"}).status_code == 422
    assert fitter.post(f"{where}section/", {"distance": "5000"}).status_code == 422


# Without script


def test_a_part_is_filled_in_as_a_plain_form(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0})
    fitter = cast.browser("fitter")
    form = {f"mark/{name}": str(place) for name, place in MARKS.items()} | {"form": str(uuids.uuid4())}
    answer = fitter.post(f"{where}part/marks/", form | {"seen": "1", "on": "1"})
    assert answer["Location"] == f"{where}part/stance/"
    assert page_of(cast, where).values["mark/last_rib"] == 395.0
    assert fitter.post(f"{where}part/marks/", form | {"seen": "1"}).status_code == 302
    assert page_of(cast, where).revision == 6
    wrong = fitter.post(f"{where}part/marks/", {"mark/withers": "1,234", "mark/lowest": "240", "seen": "6"})
    assert wrong.status_code == 422
    assert 'value="1,234"' in wrong.content.decode()
    assert page_of(cast, where).values["mark/lowest"] == 240.0
    stance = {"coat/state": "winter", "notes": "Tired.\r\nLate.", "seen": "99"}
    fitter.post(f"{where}part/stance/", stance)
    values = page_of(cast, where).values
    assert (values["coat/state"], values["notes"]) == ("winter", "Tired.\nLate.")
    assert fitter.post(f"{where}part/stance/", {"coat/state": "shaved"}).status_code == 422


def test_a_part_that_is_none_is_not_found(cast: Cast) -> None:
    where = begin(cast, COMB)
    assert cast.browser("fitter").get(f"{where}part/s9r0/").status_code == 404


# Before the horse goes


@pytest.mark.parametrize("name", BY_HAND)
def test_a_whole_back_is_good_and_becomes_a_record_that_is_read_back(cast: Cast, name: str) -> None:
    values = invented_values(name)
    where = begin(cast, name, values | {"s2r0/square": False, "s3r0/moved": 2.0, "notes": "Windy."})
    fitter = cast.browser("fitter")
    said = "≈</span> Coarse: enough for a first look" if name == "tape-hand" else "✓</span> Good</span>"
    assert f'<span aria-hidden="true">{said}' in fitter.get(where).content.decode()
    answer = fitter.post(f"{where}finish/")
    assert answer.status_code == 302
    back = queries.back_page(cast.actors["fitter"], uuids.UUID(where.split("/")[2]))
    record = parse_document(BackDocument, back.document, "the back").record()
    assert len(record.readings.stations) == 6
    assert [(one.number, one.repeat) for one in record.readings.stations][-1] == (1, 1)
    assert record.notes.split("\n") == [
        "Windy.",
        "Section 2: the horse did not stand square.",
        "Section 3: the horse moved 2 times; readings are from after that.",
    ]
    assert fitter.post(f"{where}finish/").status_code == 302
    assert len(queries.versions_of(cast.actors["fitter"], Subject.BACK, back.uuid)) == 1
    text = fitter.get(answer["Location"]).content.decode()
    assert "width 30 mm below the midline" in text
    assert re.search(r"\d+ ± \d+ mm", text)


def test_what_is_still_needed_is_said_and_nothing_is_recorded_too_early(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": 0.0, "mark/withers": -20.0})
    fitter = cast.browser("fitter")
    text = fitter.get(where).content.decode()
    assert "Not enough to work with yet" in text
    assert "the mark: last-rib mark" in text
    assert "the topline" in text
    assert "highest spine" not in re.sub(r"(?s).*Still needed(.*?)</ul>.*", r"\1", text)
    refused = fitter.post(f"{where}finish/")
    assert refused.status_code == 422
    assert "do not make a back yet" in refused.content.decode()
    page = page_of(cast, where)
    assert (page.recorded, page.finished_at) == (None, None)


def test_a_section_to_repeat_is_named_before_the_horse_goes(cast: Cast) -> None:
    values = invented_values(COMB)
    values |= {f"s1r1/pin/{pin}": float(str(values[f"s1r0/pin/{pin}"])) + 8.0 for pin in range(13, 20)}
    where = begin(cast, COMB, values)
    fitter = cast.browser("fitter")
    text = fitter.get(where).content.decode()
    assert "Repeat station 1" in text
    assert re.search(r"Section 1 measured again differs by <strong>\d\.\d mm", text)
    told = send(fitter, where, "s1r1", ("s1r1/done", "yes"), seen=999).json()
    assert any("differs from the first time by" in words for words in told["remarks"])


def test_sides_called_the_wrong_way_round_are_noticed_while_it_can_be_mended(cast: Cast) -> None:
    values = invented_values(COMB)
    lean = {f"s{s}r0/pin/{pin}": float(str(values[f"s{s}r0/pin/{pin}"])) + 14.0
            for s in range(1, 6) for pin in range(1, 9)}  # fmt: skip
    values |= lean
    turned = {f"s3r0/pin/{pin}": values[f"s3r0/pin/{25 - pin}"] for pin in range(1, 25)}
    where = begin(cast, COMB, values | turned)
    told = send(cast.browser("fitter"), where, "s3r0", ("s3r0/done", "yes"), seen=999).json()
    assert any(words.startswith("Left and right look swapped") for words in told["remarks"])


def test_a_finished_back_is_corrected_as_a_further_version_that_says_why(cast: Cast) -> None:
    where = begin(cast, COMB, invented_values(COMB))
    fitter = cast.browser("fitter")
    back = fitter.post(f"{where}finish/")["Location"]
    refused = send(fitter, where, "marks", ("mark/withers", "-30"), seen=999)
    assert refused.status_code == 409
    assert "Take it up again" in fitter.get(where).content.decode()
    fitter.post(f"{where}take-up/")
    send(fitter, where, "marks", ("mark/withers", "-30"), seen=999)
    assert fitter.post(f"{where}finish/", {"seen": "1", "why": " "}).status_code == 422
    fitter.post(f"{where}finish/", {"seen": "1", "why": "withers misread"})
    text = fitter.get(back).content.decode()
    assert "Version 2 of 2" in text
    fitter.post(f"{where}take-up/")
    beside = fitter.post(
        f"{where}finish/", {"seen": "1", "why": "an older page"}, follow=True
    ).content.decode()
    assert "Somebody else recorded another meanwhile" in beside


# Tables


def upload(client: Client, where: str, content: bytes, **more: str) -> Any:
    table = SimpleUploadedFile("monday's readings.csv", content, content_type="text/csv")
    return client.post(f"{where}table/", {"table": table, "form": str(uuids.uuid4()), **more})


ROW = "1,0," + ",".join(["20"] * 6) + "\n2,100," + ",".join(["21"] * 6) + "\n"
HEAD = "station,distance [mm],L1,L2,L3,R1,R2,R3\n"


def test_a_table_takes_the_place_of_the_sections(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": -80.0, "s1r0/pin/1": 5.0, "mark/withers": -20.0})
    assert upload(cast.browser("fitter"), where, (HEAD + ROW).encode()).status_code == 302
    values = page_of(cast, where).values
    assert (values["s1r0/distance"], values["s1r0/pin/12"], values["s2r0/pin/13"]) == (0.0, 20.0, 21.0)
    assert "s1r0/pin/1" not in values
    assert values["mark/withers"] == -20.0


def test_every_problem_of_a_table_is_shown_with_row_and_field_and_nothing_comes_in(cast: Cast) -> None:
    where = begin(cast, COMB, {"s1r0/distance": -80.0})
    rows = "1,0,20,twenty,20,20,20,20\n2,far,20,20,20,1.250,20,20\n"
    answer = upload(cast.browser("fitter"), where, (HEAD + rows).encode())
    text = answer.content.decode()
    assert answer.status_code == 422
    assert re.findall(r"<tr><td>(\d+)</td><td>([^<]*)</td>", text)[:3] == [
        ("2", "L2"),
        ("3", "distance [mm]"),
        ("3", "R1"),
    ]
    assert "saddlebench-table-" not in text
    assert page_of(cast, where).values == {"s1r0/distance": -80.0}


@pytest.mark.parametrize(
    "content",
    [b"", b"\x00\x01", b"station\n", b"a,b\n1,2\n", b"station,distance,L1\n1,0,5\n"],
    ids=["empty", "binary", "heading", "unknown", "no unit"],
)
def test_a_table_that_is_none_is_refused_in_words(cast: Cast, content: bytes) -> None:
    where = begin(cast, COMB)
    answer = upload(cast.browser("fitter"), where, content)
    assert answer.status_code == 422
    assert "Nothing came in" in answer.content.decode()
    assert cast.browser("fitter").post(f"{where}table/", {}).status_code == 422


# As many queries with twice the readings


@pytest.mark.parametrize("path", ["", "part/s2r0/", "part/topline/"])
def test_pages_ask_the_database_as_often_with_a_whole_back_as_with_a_beginning(
    cast: Cast, path: str, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    fitter = cast.browser("fitter")
    few = {"s1r0/distance": 0.0, "s2r0/distance": 100.0, "s2r0/pin/1": 30.0}
    # The first page of a session also writes the session.
    fitter.get("/measure/")
    counts = []
    for values in (few, invented_values(COMB)):
        where = begin(cast, COMB, values)
        with count_queries() as counted:
            assert fitter.get(f"{where}{path}").status_code == 200
        counts.append(len(counted))
    assert counts[0] == counts[1] <= 15


def test_the_list_asks_as_often_for_many_as_for_one(
    cast: Cast, count_queries: Callable[[], CaptureQueriesContext]
) -> None:
    fitter, counts = cast.browser("fitter"), []
    fitter.get("/measure/")
    for _ in range(2):
        begin(cast, COMB)
        with count_queries() as counted:
            assert fitter.get("/measure/").content.decode().count("begun by") == len(counts) + 1
        counts.append(len(counted))
    assert counts[0] == counts[1]
