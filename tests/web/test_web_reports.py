"""A fit check's reports over the web: asked for whom, in which language, lengths and paper."""

import io
import re
import uuid as uuids

import pypdf
import pytest
from planned_cast import recorded_plan
from study_cast import Checked, record_checked
from web_cast import Cast

from saddlebench.practice.models import Horse
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
    assert re.search(r"\d,\d\d″", text)
    assert float(pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].mediabox.height) == 792.0
    again = client.get(path, {"for": "workshop", "language": "de"})
    assert again["ETag"] != answer["ETag"]
    assert " mm" in text_of(again.content)


@pytest.mark.parametrize("name", ["for", "language", "lengths", "paper"])
def test_what_is_not_offered_is_as_usual(cast: Cast, checked: Checked, name: str) -> None:
    client, path = cast.browser("reader"), f"/checks/{checked.study}/runs/1/report.pdf"
    assert client.get(path, {name: "../x"})["ETag"] == client.get(path)["ETag"]


def test_the_facts_at_the_head_are_the_horses_as_the_reader_writes_them(cast: Cast, checked: Checked) -> None:
    """162.56 cm are 16 hands: a hand is 4 inches of 25.4 mm."""
    client, path = cast.browser("fitter"), f"/checks/{checked.study}/runs/1/report.pdf"
    before = client.get(path)["ETag"]
    horse = Horse.objects.get(uuid=checked.horse)
    horse.height_cm, horse.breed = 162.5, "Connemara cross"
    horse.save()
    english = text_of(client.get(path).content)
    assert f"Horse {horse.label}" in english
    assert "Height 162.5 cm (16.0 hands)" in english
    assert "Measured on" in english
    assert client.get(path)["ETag"] != before
    assert "Height 16.0 hands (162.5 cm)" in text_of(client.get(path, {"lengths": "in"}).content)
    german = text_of(client.get(path, {"language": "de"}).content)
    assert "Stockmaß 162,5 cm" in german
    assert "Rasse Connemara cross" in german
    assert "hands" not in german


def test_a_plan_stands_in_the_workshops_report(cast: Cast, checked: Checked) -> None:
    client, path = cast.browser("fitter"), f"/checks/{checked.study}/runs/1/report.pdf"
    assert 'name="plan"' not in client.get(f"/checks/{checked.study}/").content.decode()
    plan = recorded_plan(cast, checked)
    page = client.get(f"/checks/{checked.study}/").content.decode()
    assert f'<option value="{plan}">' in page[page.index('name="plan"') :]
    assert f"report.pdf?for=workshop&amp;plan={plan}" in client.get(f"/plans/{plan}/").content.decode()
    without = client.get(path, {"for": "workshop"})
    assert "What is to be altered" not in text_of(without.content)
    answer = client.get(path, {"for": "workshop", "plan": str(plan)})
    text = text_of(answer.content)
    assert "What is to be altered" in text
    assert "New flock beds down" in text or "Nothing is to be altered" in text
    assert answer["ETag"] != without["ETag"]
    # The owner's report has no plan; what is no plan of this run is nowhere.
    assert client.get(path, {"plan": str(plan)})["ETag"] == client.get(path)["ETag"]
    for wrong in ("x", str(uuids.uuid4())):
        assert client.get(path, {"for": "workshop", "plan": wrong}).status_code == 404
