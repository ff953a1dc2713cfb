"""From a finding's "measure this section again" to the page of that repeat, and on to the check run again."""

import re
import uuid as uuids
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from capture_invented import begin
from capture_readings import invented_values
from study_cast import documents, services_current
from web_cast import Cast, do_waiting

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.fit.loads import Rider
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.places import place_words
from saddlebench.exchange.records import StudyDocument, as_json, parse_document
from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import BackVersion, Job
from saddlebench.practice.queries.studies import study_page
from saddlebench.web.capture.readings import values_of_readings
from saddlebench.web.capture.repeating import SECTIONS, why_of
from support.reports import SECTION_IN_DOUBT

TOOL = "comb-24x15-foot"
PLACES = (-140.0, -20.0, 110.0, 280.0, 450.0, 600.0)
"""Far enough for a saddle."""
OTHERS = ("mark", "stance", "coat")
_made: dict[str, Document] = {}


@cache
def readings(seed: int) -> dict[str, Value]:
    """Return every section as one laying of the instrument after the other reads it."""
    read = measured_at(PLAIN, example_instrument(TOOL), PLACES, np.random.default_rng(seed))
    return {
        name: float(value) if isinstance(value, float) else value
        for name, value in values_of_readings(example_instrument(TOOL), read).items()
    }


def whole_back() -> dict[str, Value]:
    marks = {name: value for name, value in invented_values(TOOL).items() if name.split("/")[0] in OTHERS}
    return {**readings(7), **marks}


def in_doubt(made: Document) -> Document:
    """Return a check with one finding that hangs on the third section, whatever its few tries showed."""
    study = parse_document(StudyDocument, made.text, "check").study()
    source = replace(SECTION_IN_DOUBT, at_mm=PLACES[2])
    doubt = replace(study.put.doubts[0], is_told=False, sources=(source,))
    put = replace(study.put, doubts=(doubt,))
    return Document(text=as_json(StudyDocument.of(replace(study, put=put))))


def checked_back(cast: Cast) -> tuple[str, str]:
    """Measure a back by hand, record it, check a saddle on it; return the measuring's address, the check."""
    actor, where = cast.actors["fitter"], begin(cast, TOOL, whole_back())
    assert cast.browser("fitter").post(f"{where}finish/").status_code == 302
    back = uuids.UUID(where.split("/")[2])
    saddle = services.record_saddle(
        actor,
        uuids.UUID(cast.here[Subject.SADDLE]),
        documents()[1],
        seen=services_current(cast, "fitter"),
    ).version
    version = BackVersion.objects.get(back__uuid=back).uuid
    request = StudyRequest(rider=Rider(mass_kg=70.0), draws=16)
    if TOOL not in _made:
        made = services.compute_check(actor, request, back_version=version, saddle_version=saddle.uuid)
        _made[TOOL] = in_doubt(made)
    study = services.record_study(
        actor, _made[TOOL], back_version=version, saddle_version=saddle.uuid
    ).version.study
    return where, str(study.uuid)


def test_one_tap_leads_to_the_repeat_and_the_check_is_run_again_with_it(cast: Cast) -> None:
    where, study = checked_back(cast)
    fitter = cast.browser("fitter")
    page = fitter.get(f"/checks/{study}/").content.decode()
    forms = re.findall(r'<form method="post" action="([^"]+/repeat/)"(.*?)</form>', page, flags=re.S)
    assert forms, "no finding asks for a section again"
    action, form = forms[0]
    assert action == f"{where}repeat/"
    fields = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', form))
    at = float(fields["at"])
    assert at in PLACES
    where_words = place_words(at)
    assert f"Measure the section {where_words} again" in form
    number = 1 + PLACES.index(at)
    answer = fitter.post(action, fields)
    assert re.fullmatch(rf"{where}part/s\d+r[12]/", answer["Location"])
    part = fitter.get(answer["Location"]).content.decode()
    assert f"Section {number} again" in part or f"Section {number}, time" in part
    # Tapped again before anything is read, it is the same repeat.
    assert fitter.post(action, fields)["Location"] == answer["Location"]
    key = answer["Location"].split("/")[-2]
    station = key.split("r")[0]
    posted = {
        name.replace(f"{station}r0/", f"{key}/"): str(value)
        for name, value in readings(8).items()
        if name.startswith(f"{station}r0/") and name.count("/") > 1
    }
    assert fitter.post(f"{where}part/{key}/", posted).status_code == 302
    overview = fitter.get(where).content.decode()
    assert f'value="section {where_words} measured again"' in overview
    assert "the fit check that it was measured for is run again with it" in overview
    done = fitter.post(f"{where}finish/", {"seen": "1", "why": f"section {where_words} measured again"})
    assert done["Location"].startswith("/jobs/")
    do_waiting()
    job = Job.objects.latest("id")
    assert job.state == "done", job.said
    assert job.leads_to == f"/checks/{study}/"
    shown = study_page(cast.actors["fitter"], uuids.UUID(study))
    assert (shown.current_number, shown.run.back_number) == (2, 2)
    assert shown.run.why == f"section {where_words} measured again"
    again = fitter.get(job.leads_to).content.decode()
    assert "run 2" in again
    assert "newer version since" not in again


def test_without_a_repeat_a_corrected_back_is_offered_to_its_check(cast: Cast) -> None:
    where, study = checked_back(cast)
    fitter = cast.browser("fitter")
    fitter.post(f"{where}repeat/", {"section": "2", "check": study})
    # Taken up for its own sake, no check waits for it.
    fitter.post(f"{where}take-up/")
    assert "is run again with it" not in fitter.get(where).content.decode()
    fitter.post(f"{where}part/marks/", {"mark/lowest": "241"})
    done = fitter.post(f"{where}finish/", {"seen": "1", "why": "lowest point misread"})
    assert done["Location"].startswith("/backs/")
    page = fitter.get(f"/checks/{study}/").content.decode()
    assert "Back or saddle have a newer version since" in page
    assert "Run it on them as they are now" in page
    assert "Run it on them" not in cast.browser("reader").get(f"/checks/{study}/").content.decode()
    asked = fitter.post(f"/checks/{study}/on-current/")
    assert asked["Location"].startswith("/jobs/")
    do_waiting()
    run = study_page(cast.actors["fitter"], uuids.UUID(study)).run
    assert run.why.startswith("back version 2, saddle version")
    fitter.post(f"/checks/{study}/on-current/")
    do_waiting()
    assert "nothing to run again" in Job.objects.latest("id").said


def test_a_section_is_found_by_its_place_though_others_were_added_before_it(cast: Cast) -> None:
    where = begin(cast, TOOL, {**whole_back(), "s21r0/distance": -80.0, "s22r0/distance": 30.0})
    fitter = cast.browser("fitter")
    third = PLACES[2]
    answer = fitter.post(f"{where}repeat/", {"at": f"{third:g}"})
    assert re.fullmatch(rf"{where}part/s3r[12]/", answer["Location"])
    assert "110 mm behind the shoulder mark" in fitter.get(answer["Location"]).content.decode()
    # A section that was moved away is not silently another one.
    for elsewhere in ("118", "nan", "inf"):
        said = fitter.post(f"{where}repeat/", {"at": elsewhere}).content.decode()
        assert "no such section" in said, elsewhere


@pytest.mark.parametrize(
    ("held", "said"),
    [
        ("110 mm", "section 110 mm behind the shoulder mark measured again"),
        (
            "110 mm, -20 mm",
            "sections 110 mm behind the shoulder mark and 20 mm in front of the shoulder mark measured again",
        ),
        ("3, 5", "sections 3 and 5 measured again"),
        ("", ""),
    ],
)
def test_why_a_back_is_measured_again_is_said_by_places(held: str, said: str) -> None:
    assert why_of({SECTIONS: held}) == said


def test_a_section_that_is_none_or_a_check_that_is_none_is_refused(cast: Cast) -> None:
    where = begin(cast, TOOL, invented_values(TOOL))
    fitter = cast.browser("fitter")
    for wrong in ({"section": "99"}, {"section": "two"}, {}):
        assert "no such section" in fitter.post(f"{where}repeat/", wrong).content.decode()
    assert fitter.post(f"{where}repeat/", {"section": "2", "check": "nonsense"}).status_code == 404
