"""A scan of an upturned saddle over the web: brought, read beside the pages, looked at, recorded."""

import io
import uuid as uuids

import numpy as np
import pytest
import trimesh
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from web_cast import Cast, do_waiting

from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.records import SaddleDocument, as_json, parse_document
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.keeping.made import made_path
from saddlebench.practice.keeping.scans import scan_path
from saddlebench.practice.models import SaddleScan
from saddlebench.practice.queries.saddle_scans import saddle_scans_of
from saddlebench.web.base.scan_files import home
from support.upturned import scan_file


def measured(cast: Cast) -> str:
    """Record the saddle's numbers as taken by hand; return its address."""
    record = SaddleRecord(
        label="Juniper's", numbers=ALL_ROUND, alterable=usual_alterations(ALL_ROUND, "not known")
    )
    uuid, actor = cast.here[Subject.SADDLE], cast.actors["fitter"]
    seen = queries.saddle_page(actor, uuids.UUID(uuid)).current_number or 0
    services.record_saddle(
        actor, uuids.UUID(uuid), Document(text=as_json(SaddleDocument.of(record))), seen=seen
    )
    return f"/saddles/{uuid}/scan/"


def brought(client: Client, address: str, content: bytes, **more: str) -> tuple[str, str]:
    key = str(uuids.uuid4())
    given = {"uuid": key, "unit": "m", "heading": "from the shape"} | more
    answer = client.post(address, given | {"scan": SimpleUploadedFile("scan.ply", content)})
    assert answer.status_code == 302, answer.content.decode()[-2000:]
    do_waiting()
    return f"/undersides/{address.split('/')[2]}/{key}/", f"/jobs/{key}/"


def test_a_scan_is_looked_at_and_becomes_a_version(cast: Cast) -> None:
    fitter, address = cast.browser("fitter"), measured(cast)
    found, job = brought(fitter, address, scan_file())
    shown = fitter.get(found)
    assert shown.status_code == 200, fitter.get(job).content.decode()[-2000:]
    words = shown.content.decode()
    assert "Channel" in words
    assert "not a diagnosis" in words
    assert fitter.get(f"{found}picture/")["Content-Type"] == "image/svg+xml"
    saddle = uuids.UUID(cast.here[Subject.SADDLE])
    before = queries.saddle_page(cast.actors["fitter"], saddle).current_number
    answer = fitter.post(found, {"do": "record", "seen": str(before)})
    assert answer.status_code == 302
    text = queries.saddle_document(cast.actors["fitter"], saddle)
    record = parse_document(SaddleDocument, text, "").record()
    assert record.shape_error is not None
    assert isinstance(record.underside, tuple)
    assert len(record.underside) > 20
    assert cast.browser("other").get(found).status_code == 404
    assert cast.browser("reader").get(found).status_code == 403


def test_what_is_no_scan_is_said_and_nothing_is_kept(cast: Cast) -> None:
    fitter, address = cast.browser("fitter"), measured(cast)
    given = {"uuid": str(uuids.uuid4()), "unit": "m", "heading": "from the shape"}
    broken = b"ply\nformat ascii 1.0\nelement vertex 99999999\nend_header\n"
    answer = fitter.post(address, given | {"scan": SimpleUploadedFile("scan.ply", broken)})
    assert answer.status_code == 422
    assert "scan.ply" in answer.content.decode()
    assert not SaddleScan.objects.exists()


def test_a_scan_is_kept_as_it_came_and_looked_at_again_when_what_was_found_is_gone(cast: Cast) -> None:
    fitter, address = cast.browser("fitter"), measured(cast)
    found, _ = brought(fitter, address, scan_file())
    saddle, actor = uuids.UUID(cast.here[Subject.SADDLE]), cast.actors["fitter"]
    (kept,) = saddle_scans_of(actor, saddle)
    assert (kept.name, kept.unit.value) == ("scan.ply", "m")
    assert scan_path(home(), kept.sha256, kept.suffix).read_bytes() == scan_file()
    made_path(home(), actor.practice_id, uuids.UUID(found.split("/")[3])).unlink()
    assert fitter.get(found).status_code == 404
    shown = fitter.get(address).content.decode()
    assert "scan.ply" in shown
    key = str(uuids.uuid4())
    given = {"uuid": key, "kept": str(kept.uuid), "unit": "m", "heading": "as found"}
    assert fitter.post(address, given).status_code == 302
    do_waiting()
    again = fitter.get(f"/undersides/{saddle}/{key}/").content.decode()
    assert "Underside from the scan scan.ply" in again
    assert len(saddle_scans_of(actor, saddle)) == 1
    assert cast.browser("other").post(address, given).status_code == 404


@pytest.mark.parametrize(
    ("more", "words"), [({"unit": ""}, "unit of the scan is not stated"), ({"heading": "up"}, "pommel")]
)
def test_a_form_that_leaves_something_open(cast: Cast, more: dict[str, str], words: str) -> None:
    fitter, address = cast.browser("fitter"), measured(cast)
    given = {"uuid": str(uuids.uuid4()), "unit": "m", "heading": "from the shape"} | more
    answer = fitter.post(address, given | {"scan": SimpleUploadedFile("scan.ply", b"ply")})
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_who_may_not(cast: Cast) -> None:
    address = measured(cast)
    assert cast.browser("reader").get(address).status_code == 403
    assert cast.browser("other").get(address).status_code == 404


def test_noise_is_as_made() -> None:
    """The scan that the tests bring is no empty file."""
    mesh = trimesh.load(io.BytesIO(scan_file()), file_type="ply")
    assert np.ptp(np.asarray(mesh.vertices), axis=0).max() > 0.3
