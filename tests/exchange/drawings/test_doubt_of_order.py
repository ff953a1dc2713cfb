"""Which of two saddles stands first: in words, as JSON that gives it back, and drawn."""

import json
from dataclasses import replace

import pytest

from saddlebench.engine.choose import OrderDoubt
from saddlebench.engine.fit.doubt_sources import SourceKind, WorthRepeating
from saddlebench.exchange.doubt_of_order import (
    ORDER_HEADING,
    order_advice,
    order_as_json,
    order_of_json,
    order_words,
    told_of_order,
)
from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM, as_svg
from saddlebench.exchange.drawings.doubt import doubt_chart
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.exchange.retelling import noting_missed

SECTION = WorthRepeating(
    source="station 3, off side",
    kind=SourceKind.SECTION,
    share=0.5,
    low=-1.1,
    high=1.7,
    removes=0.4,
    settles=0.6,
    stations=(3,),
    at_mm=110.0,
)
CHANNEL = WorthRepeating(
    source="the width of the channel (Sallow)",
    kind=SourceKind.SADDLE,
    share=0.3,
    low=-0.8,
    high=1.4,
    removes=0.15,
    settles=0.1,
)
SOFT = WorthRepeating(
    source="how soft the back is", kind=SourceKind.ASSUMPTION, share=0.2, low=-0.6, high=1.2, removes=0.0
)
DOUBT = OrderDoubt(
    first="a",
    first_label="Rowan (invented), 17 in",
    other="b",
    other_label="Sallow (invented), 17½ in",
    lead=0.3,
    agreeing=0.62,
    sources=(SECTION, CHANNEL, SOFT),
)


def plain(words: str) -> str:
    return words.replace("\u00a0", " ")


def test_it_says_how_sure_the_order_is_and_what_to_read_again() -> None:
    assert order_words(DOUBT) == (
        "In 62 of 100 tries Rowan (invented), 17 in costs less than Sallow (invented), 17½ in."
    )
    assert plain(order_advice(DOUBT)) == (
        "Measure station 3 (110 mm behind the shoulder mark) again on the off side (right); "
        "which stands first can then be told in about 60 of 100 cases."
    )
    seldom = replace(DOUBT, sources=(CHANNEL, SOFT))
    assert order_advice(seldom) == (
        "Measure the width of the channel (Sallow) again; "
        "which stands first can then be told in about 10 of 100 cases only."
    )
    never = replace(DOUBT, sources=(replace(CHANNEL, settles=0.0),))
    assert "that alone does not tell which stands first" in order_advice(never)
    assert "rests on assumptions" in order_advice(replace(DOUBT, sources=(SOFT,)))
    assert "no repeat is needed" in order_advice(replace(DOUBT, agreeing=0.9))


def test_its_sentences_have_their_german_and_saddles_keep_their_names() -> None:
    with read_by(Reader(language=Language.GERMAN)), noting_missed() as missed:
        told = " ".join(told_of_order([DOUBT]))
    assert missed == []
    assert "in 62 von 100 Versuchen kostet Rowan (invented), 17 in weniger als Sallow" in told.replace(
        "In 62", "in 62"
    )
    assert "welcher vorn steht, ist dann in etwa 60 von 100 Fällen zu sagen" in told


def test_it_comes_back_from_json_with_the_same_words() -> None:
    written = order_as_json([DOUBT])
    (back,) = order_of_json(json.loads(json.dumps(written)))
    assert told_of_order([back]) == told_of_order([DOUBT])
    assert (back.lead, back.agreeing, back.is_told) == (0.3, 0.62, False)
    assert [one.share for one in back.sources] == [0.5, 0.3, 0.2]
    assert order_as_json([back]) == written


@pytest.mark.parametrize("width", [PHONE_WIDTH_MM, PAGE_WIDTH_MM])
def test_the_picture_names_both_saddles_at_their_ends(width: float) -> None:
    drawing = doubt_chart([DOUBT], heading=ORDER_HEADING, pair="Otter", width_mm=width)
    svg = as_svg(drawing)
    assert drawing.title == "What would tell which stands first: Otter"
    assert "again on the off side" in plain(drawing.description)
    for words in ("neither first", "← Sallow", "→"):
        assert words in svg
    assert svg.count("how soft the back is") >= 1
    # Which side is never cut: it stands before the place.
    assert "station 3, off side (110" in plain(svg)
