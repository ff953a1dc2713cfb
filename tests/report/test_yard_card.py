"""The yard card: what stands on it in which order, room for every digit, tagged pages, nothing secret."""

import io
import re

import cv2
import numpy as np
import pikepdf
import pypdf
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from saddlebench.engine.errors import InputProblemsError
from saddlebench.report import Paper
from saddlebench.report.yard_card import (
    Answer,
    CardField,
    CardGroup,
    CardPart,
    CardStop,
    YardCard,
    boxes,
    rows_of,
    yard_card_pdf,
)

NUMBER = "urn:uuid:0cb78187-6e7a-4206-a452-6d1ce5848e7e"
PER_POINT = 4
STOP = CardStop(title="Stop, vet first", first="The vet comes first.", causes=("Lame", "Wound"))


def number(words: str, side: str = "", digits: int = 3) -> CardField:
    return CardField(words=words, answer=Answer.NUMBER, unit="mm", digits=digits, side=side)


def card(*fields: CardField, **more: str) -> YardCard:
    group = CardGroup(words="A group", fields=fields)
    return YardCard(stops=(STOP,), parts=(CardPart(words="A part", groups=(group,)),), **more)


def drawn(pdf: bytes) -> NDArray[np.uint8]:
    return np.array(pypdfium2.PdfDocument(pdf)[0].render(scale=PER_POINT).to_pil().convert("L"))


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.parametrize(
    ("low", "high", "step", "wanted"),
    [
        (0, 260, 1, (False, 3, 0)),
        (-400, 1200, 1, (True, 4, 0)),
        (-2500, 2500, 1, (True, 4, 0)),
        (-45, 45, 0.5, (True, 2, 1)),
        (-12, 12, 0.25, (True, 2, 2)),
        (2, 90, 0.5, (False, 2, 1)),
    ],
)
def test_boxes_hold_every_reading(
    low: float, high: float, step: float, wanted: tuple[bool, int, int]
) -> None:
    assert boxes(low, high, step) == wanted


@given(
    low=st.integers(-3000, 3000),
    span=st.integers(1, 3000),
    step=st.sampled_from([5.0, 1.0, 0.5, 0.25, 0.1]),
    share=st.floats(0.0, 1.0),
)
@settings(max_examples=60, derandomize=True, deadline=None)
def test_any_reading_of_a_scale_can_be_written(low: int, span: int, step: float, share: float) -> None:
    has_sign, digits, decimals = boxes(low, low + span, step)
    reading = round(low + round(share * span / step) * step, 6)
    if reading > low + span:
        return
    shown = f"{abs(reading):.{decimals}f}"
    assert float(shown) == pytest.approx(abs(reading))
    assert len(shown.partition(".")[0]) <= digits
    assert has_sign or reading >= 0


def test_near_stands_beside_off_and_short_fields_two_to_a_row() -> None:
    fields = (*map(number, "abc"), number("1", "near"), number("2", "near"), number("1", "off"))
    long = CardField(words="long", answer=Answer.LINES)
    rows = rows_of(CardGroup(words="", fields=(*fields, number("d"), long, number("e"))))
    said = [tuple((f.words, f.side) if f else None for f in row) for row in rows]
    assert said == [
        (("a", ""), ("b", "")),
        (("c", ""), None),
        (("1", "near"), ("1", "off")),
        (("2", "near"), None),
        (("d", ""), None),
        (("long", ""),),
        (("e", ""), None),
    ]


@pytest.mark.parametrize("paper", Paper)
def test_it_is_tagged_and_fits_its_paper(paper: Paper) -> None:
    pdf = yard_card_pdf([card(number("Width"), horse="Bramble", number=NUMBER)], paper)
    with pikepdf.open(io.BytesIO(pdf)) as held:
        assert bool(held.Root.MarkInfo.Marked)
        assert "/StructTreeRoot" in held.Root
        assert str(held.Root.Lang).startswith("en")
        assert "pdfuaid" in held.Root.Metadata.read_bytes().decode()
        box = [float(one) / 72 * 25.4 for one in held.pages[0].MediaBox[2:]]
    assert box == pytest.approx(paper.size_mm, abs=0.1)
    assert pdf == yard_card_pdf([card(number("Width"), horse="Bramble", number=NUMBER)], paper)


def test_stops_stand_first_and_cautions_with_them() -> None:
    text = re.sub(r"\s+", " ", text_of(yard_card_pdf([card(number("Width"))])))
    assert text.index("Stop, vet first") < text.index("not a diagnosis") < text.index("A part")
    assert text.index("Lame") < text.index("Wound") < text.index("Width")
    assert "A qualified fitter" in text


def test_the_code_holds_the_visits_number_and_nothing_else() -> None:
    pdf = yard_card_pdf([card(number("Width"), horse="Bramble", number=NUMBER)])
    assert cv2.QRCodeDetector().detectAndDecode(drawn(pdf))[0] == NUMBER
    assert not cv2.QRCodeDetector().detectAndDecode(drawn(yard_card_pdf([card(number("Width"))])))[0]


def test_digits_are_big_enough_for_cold_hands() -> None:
    """Boxes as they are drawn: at least 8 mm wide and 10 mm high."""
    pdf = yard_card_pdf([card(number("Width", digits=5))])
    page, per_mm = drawn(pdf) < 128, PER_POINT * 72 / 25.4
    found = 0
    contours, _ = cv2.findContours(page.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    for contour in contours:
        _, _, wide, high = cv2.boundingRect(contour)
        found += 7.5 < wide / per_mm < 8.6 and 10.0 < high / per_mm < 11.2
    # The five of the field; the day and the hour have theirs besides.
    assert found >= 5


def test_every_card_begins_on_its_own_page_and_counts_its_own() -> None:
    cards = [card(number("Width"), horse=name) for name in ("Bramble", "Juniper")]
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(yard_card_pdf(cards))).pages]
    assert len(pages) == 2
    for page, name in zip(pages, ("Bramble", "Juniper"), strict=True):
        assert name in page
        assert "page 1 of 1" in page


def test_a_part_that_goes_on_over_the_page_is_named_again() -> None:
    fields = [number(f"Joint {j}", side) for side in ("near", "off") for j in range(1, 31)]
    pages = pypdf.PdfReader(io.BytesIO(yard_card_pdf([card(*fields)]))).pages
    assert len(pages) >= 2
    for page in pages[1:]:
        assert page.extract_text().startswith("A part · goes on")
    assert "goes on" not in pages[0].extract_text()


def test_markup_in_a_name_is_only_words() -> None:
    name = "#pagebreak() *Bold* $x$ \u202e <b> \x07"
    assert "#pagebreak() *Bold* $x$" in text_of(yard_card_pdf([card(number("Width"), horse=name)]))


@pytest.mark.parametrize("many", [0, 13])
def test_no_card_and_too_many_are_refused_in_words(many: int) -> None:
    with pytest.raises(InputProblemsError, match="Choose the visits of one day"):
        yard_card_pdf([card(number("Width"))] * many)
