"""A scan in pieces over the web: several files laid on each other, by hand where the shape does not say."""

import json
import uuid as uuids
from typing import Any

import numpy as np
import pytest
import trimesh
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from web_cast import Cast, do_waiting

from saddlebench.demo.scanned import PlayedScan, Playing, play_pieces
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.units import Length
from saddlebench.practice import queries
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.scans import ScanState, scan_page
from saddlebench.web.scan.held import held_scan


@pytest.fixture(scope="module")
def played() -> list[PlayedScan]:
    return play_pieces(*whole_horse(), seed=5, playing=Playing(scaled=False), overlap=0.35)


@pytest.fixture(scope="module")
def files(played: list[PlayedScan]) -> list[bytes]:
    out = []
    for one in played:
        content = trimesh.Trimesh(one.vertices / 1000.0, one.faces, process=False).export(file_type="ply")
        assert isinstance(content, bytes)
        out.append(content)
    return out


def form_of(cast: Cast, files: list[bytes], **more: str) -> dict[str, Any]:
    return {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-05-04",
        "uuid": str(uuids.uuid4()),
        # Phones call every scan the same.
        "scan": [SimpleUploadedFile("scan.ply", content) for content in files],
        "unit": "m",
    } | more


def shape_of(client: Client, address: str) -> tuple[dict[str, Any], np.ndarray[Any, Any]]:
    body = client.get(address).content
    length = int.from_bytes(body[:4], "little")
    head = json.loads(body[4 : 4 + length])
    at = head["arrays"]["points.position"]
    start = 4 + length + at["offset"]
    return head, np.frombuffer(body[start : start + 4 * at["length"]], "<f4").reshape(-1, 3)


def test_pieces_are_laid_on_each_other_and_recorded(cast: Cast, files: list[bytes]) -> None:
    fitter = cast.browser("fitter")
    form = form_of(cast, files)
    fitter.post("/scans/new/", form)
    do_waiting()
    uuid = uuids.UUID(str(form["uuid"]))
    page = fitter.get(f"/scans/{uuid}/").content.decode()
    held = held_scan(cast.actors["fitter"], uuid)
    assert [one.name for one in held.looked.pieces] == ["1-scan.ply", "2-scan.ply"]
    # How the second lies on the first is said on the page.
    assert held.looked.pieces[1].overlap > 0.15
    assert held.looked.pieces[1].said.split(";")[0] in page
    assert "The unit was stated when the pieces were brought" in page
    answer = fitter.post(f"/scans/{uuid}/record/", {"unit": "m"})
    assert answer.status_code == 302, answer.content.decode()[-2000:]
    do_waiting()
    row = scan_page(cast.actors["fitter"], uuid).row
    assert row.state is ScanState.KEPT, fitter.get(answer["Location"]).content.decode()[-2500:]
    back = queries.back_page(cast.actors["fitter"], uuids.UUID(str(row.back)))
    assert "1-scan.ply" in back.document


def test_the_unit_is_asked_for_pieces_before_they_are_laid(cast: Cast, files: list[bytes]) -> None:
    answer = cast.browser("fitter").post("/scans/new/", form_of(cast, files, unit=""))
    assert answer.status_code == 422
    assert "the unit of the pieces is not stated" in answer.content.decode()


def test_a_wrong_unit_of_pieces_is_put_right_without_bringing_them_again(
    cast: Cast, files: list[bytes]
) -> None:
    fitter = cast.browser("fitter")
    form = form_of(cast, files, unit="mm")
    fitter.post("/scans/new/", form)
    do_waiting()
    address = f"/scans/{form['uuid']}/"
    page = fitter.get(address).content.decode()
    assert "in mm what it shows would be" in page
    assert '<option value="mm" selected>millimetres</option>' in page
    key = str(uuids.uuid4())
    assert fitter.post(f"{address}again/", {"key": key, "unit": "m"}).status_code == 302
    page_now = scan_page(cast.actors["fitter"], uuids.UUID(form["uuid"]))
    assert page_now.unit is Length.M
    assert str(page_now.row.job) == key


def test_pieces_that_do_not_overlap_are_laid_by_places_marked_on_both(
    cast: Cast, played: list[PlayedScan], files: list[bytes]
) -> None:
    fitter = cast.browser("fitter")
    form = form_of(cast, files)
    uuid = uuids.UUID(str(form["uuid"]))
    fitter.post("/scans/new/", form)
    key = str(uuids.uuid4())
    assert fitter.post(f"/scans/{uuid}/pieces/prepare/", {"key": key})["Location"] == f"/jobs/{key}/"
    do_waiting()
    page = fitter.get(f"/scans/{uuid}/pieces/").content.decode()
    assert "scan.ply" in page
    for k, one in enumerate(played):
        head, points = shape_of(fitter, f"/scans/{uuid}/pieces/{k}/")
        turn, middle = np.array(head["turn"]).reshape(3, 3), np.array(head["middle"])
        own = points.astype(float) @ turn + middle
        # What is shown, turned back, lies on the file's own surface.
        corners = one.vertices / 1000.0
        off = np.linalg.norm(corners[::7][None] - own[::2000][:, None], axis=2).min(axis=1)
        assert off.max() < 0.03
    assert fitter.get(f"/scans/{uuid}/pieces/7/").status_code == 404

    wrong = fitter.post(f"/scans/{uuid}/pieces/", {"place-0-0": "0 0", "place-1-0": "1 2 3"})
    assert wrong.status_code == 422
    assert "this is no place" in wrong.content.decode()
    few = fitter.post(f"/scans/{uuid}/pieces/", {"place-0-0": "0 0 1", "place-1-0": "1 2 3"})
    assert "places are missing" in few.content.decode()
    asked = {f"place-{k}-{n}": f"{n} {k} {n * n}" for k in range(2) for n in range(3)}
    answer = fitter.post(f"/scans/{uuid}/pieces/", {**asked, "key": str(uuids.uuid4())})
    assert answer.status_code == 302
    kept = scan_page(cast.actors["fitter"], uuid)
    assert kept.common[1] == ((0.0, 1.0, 0.0), (1.0, 1.0, 1.0), (2.0, 1.0, 4.0))
    assert kept.row.state is ScanState.LOOKED_AT
