"""A fit check's reports over the web: asked for whom, in which language, lengths and paper."""

import io
import re

import pypdf
import pytest
from study_cast import Checked, record_checked
from web_cast import Cast

from support.reports import text_of


@pytest.fixture
def checked(cast: Cast) -> Checked:
    return record_checked(cast)


def test_the_page_asks_for_whom_language_lengths_and_paper(cast: Cast, checked: Checked) -> None:
    page = cast.browser("workshop").get(f"/checks/{checked.study}/").content.decode()
    form = page[page.index('id="report"') : page.index("Make the PDF")]
    assert f'action="/checks/{checked.study}/runs/1/report.pdf"' in page
    assert re.findall(r'<select id="report-\w+" name="(\w+)"', form) == [
        "for",
        "language",
        "lengths",
        "paper",
    ]
    assert re.findall(r'value="([\w-]+)" selected', form) == ["owner", "en", "mm", "a4"]
    assert form.count("<label") == 4


def test_the_owners_report_is_the_usual_one_under_the_practices_name(cast: Cast, checked: Checked) -> None:
    answer = cast.browser("workshop").get(f"/checks/{checked.study}/runs/1/report.pdf")
    name = r'attachment; filename="fit-check-owner-[0-9a-f]{8}\.pdf"'
    assert re.fullmatch(name, answer["Content-Disposition"])
    assert len(pypdf.PdfReader(io.BytesIO(answer.content)).pages) == 1
    text = text_of(answer.content)
    assert "What next" in text
    client = cast.browser("owner")
    practice = client.get("/").wsgi_request.standing.practice  # type: ignore[attr-defined]
    assert text.startswith(practice)


def test_what_was_chosen_is_made(cast: Cast, checked: Checked) -> None:
    client, path = cast.browser("fitter"), f"/checks/{checked.study}/runs/1/report.pdf"
    answer = client.get(path, {"for": "workshop", "language": "de", "lengths": "in", "paper": "us-letter"})
    text = text_of(answer.content)
    assert "Für die Werkstatt" in text
    assert re.search(r"\d,\d\d in\b", text)
    assert float(pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].mediabox.height) == 792.0
    again = client.get(path, {"for": "workshop", "language": "de"})
    assert again["ETag"] != answer["ETag"]
    assert " mm" in text_of(again.content)


@pytest.mark.parametrize("name", ["for", "language", "lengths", "paper"])
def test_what_is_not_offered_is_as_usual(cast: Cast, checked: Checked, name: str) -> None:
    client, path = cast.browser("reader"), f"/checks/{checked.study}/runs/1/report.pdf"
    assert client.get(path, {name: "../x"})["ETag"] == client.get(path)["ETag"]
