"""A rebuild proved: measured through the measuring pages or brought as a record, laid on its original."""

import io
import re
import uuid as uuids

import pypdf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from replica_cast import COMB, back_of, check_of, rebuilt_document
from web_cast import Cast, back_document

from exchange.studies import back_record
from saddlebench.engine.replica.settings import settings_for
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Back, RebuildCheck
from saddlebench.practice.services import Entered
from saddlebench.web.capture.readings import values_of_readings


def sent(document: str) -> SimpleUploadedFile:
    return SimpleUploadedFile("rebuilt.back.json", document.encode(), content_type="application/json")


def test_a_rebuild_measured_through_the_pages_is_proved_and_is_none_of_the_horses_backs(cast: Cast) -> None:
    back, fitter = back_of(cast), cast.browser("fitter")
    n_backs = Back.objects.count()
    where = f"/backs/{back}/rebuild/prove/"
    form = {"measure": "yes", "instrument": COMB, "day": "2026-05-09", "form": str(uuids.uuid4())}
    answer = fitter.post(where, form)
    assert answer.status_code == 302, answer.content.decode()[:500]
    measuring = answer["Location"]
    page = fitter.get(measuring).content.decode()
    assert "A rebuild of Juniper’s back" in page
    uuid = uuids.UUID(measuring.split("/")[2])
    planned = queries.capture_page(cast.actors["fitter"], uuid).values
    assert len([one for one in planned if re.fullmatch(r"s\d+r0/distance", one)]) == 8
    tool = example_instrument(COMB)
    readings = settings_for(measured(back_record()).estimated, tool).readings
    marks = {f"mark/{name}": value for name, value in _marks().items()}
    values = {**values_of_readings(tool, readings), **marks}
    entries = [
        Entered(field=name, value=value, key=uuids.uuid4(), seen=999) for name, value in values.items()
    ]
    services.enter_readings(cast.actors["fitter"], uuid, entries)
    answer = fitter.post(f"{measuring}finish/")
    assert answer.status_code == 302, answer.content.decode()[:900]
    found = fitter.get(answer["Location"]).content.decode()
    assert "Good: the rebuild shows the record." in found
    assert "Station 8" in found
    assert Back.objects.count() == n_backs
    assert "compared with its original" in fitter.get(measuring).content.decode()


def _marks() -> dict[str, float]:
    landmarks = back_record().landmarks
    names = ("withers_summit", "lowest_point", "last_rib", "spine_strip_width")
    found = {name: getattr(landmarks, name, None) for name in names}
    return {name: mark.value_mm for name, mark in found.items() if hasattr(mark, "value_mm")}


def test_a_record_of_the_rebuild_brought_along_is_judged_and_comes_as_a_sheet(cast: Cast) -> None:
    back, workshop = back_of(cast), cast.browser("workshop")
    where = f"/backs/{back}/rebuild/prove/"
    form = {"file": "yes", "form": str(uuids.uuid4()), "tolerance": "3"}
    answer = workshop.post(where, {**form, "record": sent(rebuilt_document().text)})
    assert answer.status_code == 302, answer.content.decode()[:500]
    page = workshop.get(answer["Location"]).content.decode()
    assert "Good: the rebuild shows the record." in page
    assert "within 3 mm" in page
    sheet = workshop.get(f"{answer['Location']}sheet.pdf")
    assert sheet["Content-Disposition"] == 'attachment; filename="juniper-rebuild-check-2026-05-09.pdf"'
    text = "".join(one.extract_text() for one in pypdf.PdfReader(io.BytesIO(sheet.content)).pages)
    assert "Rebuild check sheet: Juniper" in text
    again = workshop.post(where, {**form, "record": sent(rebuilt_document().text)})
    assert again["Location"] == answer["Location"]
    assert RebuildCheck.objects.count() == 1


def test_a_station_that_is_off_is_named_with_what_to_do(cast: Cast) -> None:
    page = cast.browser("reader").get(check_of(cast, back_of(cast), deep_mm=14.0)).content.decode()
    assert "Move station 4." in page
    assert re.search(r"verdict-not-right.{0,120}move", page, re.DOTALL)
    assert "mm too low" in page
    assert "screening aid, not a diagnosis" in page


@pytest.mark.parametrize(
    ("content", "said"),
    [("", "no file was chosen"), ("no JSON", "JSON"), ("{}", "format"), (back_document(3).text, "readings")],
)
def test_what_is_no_back_record_is_refused_in_words(cast: Cast, content: str, said: str) -> None:
    form: dict[str, object] = {"file": "yes"} | ({"record": sent(content)} if content else {})
    answer = cast.browser("fitter").post(f"/backs/{back_of(cast)}/rebuild/prove/", form)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not RebuildCheck.objects.exists()


def test_a_rebuild_that_cannot_be_compared_is_refused_before_it_is_recorded(cast: Cast) -> None:
    other = rebuilt_document(90.0, everywhere=True).text
    answer = cast.browser("fitter").post(
        f"/backs/{back_of(cast)}/rebuild/prove/", {"file": "yes", "record": sent(other)}
    )
    assert answer.status_code == 422
    assert "beyond the range" in answer.content.decode()
    assert not RebuildCheck.objects.exists()


def test_a_day_that_is_none_is_refused(cast: Cast) -> None:
    form = {"measure": "yes", "instrument": COMB, "day": "yesterday"}
    answer = cast.browser("fitter").post(f"/backs/{back_of(cast)}/rebuild/prove/", form)
    assert answer.status_code == 422
    assert "not a date" in answer.content.decode()


def test_a_back_that_makes_no_surface_says_so_instead_of_failing(cast: Cast) -> None:
    back = cast.here[Subject.BACK]
    fitter = cast.browser("fitter")
    assert fitter.get(f"/backs/{back}/rebuild/").status_code == 200
    for path in ("make/templates/", "make/ribs/", "make/solid/"):
        answer = fitter.get(f"/backs/{back}/rebuild/{path}")
        assert answer.status_code == 422
        assert "cannot be made like this" in answer.content.decode()
    answer = fitter.post(f"/backs/{back}/rebuild/set/", {"instrument": COMB, "tolerance": "2"})
    assert answer.status_code == 422
