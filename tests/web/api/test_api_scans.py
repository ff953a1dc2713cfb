"""A scan over the interface: given by its bytes, looked at, its unit asked, recorded as a back."""

import io

import pytest
import trimesh
from api_cast import caller, key
from PIL import Image
from web_cast import Cast, do_waiting

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.practice.enums import Subject


def test_a_scan_is_given_looked_at_and_recorded_once_its_unit_is_stated(cast: Cast) -> None:
    played = play_scan(*whole_horse(), seed=5, playing=Playing(scaled=False))
    content = trimesh.Trimesh(played.vertices / 1000.0, played.faces, process=False).export(file_type="ply")
    assert isinstance(content, bytes)
    fitter, name = caller(cast, "fitter"), key()
    visit = cast.here[Subject.VISIT]
    of = f"horse={cast.here[Subject.HORSE]}&visit={visit}"
    address = f"scans/{name}?{of}&measured_on=2026-05-04&name=yard.ply"
    assert fitter.send("PUT", address, content).status_code == 202
    do_waiting()
    looked = fitter.get(f"scans/{name}").json()
    assert looked["ground_seen"]
    assert looked["head_clear"]
    assert looked["heights_mm"]["m"] == pytest.approx(1500.0, abs=80.0)
    assert "m" in looked["likely_units"]
    assert set(looked["marks"]) == {"WITHERS", "SHOULDER", "LOWEST", "LAST_RIB"}
    assert Image.open(io.BytesIO(fitter.get(f"scans/{name}/picture").content)).size == (1200, 1360)
    assert (looked["visit"], looked["files"], looked["back"]) == (visit, ["yard.ply"], None)
    beside = {"mark": "LAST_RIB", "at": [0.0, 0.0, 90.0]}
    assert fitter.send("PUT", f"scans/{name}/marks", beside).status_code == 422
    on_it = {"mark": "LAST_RIB", "at": looked["marks"]["LAST_RIB"], "felt": True}
    # The mark that the shape suggests lies on the topline: near the surface, which is smooth.
    marked = fitter.send("PUT", f"scans/{name}/marks", on_it)
    assert marked.status_code == 200, marked.content
    assert marked.json()["mark_states"]["LAST_RIB"] == "felt"
    undone = fitter.post(f"scans/{name}/marks/undo", {}).json()
    assert undone["mark_states"]["LAST_RIB"] == "suggested"
    unasked = fitter.post(f"scans/{name}/record", {})
    assert unasked.status_code == 422
    assert "never guessed" in unasked.content.decode()
    stated = {"unit": "m", "shifts": {"LAST_RIB": -20.0}, "felt": ["LAST_RIB"]}
    asked = fitter.post(f"scans/{name}/record", stated)
    assert asked.status_code == 202
    do_waiting()
    back = fitter.get(f"backs/{asked.json()['uuid']}")
    assert back.status_code == 200
    assert back.json()["measured_on"] == "2026-05-04"
    kept = fitter.get(f"scans/{name}").json()
    assert (kept["back"], kept["state"]) == (asked.json()["uuid"], "is recorded")
    assert caller(cast, "other").get(f"scans/{name}").status_code == 404
