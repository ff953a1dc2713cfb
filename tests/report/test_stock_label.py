"""A saddle's label: the code read back by a general-purpose reader, the sheet's size, equal bytes."""

from dataclasses import replace

import cv2
import numpy as np
import pypdfium2
import pytest

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.stock import StockItem, Whereabouts
from saddlebench.report.stock_label import address_of, label_pdf, label_png

UUID = "12345678-1234-5678-1234-567812345678"
ITEM = StockItem(
    number="INV-1", label="Twite (invented)", record_file="", where=Whereabouts.RACK, uuid=UUID, seat_in=17.0
)


@pytest.mark.parametrize(
    ("site", "address"),
    [("", f"urn:uuid:{UUID}"), ("https://shop.example/", f"https://shop.example/saddles/{UUID}/")],
)
def test_the_code_reads_back_as_the_address(site: str, address: str) -> None:
    picture = cv2.imdecode(np.frombuffer(label_png(ITEM, site), np.uint8), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    read, _, _ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert read == address == address_of(ITEM, site)


def test_the_label_is_90_by_40_mm_and_the_same_every_time() -> None:
    made = label_pdf(ITEM)
    assert label_pdf(ITEM) == made
    pdf = pypdfium2.PdfDocument(made)
    try:
        assert len(pdf) == 1
        assert pdf[0].get_size() == pytest.approx((90.0 / 25.4 * 72.0, 40.0 / 25.4 * 72.0), abs=0.01)
        page = pdf[0].get_textpage()
        assert "seat 17 in" in page.get_text_range()
        page.close()
    finally:
        pdf.close()


def test_a_saddle_without_a_record_has_no_page() -> None:
    bare = replace(ITEM, uuid="")
    assert address_of(bare) == "saddle INV-1"
    with pytest.raises(InputProblemsError, match="no page"):
        label_png(bare, "https://shop.example")
