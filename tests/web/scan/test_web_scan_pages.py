"""A scan over the web: taken in, looked at, its unit asked, its marks set by tap or number, recorded."""

import io
import re
import uuid as uuids

import numpy as np
import pytest
import trimesh
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image
from web_cast import Cast, do_waiting

from saddlebench.demo.scanned import play_scan
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.back.scan import ScanMark
from saddlebench.practice import queries
from saddlebench.practice.enums import Subject
from saddlebench.web.scan.held import folder_of, held_scan


@pytest.fixture(scope="module")
def scan() -> bytes:
    played = play_scan(*whole_horse(), seed=3)
    metres = played.vertices / played.units_per_mm / 1000.0
    content = trimesh.Trimesh(metres, played.faces, process=False).export(file_type="glb")
    assert isinstance(content, bytes)
    return content


def given(cast: Cast, content: bytes, **more: str) -> dict[str, object]:
    return {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-05-04",
        "uuid": str(uuids.uuid4()),
        "scan": SimpleUploadedFile("yard scan.glb", content, "model/gltf-binary"),
    } | more


def looked(cast: Cast, client: Client, content: bytes) -> str:
    form = given(cast, content)
    answer = client.post("/scans/new/", form)
    assert answer.status_code == 302, answer.content.decode()[-2000:]
    assert answer["Location"] == f"/jobs/{form['uuid']}/"
    do_waiting()
    return str(form["uuid"])


def test_a_scan_is_looked_at_asked_its_unit_corrected_and_recorded(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    uuid = looked(cast, fitter, scan)
    page = fitter.get(f"/scans/{uuid}/").content.decode()
    assert "metres: <strong>1.4" in page
    assert not re.search(r'name="unit"[^>]*checked', page)
    picture = fitter.get(f"/scans/{uuid}/picture/")
    assert Image.open(io.BytesIO(picture.content)).size == (1200, 1360)

    # Without a unit nothing is recorded, and it is asked again.
    answer = fitter.post(f"/scans/{uuid}/record/", {"by-LOWEST": "20"})
    assert answer.status_code == 422
    assert "its unit is asked, never guessed" in answer.content.decode()
    assert 'value="20"' in answer.content.decode()

    # A tap sets a mark on the topline there.
    before = held_scan(cast.actors["fitter"], uuids.UUID(uuid))
    answer = fitter.post(f"/scans/{uuid}/mark/", {"mark": "WITHERS", "across": "0.5"})
    assert answer["Location"] == f"/scans/{uuid}/"
    after = held_scan(cast.actors["fitter"], uuids.UUID(uuid))
    moved = after.looked.placed(after.moved[ScanMark.WITHERS][None])[0]
    assert abs(moved[1]) < 0.01
    assert "set by hand" in fitter.get(f"/scans/{uuid}/").content.decode()
    fitter.post(f"/scans/{uuid}/mark/", {"mark": "WITHERS", "back": "1"})
    assert held_scan(cast.actors["fitter"], uuids.UUID(uuid)).moved == before.moved == {}

    answer = fitter.post(f"/scans/{uuid}/record/", {"unit": "m", "by-LAST_RIB": "-25", "felt-LAST_RIB": "1"})
    assert answer.status_code == 302
    do_waiting()
    back = answer["Location"].split("/")[2]
    shown = fitter.get(f"/backs/{back}/")
    assert shown.status_code == 200, shown.content.decode()[-1500:]
    assert not folder_of(uuids.UUID(uuid)).exists()
    assert fitter.get(f"/scans/{uuid}/").status_code == 404
    versions = queries.back_page(cast.actors["fitter"], uuids.UUID(back))
    assert versions.horse.uuid == uuids.UUID(cast.here[Subject.HORSE])


def test_no_horse_and_no_scan_are_told_on_the_jobs_page(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    floor = trimesh.creation.box(extents=(4.0, 4.0, 0.001)).export(file_type="glb")
    for content, words in ((floor, "no animal"), (b"PK\x03\x04" + b"\0" * 99, "a zip archive")):
        form = given(cast, content)
        fitter.post("/scans/new/", form)
        do_waiting()
        assert words in fitter.get(f"/jobs/{form['uuid']}/").content.decode()
        assert not folder_of(uuids.UUID(str(form["uuid"]))).exists()


def test_a_form_without_a_file_or_day_says_both(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    form = given(cast, b"", day="soon")
    del form["scan"]
    answer = fitter.post("/scans/new/", form)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "no scan was chosen" in page
    assert "this is not a date" in page


def test_a_scan_is_its_practices_own(cast: Cast, scan: bytes) -> None:
    uuid = looked(cast, cast.browser("fitter"), scan)
    outsider = cast.browser("other")
    for address in (f"/scans/{uuid}/", f"/scans/{uuid}/picture/"):
        assert outsider.get(address).status_code == 404
    assert outsider.post(f"/scans/{uuid}/record/", {"unit": "m"}).status_code == 404
    # Nor can its file be written over under its name.
    form = given(cast, b"other", uuid=uuid) | {"horse": cast.elsewhere[Subject.HORSE]}
    assert outsider.post("/scans/new/", form).status_code == 404
    assert held_scan(cast.actors["fitter"], uuids.UUID(uuid)).looked.n_faces > 100_000


def test_numbers_that_cannot_be_are_told_beside_their_field(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    uuid = looked(cast, fitter, scan)
    answer = fitter.post(
        f"/scans/{uuid}/record/", {"unit": "m", "height": "1500", "by-WITHERS": "far", "by-LOWEST": "9000"}
    )
    assert answer.status_code == 422
    page = answer.content.decode()
    for words in ("both a unit and a height", "is not a number", "9000 mm is not between"):
        assert words in page
    assert np.isfinite(held_scan(cast.actors["fitter"], uuids.UUID(uuid)).looked.mm_per_unit)
