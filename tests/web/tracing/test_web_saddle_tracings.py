"""A saddle's tracings over the web: photos read beside the pages, looked at, put right, recorded."""

import io
import re
import uuid as uuids
from functools import lru_cache

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from numpy.typing import NDArray
from PIL import Image
from web_cast import Cast, do_waiting

from saddlebench.demo.saddles import ALL_ROUND, TWISTED
from saddlebench.demo.traced_saddle import drawn_across, leans_deg, traced_saddle_photos
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.sections import sections_of
from saddlebench.exchange.records import SaddleDocument, as_json, parse_document
from saddlebench.exchange.retelling import noting_missed
from saddlebench.exchange.sheets.layout import SheetKind, layout_of
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.photos import photos_of
from support.traced_paper import plain_with_lines

STATIONS = (20.0, 120.0, 240.0, 350.0)


@lru_cache(maxsize=1)
def twisted() -> SaddleModel:
    return model_from_numbers(TWISTED, 800)


def as_jpeg(picture: NDArray[np.uint8]) -> bytes:
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=85)
    return out.getvalue()


@pytest.fixture(scope="module")
def sheets() -> list[bytes]:
    """Four sections on two sheets."""
    return [as_jpeg(one) for one in traced_saddle_photos(twisted(), behind_mm=STATIONS)]


def measured(cast: Cast) -> uuids.UUID:
    """Record the saddle's numbers as taken by hand; they know nothing of a twist."""
    record = SaddleRecord(
        label="Juniper's", numbers=ALL_ROUND, alterable=usual_alterations(ALL_ROUND, "not known")
    )
    saddle, actor = uuids.UUID(cast.here[Subject.SADDLE]), cast.actors["fitter"]
    seen = queries.saddle_page(actor, saddle).current_number or 0
    services.record_saddle(actor, saddle, Document(text=as_json(SaddleDocument.of(record))), seen=seen)
    return saddle


def form(*contents: bytes, **more: str) -> dict[str, object]:
    given: dict[str, object] = {
        "stations": " ".join(f"{one:g}" for one in STATIONS),
        "leans": " ".join(f"{one:.1f}" for one in leans_deg(twisted(), STATIONS)),
        "instrument": "curve-mm",
        "uuid": str(uuids.uuid4()),
    }
    files = [SimpleUploadedFile(f"{i}.jpg", one, "image/jpeg") for i, one in enumerate(contents)]
    return given | {"photos": files} | more


def begun(client: Client, saddle: uuids.UUID, *contents: bytes, **more: str) -> str:
    given = form(*contents, **more)
    answer = client.post(f"/saddles/{saddle}/tracings/new/", given)
    assert answer.status_code == 302, answer.content.decode()[-3000:]
    do_waiting()
    return f"/saddles/{saddle}/tracings/{given['uuid']}/"


def test_tracings_are_read_looked_at_put_right_and_become_a_version(cast: Cast, sheets: list[bytes]) -> None:
    fitter, saddle = cast.browser("fitter"), measured(cast)
    page = begun(fitter, saddle, sheets[0], leans="")
    words = fitter.get(page).content.decode()
    assert "at least four are needed" in words
    assert fitter.post(f"{page}record/", {"seen": "1"}).status_code == 422
    more = {"photos": [SimpleUploadedFile("2.jpg", sheets[1])], "form": str(uuids.uuid4())}
    assert fitter.post(f"{page}more/", more).status_code == 302
    do_waiting()
    _says_what_cannot_be_known_until_leans_are_given(fitter, page)
    _is_looked_at(fitter, page)
    before = queries.saddle_page(cast.actors["fitter"], saddle).current_number
    assert fitter.post(f"{page}record/", {"seen": str(before)}).status_code == 302
    text = queries.saddle_document(cast.actors["fitter"], saddle)
    record = parse_document(SaddleDocument, text, "").record()
    assert isinstance(record.underside, tuple)
    assert [section.behind_mm for section in record.underside] == list(STATIONS)
    assert record.shape_error is not None
    # Put right by hand, the other as it was traced.
    assert record.underside[0].left[0, 0] == pytest.approx(44.0, abs=1.5)
    exact = sections_of(twisted(), STATIONS)
    assert record.underside[1].left[0, 0] == pytest.approx(exact[1].left[0, 0], abs=1.0)
    assert len(photos_of(cast.actors["fitter"], saddle=saddle)) == 2
    assert cast.browser("reader").get(page).status_code == 403


def _says_what_cannot_be_known_until_leans_are_given(fitter: Client, page: str) -> None:
    words = fitter.get(page).content.decode()
    assert "2 of 2 photos are still to be looked at" in words
    assert "Neither twist nor which panel stands out more can be told" in words
    assert "<td>cannot tell</td>" in words
    assert "not a diagnosis" in words
    with noting_missed() as missed:
        answer = fitter.get(page, HTTP_ACCEPT_LANGUAGE="de")
        pictures = [fitter.get(f"{page}picture/", HTTP_ACCEPT_LANGUAGE=one).content for one in ("de", "en")]
    words = answer.content.decode()
    assert "2 von 2 Fotos sind noch anzusehen" in words
    assert "Weder eine Verdrehung noch, welches Kissen weiter vorsteht, ist zu sagen" in words
    assert "<td>nicht zu sagen</td>" in words
    assert "keine Diagnose" in words
    assert b"Unterseite, wie abgezeichnet" in pictures[0]
    assert b"Underside, as traced" in pictures[1]
    assert sorted(set(missed)) == []
    wrong = fitter.post(page, {"stations": "20 120 240 350", "leans": "1 2"})
    assert wrong.status_code == 422
    assert "2 values are given for 4 stations" in wrong.content.decode()
    given = {"stations": "20 120 240 350", "leans": "1,4 - -0,5 -1,6"}
    assert fitter.post(page, given)["Location"] == page
    words = fitter.get(page).content.decode()
    assert re.search(r"turned by [23]\.\d° ± 0\.\d° against the front, near side up", words)


def _is_looked_at(fitter: Client, page: str) -> None:
    assert fitter.get(f"{page}picture/")["Content-Type"] == "image/svg+xml"
    one = fitter.get(f"{page}photos/1/").content.decode()
    assert 'name="moved-0"' in one
    assert re.search(r'name="left-edge-0" value="4[01]\.\d"', one)
    wrong = fitter.post(f"{page}photos/1/", {"left-edge-0": "400", "form": str(uuids.uuid4())})
    assert wrong.status_code == 422
    kept = fitter.post(f"{page}photos/1/", {"left-edge-0": "44", "form": str(uuids.uuid4())})
    assert kept["Location"] == f"{page}photos/2/"
    assert fitter.post(f"{page}photos/2/", {"form": str(uuids.uuid4())})["Location"] == page
    assert "Record it as a new version" in fitter.get(page).content.decode()


def test_plain_paper_is_read_by_its_corners(cast: Cast, plain_sheet: tuple[bytes, list[str]]) -> None:
    fitter, saddle = cast.browser("fitter"), measured(cast)
    content, places = plain_sheet
    page = begun(fitter, saddle, content)
    assert "Mark its corners" in fitter.get(page).content.decode()
    corners = fitter.get(f"{page}photos/1/corners/").content.decode()
    assert "near side on the left" in corners
    given = {"paper": "a3", "turned": "wide", "form": str(uuids.uuid4())}
    for k, place in enumerate(places, start=1):
        given |= dict(zip((f"x-c{k}", f"y-c{k}"), place.split(","), strict=True))
    given |= {"x-l1": "500", "y-l1": "600", "x-l2": "900", "y-l2": "600"}
    answer = fitter.post(f"{page}photos/1/corners/", given)
    assert answer.status_code == 302, answer.content.decode()[-2000:]
    do_waiting()
    shown = fitter.get(f"{page}photos/1/")
    assert shown.status_code == 200
    assert re.search(r'name="left-edge-1" value="3\d', shown.content.decode())


@pytest.fixture(scope="module")
def plain_sheet() -> tuple[bytes, list[str]]:
    """Two curves on an A3 paper on which nothing is printed, and its corners in the photo."""
    layout = layout_of(SheetKind.SADDLE, "a3", 1)
    lines = [
        line.points
        for k, one in enumerate(sections_of(twisted(), STATIONS[:2]))
        for line in drawn_across(one, layout, down_mm=8.0 + 40.0 * k)
    ]
    content, corners = plain_with_lines(layout, lines)
    return content, [f"{x:.0f},{y:.0f}" for x, y in corners]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"stations": ""}, "no station has a distance"),
        ({"stations": "20 120 x"}, "stations"),
        ({"stations": "20 20 120 240"}, "two stations have one distance"),
        ({"gaps": "900 0 0 0"}, "no gap beside a rod"),
    ],
    ids=["none", "letters", "twice", "gap"],
)
def test_a_form_that_leaves_something_open(cast: Cast, more: dict[str, str], words: str) -> None:
    fitter, saddle = cast.browser("fitter"), measured(cast)
    answer = fitter.post(f"/saddles/{saddle}/tracings/new/", form(b"none", **more))
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_who_may_not(cast: Cast) -> None:
    saddle = measured(cast)
    address = f"/saddles/{saddle}/tracings/new/"
    assert cast.browser("reader").get(address).status_code == 403
    assert cast.browser("other").get(address).status_code == 404
    assert cast.browser("fitter").get(f"/saddles/{saddle}/tracings/{uuids.uuid4()}/").status_code == 404
