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
from saddlebench.web.capture.instrument_fields import FORM_FIELDS
from saddlebench.web.capture.instrument_form import described, texts_of
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


CHAIN = {
    "name": "c",
    "left.link_mm": "6 x 30",
    "left.scale.lowest": "-60",
    "left.scale.highest": "60",
    "left.scale.step": "1",
}


def test_uneven_arms_and_a_topline_chain_are_described_in_the_form() -> None:
    texts = texts_of("jointed chain", {}) | CHAIN
    plain, even = described("jointed chain", texts, {})
    assert "right" not in plain
    assert "topline" not in plain
    assert even.right == even.left  # type: ignore[union-attr]
    uneven = texts | {
        "left.pad_below_mm": "6 x 5",
        "right.link_mm": "25 30 35 40",
        "right.zero_deg": "0 -1,5 0 2",
        "topline.link_mm": "5 x 50",
        "topline.first_joint_out_mm": "20",
        "topline.level_step_deg": "0,25",
    }
    document, tool = described("jointed chain", uneven, {})
    assert tool.left.pad_below_mm == (5.0,) * 6  # type: ignore[union-attr]
    assert tool.right.link_mm == (25.0, 30.0, 35.0, 40.0)  # type: ignore[union-attr]
    assert tool.right.zero_deg == (0.0, -1.5, 0.0, 2.0)  # type: ignore[union-attr]
    # What an arm shares with the near one it need not say again.
    assert tool.right.scale == tool.topline.arm.scale == tool.left.scale  # type: ignore[union-attr]
    assert tool.topline.arm.link_mm == (50.0,) * 5  # type: ignore[union-attr]
    assert tool.topline.level_step_deg == 0.25  # type: ignore[union-attr]
    # The form shows what it made, and makes the same of that.
    again, same = described("jointed chain", texts_of("jointed chain", document), document)
    assert (again, same) == (document, tool)
    emptied = texts_of("jointed chain", document) | {
        name: "" for name in uneven if name.startswith(("right.", "topline."))
    }
    bare, one_arm = described("jointed chain", emptied, document)
    assert not {"right", "topline"} & set(bare)
    assert one_arm.right == one_arm.left  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"left.pad_below_mm": "5 5"}, "left.pad_below_mm"),
        ({"right.link_mm": "30 30", "right.zero_deg": "1 2 3"}, "right.zero_deg"),
        ({"topline.link_mm": "30 thirty"}, "topline.link_mm"),
        ({"topline.link_mm": "30", "topline.level_step_deg": "0"}, "topline.level_step_deg"),
    ],
)
def test_what_does_not_fit_an_arm_is_said_at_its_field(wrong: dict[str, str], field: str) -> None:
    with pytest.raises(InputProblemsError) as refused:
        described("jointed chain", texts_of("jointed chain", {}) | CHAIN | wrong, {})
    assert [one.where.field for one in refused.value.problems] == [field]


def test_the_live_drawing_shows_both_arms_and_the_topline(cast: Cast) -> None:
    posted = texts_of("jointed chain", {}) | CHAIN | {"family": "jointed chain", "uuid": str(uuids.uuid4())}
    more = {"right.link_mm": "25 30 35", "topline.link_mm": "4 x 60"}
    drawn = cast.browser("fitter").post("/instruments/picture/", posted | more).content.decode()
    assert "6 links near, 3 off, 4 along the topline" in drawn
    assert "TOPLINE" in drawn


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
