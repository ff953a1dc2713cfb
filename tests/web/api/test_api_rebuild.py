"""Rebuilding a back through the program interface: settings, readings as set, files, proof."""

import io
import json
import zipfile

import pypdf
import pytest
from api_cast import Caller, caller, key
from replica_cast import CHAIN, COMB, CURVE, back_of, rebuilt_document
from web_cast import Cast, do_waiting

from saddlebench.practice.models import Back, RebuildCheck


@pytest.fixture
def workshop(own_cast: Cast) -> Caller:
    return caller(own_cast, "workshop")


@pytest.fixture
def back(own_cast: Cast) -> str:
    return back_of(own_cast)


@pytest.mark.parametrize("instrument", [CHAIN, COMB, CURVE])
def test_settings_set_as_asked_are_good_and_one_that_is_off_is_named(
    workshop: Caller, back: str, instrument: str
) -> None:
    held = json.loads(workshop.get(f"backs/{back}/settings?instrument={instrument}").content)
    assert held["format"] == "saddlebench settings"
    first = (held.get("stations") or held.get("sections"))[1]
    points = instrument == CURVE
    names = ("near_points", "off_points") if points else ("near", "off")
    one = {"station": first["number"], names[0]: first["left"], names[1]: first["right"]}
    one |= {} if points else {"middle": first.get("middle")}
    (said,) = workshop.post(f"backs/{back}/as-set", {"instrument": instrument, "stations": [one]}).json()
    assert (said["good"], said["moves"], said["not_set"]) == (True, [], [])
    if points:
        out, up = first["left"][3]
        one[names[0]] = [*first["left"][:3], [out, up + 8.0], *first["left"][4:]]
    else:
        row = first["left"]
        k = next(i for i, reading in enumerate(row) if reading is not None)
        one["near"] = [*row[:k], row[k] + 8.0, *row[k + 1 :]]
    (said,) = workshop.post(f"backs/{back}/as-set", {"instrument": instrument, "stations": [one]}).json()
    assert said["good"] is False
    assert said["moves"][0]["side"] == "near"


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"instrument": "no-such", "stations": [{"station": 1}]}, 404),
        ({"instrument": COMB, "stations": []}, 422),
        ({"instrument": COMB, "stations": [{"station": 99, "near": [1.0]}]}, 422),
        ({"instrument": COMB, "stations": [{"station": 1}], "tolerance_mm": 99}, 422),
        ({"instrument": COMB, "stations": [{"station": 1}], "version": 7}, 404),
    ],
)
def test_readings_that_cannot_be_judged_are_refused(
    workshop: Caller, back: str, body: object, status: int
) -> None:
    assert workshop.post(f"backs/{back}/as-set", body).status_code == status


def test_files_are_made_beside_and_given_as_one_archive(own_cast: Cast, workshop: Caller, back: str) -> None:
    uuid = key()
    asked = {"uuid": uuid, "what": "templates", "choices": {"paper": "a4", "forms": ["hollow"]}}
    answer = workshop.post(f"backs/{back}/rebuild-files", asked)
    assert (answer.status_code, answer.json()["state"]) == (202, "waiting")
    assert workshop.get(f"rebuild-files/{uuid}").status_code == 404
    do_waiting()
    assert workshop.get(f"jobs/{uuid}").json()["state"] == "done"
    given = workshop.get(f"rebuild-files/{uuid}")
    archive = zipfile.ZipFile(io.BytesIO(b"".join(given.streaming_content)))
    given.close()
    assert any(name.endswith("templates-hollow-a4.pdf") for name in archive.namelist())
    assert caller(own_cast, "other").get(f"rebuild-files/{uuid}").status_code == 404
    assert caller(own_cast, "reader").post(f"backs/{back}/rebuild-files", asked).status_code == 403


@pytest.mark.parametrize(
    "asked",
    [
        {"what": "nonsense"},
        {"what": "ribs", "choices": {"board": 99}},
        {"what": "ribs", "choices": {"nonsense": 1}},
        {"what": "ribs", "instruments": [COMB]},
        {"what": "solid", "choices": {"bed_along": 200}},
        {"what": "templates", "choices": {"measured_across": 99}},
    ],
)
def test_choices_that_do_not_go_together_are_refused(workshop: Caller, back: str, asked: object) -> None:
    assert workshop.post(f"backs/{back}/rebuild-files", asked).status_code == 422


def test_a_rebuild_is_proved_once_under_its_name(own_cast: Cast, workshop: Caller, back: str) -> None:
    n_backs, uuid = Back.objects.count(), key()
    document = rebuilt_document(14.0).text.encode()
    first = workshop.put(f"backs/{back}/rebuild-checks/{uuid}", document)
    again = workshop.put(f"backs/{back}/rebuild-checks/{uuid}", document)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json() == workshop.get(f"rebuild-checks/{uuid}").json()
    said = first.json()
    assert said["verdict"] == "move"
    assert [one["verdict"] for one in said["stations"] if one["station"] == 4] == ["move"]
    assert any("not a diagnosis" in one for one in said["cautions"])
    sheet = workshop.get(f"rebuild-checks/{uuid}/sheet")
    assert "Rebuild check sheet" in pypdf.PdfReader(io.BytesIO(sheet.content)).pages[0].extract_text()
    address = f"rebuild-checks/{uuid}/sheet?lengths=in&paper=us-letter"
    german = workshop.get(address, **{"Accept-Language": "de"})
    page = pypdf.PdfReader(io.BytesIO(german.content)).pages[0]
    assert "Längen sind in Zoll." in page.extract_text()
    # US letter is 8.5 by 11 inches of 72 points (ANSI/ASME Y14.1).
    assert [float(one) for one in page.mediabox[2:]] == pytest.approx([612.0, 792.0], abs=0.5)
    assert (Back.objects.count(), RebuildCheck.objects.count()) == (n_backs, 1)
    other = caller(own_cast, "other")
    assert other.get(f"rebuild-checks/{uuid}").status_code == 404
    assert other.get(f"rebuild-checks/{uuid}/sheet").status_code == 404
    assert workshop.put(f"backs/{back}/rebuild-checks/{key()}", b"\xff\xfe").status_code == 422
