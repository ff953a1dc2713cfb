"""A scan over the web: taken in, looked at, its unit asked, its marks set by tap or number, recorded."""

import hashlib
import io
import json
import re
import shutil
import uuid as uuids
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image
from web_cast import Cast, do_waiting

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.level import LevelBy
from saddlebench.engine.units import Length
from saddlebench.exchange.scans import LookedAt, look_at_scan
from saddlebench.exchange.scans.scan_shape import to_view
from saddlebench.practice import queries, services
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import Job
from saddlebench.practice.queries.scans import ScanState, scan_page
from saddlebench.practice.services.long_work import interrupt_jobs
from saddlebench.web.base.scan_files import home
from saddlebench.web.scan import working
from saddlebench.web.scan.held import HeldScan, folder_of, held_scan
from saddlebench.web.scan.looking import stated_marks

Progress = Callable[[int, int, str], None]
_SEEN: dict[tuple[bytes, str, str, str], LookedAt] = {}


@pytest.fixture(scope="module")
def scan() -> bytes:
    played = play_scan(*whole_horse(), seed=3)
    metres = played.vertices / played.units_per_mm / 1000.0
    content = trimesh.Trimesh(metres, played.faces, process=False).export(file_type="glb")
    assert isinstance(content, bytes)
    return content


@pytest.fixture(autouse=True)
def seen_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look at one and the same file once: it takes seconds, and every test here begins with it."""

    def look(
        path: Path,
        *,
        up: FloatArray | None,
        forward: FloatArray | None,
        level_by: LevelBy | None,
        tell: Progress,
    ) -> LookedAt:
        asked = (path.read_bytes(), str(up), str(forward), str(level_by))
        if asked not in _SEEN:
            _SEEN[asked] = look_at_scan(path, up=up, forward=forward, level_by=level_by, tell=tell)
        return _SEEN[asked]

    monkeypatch.setattr(working, "look_at_scan", look)


def given(cast: Cast, content: bytes, **more: str) -> dict[str, object]:
    return {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-05-04",
        "uuid": str(uuids.uuid4()),
        "scan": SimpleUploadedFile("yard scan.glb", content, "model/gltf-binary"),
    } | more


def held(cast: Cast, uuid: str) -> HeldScan:
    return held_scan(cast.actors["fitter"], uuids.UUID(uuid))


def script(client: Client, uuid: str, fields: dict[str, str], *, status: int = 200) -> dict[str, Any]:
    answer = client.post(f"/scans/{uuid}/mark/", fields, headers={"accept": "application/json"})
    assert answer.status_code == status, answer.content
    told: dict[str, Any] = json.loads(answer.content)
    return told


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

    # A tap on the picture sets a mark on the topline there.
    answer = fitter.post(f"/scans/{uuid}/mark/", {"mark": "WITHERS", "across": "0.5"})
    assert answer["Location"] == f"/scans/{uuid}/"
    after = held(cast, uuid)
    moved = after.looked.placed(after.moved[ScanMark.WITHERS][None])[0]
    assert abs(moved[1]) < 0.01
    assert "set by hand" in fitter.get(f"/scans/{uuid}/").content.decode()
    fitter.post(f"/scans/{uuid}/mark/", {"mark": "WITHERS", "back": "1"})
    assert held(cast, uuid).moved == {}

    answer = fitter.post(f"/scans/{uuid}/record/", {"unit": "m", "by-LAST_RIB": "-25", "felt-LAST_RIB": "1"})
    assert answer.status_code == 302
    do_waiting()
    back = answer["Location"].split("/")[2]
    shown = fitter.get(f"/backs/{back}/")
    assert shown.status_code == 200, shown.content.decode()[-1500:]
    versions = queries.back_page(cast.actors["fitter"], uuids.UUID(back))
    assert versions.horse.uuid == uuids.UUID(cast.here[Subject.HORSE])
    assert "Recorded as a back" in fitter.get(f"/scans/{uuid}/").content.decode()

    # Marks set anew make a corrected version of that back, and sending the same twice makes one.
    for _ in range(2):
        fitter.post(f"/scans/{uuid}/record/", {"unit": "m", "by-LAST_RIB": "-10", "felt-LAST_RIB": "1"})
        do_waiting()
    versions = queries.back_page(cast.actors["fitter"], uuids.UUID(back))
    assert versions.n_versions == 2


def test_no_horse_is_told_and_the_file_waits_to_be_looked_at_again(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    floor = trimesh.creation.box(extents=(4.0, 4.0, 0.001)).export(file_type="glb")
    form = given(cast, floor)
    fitter.post("/scans/new/", form)
    do_waiting()
    uuid = form["uuid"]
    assert "no animal" in fitter.get(f"/jobs/{uuid}/").content.decode()
    page = fitter.get(f"/scans/{uuid}/").content.decode()
    assert "no animal" in page
    assert "could not be used as it is" in page
    key = str(uuids.uuid4())
    answer = fitter.post(f"/scans/{uuid}/again/", {"up": "+z", "head": "-x", "key": key})
    assert answer["Location"] == f"/jobs/{key}/"
    do_waiting()
    kept = scan_page(cast.actors["fitter"], uuids.UUID(str(uuid)))
    assert (kept.up, kept.head, kept.row.state) == ("+z", "-x", ScanState.REFUSED)


def test_a_person_says_what_is_level_and_the_scan_is_looked_at_again(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    playing = Playing(falls_deg=(3.0, 0.0), turned=False, scaled=False, clutter=False, edge_mm=30.0)
    played = play_scan(*whole_horse(), seed=3, playing=playing)
    content = trimesh.Trimesh(played.vertices / 1000.0, played.faces, process=False).export(file_type="glb")
    assert isinstance(content, bytes)
    uuid = looked(cast, fitter, content)
    page = fitter.get(f"/scans/{uuid}/").content.decode()
    assert "lies 3.0° off upright by it" in page
    assert scan_page(cast.actors["fitter"], uuids.UUID(uuid)).level_by is None
    fitter.post(f"/scans/{uuid}/again/", {"level": "axis", "key": str(uuids.uuid4())})
    do_waiting()
    page = fitter.get(f"/scans/{uuid}/").content.decode()
    assert "the ground falls 3.0° to the near side" in page
    assert 'level_by = "axis"' in stated_marks(held(cast, uuid), Length.M, None, {}, [])
    german = fitter.get(f"/scans/{uuid}/", headers={"accept-language": "de"}).content.decode()
    assert "danach fällt der Boden um 3,0° nach links" in german
    key = str(uuids.uuid4())
    fitter.post(f"/scans/{uuid}/again/", {"level": "level ground", "key": key})
    do_waiting()
    assert scan_page(cast.actors["fitter"], uuids.UUID(uuid)).level_by is LevelBy.LEVEL_GROUND
    page = fitter.get(f"/scans/{uuid}/").content.decode()
    assert "level is the ground’s, as stated" in page.replace("Level is the", "level is the")
    assert 'value="level ground" selected' in page
    assert 'level_by = "level ground"' in stated_marks(held(cast, uuid), Length.M, None, {}, [])
    fitter.post(f"/scans/{uuid}/again/", {"level": "sideways", "key": str(uuids.uuid4())})
    assert scan_page(cast.actors["fitter"], uuids.UUID(uuid)).level_by is None


def test_what_is_no_scan_is_refused_at_once_and_not_kept(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    content = b"PK\x03\x04" + b"\0" * 99
    answer = fitter.post("/scans/new/", given(cast, content))
    assert answer.status_code == 422
    assert "a zip archive" in answer.content.decode()
    stored = home() / "files"
    assert not list(stored.rglob(f"{hashlib.sha256(content).hexdigest()}*"))


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
    for part in ("", "picture/", "shape/", "marks/"):
        assert outsider.get(f"/scans/{uuid}/{part}").status_code == 404
    for part in ("record/", "mark/", "again/", "aside/"):
        assert outsider.post(f"/scans/{uuid}/{part}", {"unit": "m", "mark": "LOWEST"}).status_code == 404
    # Nor can its name be taken.
    form = given(cast, scan, uuid=uuid) | {"horse": cast.elsewhere[Subject.HORSE]}
    assert outsider.post("/scans/new/", form).status_code == 409
    assert held(cast, uuid).looked.n_faces > 100_000


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
    assert np.isfinite(held(cast, uuid).looked.mm_per_unit)


def test_a_mark_is_put_on_the_surface_confirmed_and_undone(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    uuid = looked(cast, fitter, scan)
    looked_at = held(cast, uuid).looked
    on_it = to_view(looked_at, looked_at.skin.vertices[[4_000]])[0]
    beside = on_it + np.array([0.0, 0.0, 5.0])
    asked = {"mark": "LAST_RIB", "at": " ".join(f"{x:.4f}" for x in beside)}
    told = script(fitter, uuid, asked)
    row = next(one for one in told["marks"] if one["key"] == "LAST_RIB")
    # What came a little off the surface lies on it, next to where it was meant.
    assert row["kind"] == "set"
    assert np.linalg.norm(np.array(row["at"]) - on_it) < 5.1
    assert told["can_undo"]

    told = script(fitter, uuid, {"mark": "LAST_RIB", "felt": "1"})
    assert next(one for one in told["marks"] if one["key"] == "LAST_RIB")["state"] == "felt for"
    assert re.search(
        r'name="felt-LAST_RIB" value="1" checked', fitter.get(f"/scans/{uuid}/").content.decode()
    )
    told = script(fitter, uuid, {"undo": "1"})
    assert next(one for one in told["marks"] if one["key"] == "LAST_RIB")["kind"] == "set"
    told = script(fitter, uuid, {"undo": "1"})
    assert next(one for one in told["marks"] if one["key"] == "LAST_RIB")["kind"] == "suggested"
    assert not told["can_undo"]
    # What was taken back stays written down.
    assert scan_page(cast.actors["fitter"], uuids.UUID(uuid)).times == 4


@pytest.mark.parametrize("at", ["1 2", "a b c", "nan 0 0", "0 0 90000", "1e400 0 0"])
def test_a_place_beside_the_horse_is_refused_and_changes_nothing(cast: Cast, scan: bytes, at: str) -> None:
    fitter = cast.browser("fitter")
    uuid = looked(cast, fitter, scan)
    told = script(fitter, uuid, {"mark": "WITHERS", "at": at}, status=422)
    assert "ap on the " in told["said"]
    assert {one["kind"] for one in told["marks"]} == {"suggested"}
    assert held(cast, uuid).moved == {}


def test_a_scan_taken_at_a_visit_lands_on_it(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    visit = cast.here[Subject.VISIT]
    step = f"/visits/{visit}/step/back/"
    page = fitter.get(step).content.decode()
    assert f"/scans/new/?horse={cast.here[Subject.HORSE]}&amp;visit={visit}" in page
    form = given(cast, scan, visit=visit)
    fitter.post("/scans/new/", form)
    assert "is being looked at" in fitter.get(step).content.decode()
    do_waiting()
    assert "its marks are to be confirmed" in fitter.get(step).content.decode()
    answer = fitter.post(f"/scans/{form['uuid']}/record/", {"unit": "m"})
    assert "is being recorded" in fitter.get(step).content.decode()
    do_waiting()
    back = answer["Location"].split("/")[2]
    page = fitter.get(step).content.decode()
    assert "is recorded" in page
    assert f"/backs/{back}/" in page
    assert queries.back_page(cast.actors["fitter"], uuids.UUID(back)).visit == uuids.UUID(visit)


def test_a_visit_of_another_horse_is_refused(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    other = services.take_on_horse(cast.actors["fitter"], {"label": "Sedge (invented)"})
    form = given(cast, scan, visit=cast.here[Subject.VISIT], horse=str(other.uuid))
    answer = fitter.post("/scans/new/", form)
    assert answer.status_code == 422
    assert "the visit is of another horse" in answer.content.decode()


def test_a_scan_set_aside_is_off_the_list_of_what_waits_and_can_be_taken_up(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    uuid = looked(cast, fitter, scan)
    answer = fitter.post(f"/scans/{uuid}/aside/", {})
    assert answer["Location"] == f"/scans/new/?horse={cast.here[Subject.HORSE]}"
    assert "is set aside" in fitter.get(answer["Location"]).content.decode()
    fitter.post(f"/scans/{uuid}/aside/", {"up": "1"})
    assert scan_page(cast.actors["fitter"], uuids.UUID(uuid)).row.state is ScanState.TO_CONFIRM


def test_work_that_was_interrupted_says_so_and_is_taken_up(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    form = given(cast, scan)
    fitter.post("/scans/new/", form)
    uuid = str(form["uuid"])
    # As after the process was killed while it read: the next start says so.
    Job.objects.filter(uuid=uuid).update(state="running")
    interrupt_jobs()
    other_device = cast.browser("owner")
    page = other_device.get(f"/scans/{uuid}/").content.decode()
    assert "was interrupted" in page
    assert "The file is kept" in page
    other_device.post(f"/jobs/{uuid}/again/")
    do_waiting()
    assert scan_page(cast.actors["fitter"], uuids.UUID(uuid)).row.state is ScanState.TO_CONFIRM


def test_stopped_while_it_waits_it_can_be_asked_for_again(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    form = given(cast, scan)
    fitter.post("/scans/new/", form)
    fitter.post(f"/jobs/{form['uuid']}/stop/")
    do_waiting()
    page = fitter.get(f"/scans/{form['uuid']}/").content.decode()
    assert "was stopped: ask for it again" in page


def test_what_was_seen_can_be_seen_again_from_the_kept_file(cast: Cast, scan: bytes) -> None:
    fitter = cast.browser("fitter")
    uuid = looked(cast, fitter, scan)
    fitter.post(f"/scans/{uuid}/mark/", {"mark": "WITHERS", "across": "0.5"})
    shutil.rmtree(folder_of(uuids.UUID(uuid)))
    page = fitter.get(f"/scans/{uuid}/").content.decode()
    assert "as after a backup was restored" in page
    key = re.search(r'name="key" value="([^"]+)"', page)
    assert key
    fitter.post(f"/scans/{uuid}/again/", {"key": key[1]})
    do_waiting()
    assert "set by hand" in fitter.get(f"/scans/{uuid}/").content.decode()
