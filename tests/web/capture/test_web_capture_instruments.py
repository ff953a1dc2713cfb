"""Instruments: the shipped ones, and the practice's own in a form with a live drawing."""

import json
import re
import uuid as uuids

import pytest
from web_cast import Cast

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.instruments import (
    example_instrument,
    example_names,
    instrument_from_text,
    instrument_text,
)
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.web.capture.instrument_form import FORM_FIELDS, described, texts_of
from saddlebench.web.capture.instrument_picture import instrument_drawing

COMB = {
    "family": "pin comb",
    "name": "our comb",
    "n_pins": "31",
    "pitch_mm": "12,5",
    "midline_pin": "16",
    "offset_mm": "",
    "scale.per_division": "1",
    "scale.lowest": "0",
    "scale.highest": "280",
    "scale.step": "0.5",
    "pin_sd_mm": "0.5",
    "zero_sd_mm": "0.2",
    "placing.along_mm": "3",
    "placing.contact_mm": "1",
}


def own(cast: Cast) -> dict[str, object]:
    (row,) = queries.own_instruments(cast.actors["fitter"])
    return json.loads(row.document)


def test_an_instrument_of_our_own_is_described_and_measured_with(cast: Cast) -> None:
    fitter, uuid = cast.browser("fitter"), str(uuids.uuid4())
    assert fitter.post("/instruments/new/", COMB | {"uuid": uuid})["Location"] == "/instruments/"
    assert own(cast)["pitch_mm"] == 12.5
    assert "our comb" in fitter.get("/instruments/").content.decode()
    assert f'<option value="{uuid}"' in fitter.get("/measure/new/").content.decode()
    form = {"day": "2026-05-04", "instrument": uuid, "first": "0", "spacing": "80", "count": "3"}
    begun = fitter.post("/measure/new/", form | {"new_horse": "Bracken"})["Location"]
    assert fitter.get(f"{begun}part/s1r0/").content.decode().count("data-on-pad") == 31
    better = fitter.post(f"/instruments/{uuid}/", COMB | {"n_pins": "41", "midline_pin": "21"})
    assert better.status_code == 302
    assert own(cast)["n_pins"] == 41
    # What is being measured keeps the description it was begun with.
    assert fitter.get(f"{begun}part/s1r0/").content.decode().count("data-on-pad") == 31


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"n_pins": ""}, "n_pins"),
        ({"n_pins": "12,5"}, "n_pins"),
        ({"n_pins": "2"}, "n_pins"),
        ({"pitch_mm": "1,250"}, "pitch_mm"),
        ({"pitch_mm": "-3"}, "pitch_mm"),
        ({"midline_pin": "50"}, "midline_pin"),
        ({"midline_pin": "16.3"}, "midline_pin"),
        ({"scale.step": "0"}, "scale.step"),
        ({"scale.highest": "0"}, "scale.highest"),
        ({"name": " "}, "name"),
        ({"placing.along_mm": "900"}, "placing.along_mm"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(cast: Cast, given: dict[str, str], field: str) -> None:
    answer = cast.browser("fitter").post("/instruments/new/", COMB | given)
    text = answer.content.decode()
    assert answer.status_code == 422
    place = text.index(f'name="{field}"')
    assert 'class="field-problem"' in text[place : place + 700]
    assert queries.own_instruments(cast.actors["fitter"]) == ()


@pytest.mark.parametrize("name", [one for one in example_names() if one != "scan"])
def test_an_example_comes_through_the_form_as_it_is_and_is_drawn_to_scale(name: str) -> None:
    tool = example_instrument(name)
    base = json.loads(instrument_text(tool))
    document, again = described(base["family"], texts_of(base["family"], base), base)
    assert again == tool
    assert instrument_from_text(json.dumps(document)) == tool
    drawn = instrument_drawing(tool)
    assert re.search(r'class="bar" d="M-?[\d.]+ -?[\d.]+h100m', drawn)
    assert "nan" not in drawn


def test_links_are_written_singly_or_as_so_many_of_one_length() -> None:
    texts = texts_of("jointed chain", {}) | {
        "name": "c",
        "left.scale.lowest": "-60",
        "left.scale.highest": "60",
        "left.scale.step": "1",
    }
    for text, links in (("30 32,5; 40", [30.0, 32.5, 40.0]), ("4 x 30", [30.0] * 4), ("3×25,5", [25.5] * 3)):
        document, tool = described("jointed chain", texts | {"left.link_mm": text}, {})
        assert document["left"]["link_mm"] == links
        assert tool.left.n_links == len(links)  # type: ignore[union-attr]
    for text in ("", "30 x", "0", "900 x 30", "30 -5"):
        with pytest.raises(InputProblemsError) as refused:
            described("jointed chain", texts | {"left.link_mm": text}, {})
        assert {one.where.field for one in refused.value.problems} == {"left.link_mm"}


def test_another_number_of_links_forgets_what_was_said_of_each() -> None:
    tool = json.loads(_text("chain-8-uneven"))
    texts = texts_of("jointed chain", tool) | {"left.link_mm": "30 30"}
    document, chain = described("jointed chain", texts, tool)
    assert chain.left.joint_sd_deg == (0.5, 0.5)  # type: ignore[union-attr]
    assert "right" not in document


def _text(name: str) -> str:
    return instrument_text(example_instrument(name))


def test_the_drawing_follows_the_form(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    assert "31 pins, 12.5 mm apart" in fitter.post("/instruments/picture/", COMB).content.decode()
    lacking = fitter.post("/instruments/picture/", COMB | {"n_pins": "x"}).content.decode()
    assert "No drawing yet" in lacking
    assert fitter.post("/instruments/picture/", {"family": "spoon"}).status_code == 404
    unknown = COMB | {"is_there": "1", "uuid": str(uuids.uuid4())}
    assert fitter.post("/instruments/picture/", unknown).status_code == 404


@pytest.mark.parametrize("name", example_names())
def test_every_shipped_instrument_has_a_page(cast: Cast, name: str) -> None:
    text = cast.browser("reader").get(f"/instruments/shipped/{name}/").content.decode()
    assert "family = " in text
    assert ("<svg" in text) == (name != "scan")


def test_what_is_no_instrument_is_not_found(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    assert fitter.get("/instruments/shipped/spoon/").status_code == 404
    assert fitter.get("/instruments/new/?from=scan").status_code == 404
    scan = services.describe_instrument(cast.actors["fitter"], "scan", Document(text=_text("scan")))
    assert fitter.get(f"/instruments/{scan.uuid}/").status_code == 404
    assert str(scan.uuid) not in fitter.get("/measure/new/").content.decode()


def test_every_familys_form_can_be_filled(cast: Cast) -> None:
    for family in FORM_FIELDS:
        answer = cast.browser("fitter").get(f"/instruments/new/?family={family}")
        assert answer.status_code == 200
        assert "No drawing yet" in answer.content.decode() or "<svg" in answer.content.decode()
