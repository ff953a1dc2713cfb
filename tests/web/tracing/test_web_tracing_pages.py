"""Tracings over the web: photos read beside the pages, looked at, moved by hand, kept as readings."""

import io
import json
import re
import uuid as uuids

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image
from web_cast import Cast, do_waiting

from saddlebench.demo import shapes
from saddlebench.demo.photographed import PenLine, Scene, photographed
from saddlebench.demo.traced import TOPLINE_STARTS_MM, section_on_sheet, topline_on_sheet
from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.exchange.instruments import instrument_from_text
from saddlebench.exchange.sheets.layout import SheetKind, layout_of
from saddlebench.practice import queries
from saddlebench.practice.enums import Subject
from saddlebench.practice.queries.photos import photo as photo_shown
from saddlebench.practice.queries.photos import photos_of
from support.traced_paper import plain_photo

SECTIONS, TOPLINE = layout_of(SheetKind.SECTIONS, "a3"), layout_of(SheetKind.TOPLINE, "a3")


def as_jpeg(picture: np.ndarray) -> bytes:  # type: ignore[type-arg]
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=85)
    return out.getvalue()


@pytest.fixture(scope="module")
def photos() -> tuple[bytes, bytes]:
    section = PenLine(points=section_on_sheet(shapes.PLAIN, 80.0, SECTIONS))
    line = PenLine(points=topline_on_sheet(shapes.PLAIN, TOPLINE))
    return (
        as_jpeg(photographed(SECTIONS, [section], Scene(tilt_deg=15.0, filled_rings=(2,)))),
        as_jpeg(photographed(TOPLINE, [line], Scene(tilt_deg=10.0))),
    )


def form(cast: Cast, *contents: bytes, **more: str) -> dict[str, object]:
    given = {
        "horse": cast.here[Subject.HORSE],
        "day": "2026-05-04",
        "instrument": "curve-mm",
        "distances": "0, 80, 160",
        "starts": str(TOPLINE_STARTS_MM),
        "uuid": str(uuids.uuid4()),
    }
    files = [SimpleUploadedFile(f"{i}.jpg", one, "image/jpeg") for i, one in enumerate(contents)]
    return given | {"photos": files} | more


def begun(cast: Cast, client: Client, photos: tuple[bytes, ...], **more: str) -> str:
    given = form(cast, *photos, **more)
    answer = client.post("/tracings/new/", given)
    assert answer.status_code == 302, answer.content.decode()[-3000:]
    assert answer["Location"] == f"/jobs/{given['uuid']}/"
    do_waiting()
    return str(given["uuid"])


def page_of(cast: Cast, uuid: str) -> queries.CapturePage:
    return queries.capture_page(cast.actors["fitter"], uuids.UUID(uuid))


def test_photos_become_curves_and_kept_curves_become_readings(
    cast: Cast, photos: tuple[bytes, bytes]
) -> None:
    fitter = cast.browser("fitter")
    uuid = begun(cast, fitter, photos)
    before = page_of(cast, uuid)
    assert "s2r0/near/1/out" not in before.values
    tool = instrument_from_text(before.instrument, "")
    assert isinstance(tool, TracedCurve)
    assert 0.5 < tool.point_sd_mm < 1.0
    assert 0.001 < tool.scale_sd < 0.01
    shown = fitter.get(f"/tracings/{uuid}/").content.decode()
    assert "2 of 2 photos are not kept yet" in shown
    assert "Station 2" in shown
    one = fitter.get(f"/tracings/{uuid}/photos/1/").content.decode()
    assert 'name="moved-0"' in one
    assert fitter.get(f"/tracings/{uuid}/photos/1/file/")["Content-Type"] == "image/jpeg"
    kept = fitter.post(f"/tracings/{uuid}/keep/", {"form": str(uuids.uuid4())})
    assert kept["Location"] == f"/measure/{uuid}/"
    values = page_of(cast, uuid).values
    exact = section_on_sheet(shapes.PLAIN, 80.0, SECTIONS)
    for side, sign in (("near", -1.0), ("off", 1.0)):
        points = [
            (sign * float(str(values[f"s2r0/{side}/{i}/out"])), -float(str(values[f"s2r0/{side}/{i}/down"])))
            for i in range(1, 60)
            if f"s2r0/{side}/{i}/out" in values
        ]
        assert len(points) > 20
        off = [np.hypot(*(exact - point).T).min() for point in points]
        assert max(off) < 2.0
    heights = {
        values[f"top/{row}/distance"]: values[f"top/{row}/height"]
        for row in range(1, 40)
        if f"top/{row}/distance" in values
    }
    rise = float(str(heights[0.0])) - float(str(heights[280.0]))
    truth = shapes.PLAIN.radius(np.array([0.0, 280.0]), np.zeros(2))
    assert rise == pytest.approx(float(truth[0] - truth[1]), abs=1.5)


def test_a_moved_point_moves_the_reading_and_a_left_out_curve_is_none(
    cast: Cast, photos: tuple[bytes, bytes]
) -> None:
    fitter = cast.browser("fitter")
    uuid = begun(cast, fitter, photos[:1])
    address = f"/tracings/{uuid}/photos/1/"
    nothing = fitter.post(address, {"leave-0": "1", "form": str(uuids.uuid4())})
    assert nothing.status_code == 422
    assert "left out" in nothing.content.decode()
    bad = fitter.post(address, {"moved-0": "[1, 2", "form": str(uuids.uuid4())})
    assert bad.status_code == 422
    fitter.post(address, {"station-0": "2", "form": str(uuids.uuid4())})
    before = float(str(page_of(cast, uuid).values["s2r0/near/5/down"]))
    handles = [
        int(part.split('"')[0]) for part in fitter.get(address).content.decode().split('data-at="')[1:]
    ]
    moves = json.dumps({str(at): [0.0, 10.0] for at in handles})
    answer = fitter.post(address, {"station-0": "2", "moved-0": moves, "form": str(uuids.uuid4())})
    assert answer["Location"] == f"/tracings/{uuid}/"
    after = float(str(page_of(cast, uuid).values["s2r0/near/5/down"]))
    # Everything moved alike: the curve itself stays as it is, against its own midline.
    assert after == pytest.approx(before, abs=6.0)


def test_what_is_wrong_is_said_with_the_form_and_nothing_is_begun(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    answer = fitter.post("/tracings/new/", form(cast, b"no picture"))
    assert answer.status_code == 422
    assert "no picture that can be read" in answer.content.decode()
    answer = fitter.post("/tracings/new/", form(cast, distances="far"))
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert "no photo was chosen" in shown
    assert "far" in shown


def test_photos_without_a_pens_line_end_the_job_in_words(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    uuid = begun(cast, fitter, (as_jpeg(photographed(SECTIONS, [], Scene())),))
    shown = fitter.get(f"/jobs/{uuid}/").content.decode()
    assert "no line of a pen can be found" in shown
    assert fitter.get(f"/tracings/{uuid}/").status_code == 404


@pytest.fixture(scope="module")
def plain() -> tuple[bytes, list[tuple[float, float]]]:
    return plain_photo()


def placed(corners: list[tuple[float, float]], **more: str) -> dict[str, str]:
    given = {
        f"{axis}-c{k}": f"{at:.1f}"
        for k, one in enumerate(corners, 1)
        for axis, at in zip("xy", one, strict=True)
    }
    ends = {"x-l1": "300", "y-l1": "600", "x-l2": "1300", "y-l2": "600"}
    return given | ends | {"paper": "a3", "turned": "wide", "form": str(uuids.uuid4())} | more


def test_a_paper_without_marks_is_read_by_its_corners_and_added_to_what_was_begun(
    cast: Cast, photos: tuple[bytes, bytes], plain: tuple[bytes, list[tuple[float, float]]]
) -> None:
    fitter = cast.browser("fitter")
    uuid = begun(cast, fitter, photos[:1])
    before = instrument_from_text(page_of(cast, uuid).instrument, "")
    answer = fitter.post(
        f"/tracings/{uuid}/more/",
        {"form": str(uuids.uuid4()), "photos": [SimpleUploadedFile("p.jpg", plain[0], "image/jpeg")]},
    )
    assert answer["Location"].startswith("/jobs/")
    do_waiting()
    shown = fitter.get(f"/tracings/{uuid}/").content.decode()
    assert "Without marks that can be read" in shown
    assert "Mark its corners" in shown
    address = f"/tracings/{uuid}/photos/2/corners/"
    assert fitter.get(f"/tracings/{uuid}/photos/2/").status_code == 404
    assert 'name="x-c1"' in fitter.get(address).content.decode()
    crossed = [plain[1][k] for k in (0, 2, 1, 3)]
    refused = fitter.post(address, placed(crossed))
    assert refused.status_code == 422
    assert "make no sheet" in refused.content.decode()
    unsized = fitter.post(address, placed(plain[1], paper="other"))
    assert "how large the paper is" in unsized.content.decode()
    outside = fitter.post(address, placed(plain[1], **{"x-c1": "-5", "y-c2": "far"}))
    assert "lies outside the photo" in outside.content.decode()
    assert "far" in outside.content.decode()
    taken = fitter.post(address, placed(plain[1]))
    assert taken.status_code == 302, taken.content.decode()[-3000:]
    do_waiting()
    assert "Curve 1" in fitter.get(f"/tracings/{uuid}/photos/2/").content.decode()
    held = page_of(cast, uuid)
    assert held.values["trace/2/station/0"] == 1
    assert "trace/2/unread" not in held.values
    after = instrument_from_text(held.instrument, "")
    assert isinstance(before, TracedCurve)
    assert isinstance(after, TracedCurve)
    # The coarser photo's error is stated of all from now on.
    assert after.point_sd_mm > before.point_sd_mm + 0.3
    fitter.post(f"/tracings/{uuid}/keep/", {"form": str(uuids.uuid4())})
    values = page_of(cast, uuid).values
    out, down = (float(str(values[f"s1r0/near/10/{name}"])) for name in ("out", "down"))
    assert down == pytest.approx(0.0028 * out**2, abs=2.0)


def test_the_same_photos_sent_twice_are_added_once(cast: Cast, photos: tuple[bytes, bytes]) -> None:
    fitter = cast.browser("fitter")
    uuid = begun(cast, fitter, photos[:1])
    key = str(uuids.uuid4())
    for _ in range(2):
        file = SimpleUploadedFile("t.jpg", photos[1], "image/jpeg")
        fitter.post(f"/tracings/{uuid}/more/", {"form": key, "photos": [file]})
        do_waiting()
    values = page_of(cast, uuid).values
    assert "trace/2/sheet" in values
    assert "trace/3/photo" not in values
    none = fitter.post(f"/tracings/{uuid}/more/", {"form": str(uuids.uuid4())})
    assert none.status_code == 422
    assert "no photo was chosen" in none.content.decode()


def test_angles_are_laid_on_a_photo_kept_with_it_and_named_with_their_error(
    cast: Cast, photos: tuple[bytes, bytes]
) -> None:
    fitter = cast.browser("fitter")
    begun(cast, fitter, photos[:1])
    actor = cast.actors["fitter"]
    photo = photos_of(actor, horse=uuids.UUID(cast.here[Subject.HORSE]))[-1].uuid
    address = f"/tracings/angles/{photo}/"
    shown = fitter.get(address).content.decode()
    assert 'name="use-topline" value="1" data-uses="topline" checked' in shown
    assert "not a diagnosis" in shown
    places = {"x-topline-a": "400", "y-topline-a": "500", "x-topline-b": "1000", "y-topline-b": "447,5"}
    level = {"x-level-a": "200", "y-level-a": "1100", "x-level-b": "1400", "y-level-b": "1100"}
    nothing = fitter.post(address, {"use-level": "1", **level})
    assert nothing.status_code == 422
    assert "nothing is to be measured" in nothing.content.decode()
    kept = fitter.post(address, {"use-topline": "1", "use-level": "1", "mm-level": "1800", **places, **level})
    assert kept["Location"] == f"/photos/{photo}/"
    page = fitter.get(f"/photos/{photo}/").content.decode()
    found = re.search(r"Topline: ([\d.]+)° ± ([\d.]+)° \(one standard deviation\), rising", page)
    assert found is not None
    assert float(found[1]) == pytest.approx(5.0, abs=0.3)
    assert 1.0 < float(found[2]) < 5.0
    assert "Level line, 1800 mm long" in page
    # Kept again without the level line, it is off, and the topline is there once.
    fitter.post(address, {"use-topline": "1", **places})
    kinds = [mark["kind"] for mark in photo_shown(actor, photo).drawn]
    assert kinds == ["topline"]
    assert cast.browser("reader").get(address).status_code == 403
    assert cast.browser("other").get(address).status_code == 404


def test_others_see_nothing_and_readers_change_nothing(cast: Cast, photos: tuple[bytes, bytes]) -> None:
    fitter = cast.browser("fitter")
    uuid = begun(cast, fitter, photos[:1])
    assert cast.browser("other").get(f"/tracings/{uuid}/").status_code == 404
    assert cast.browser("other").get(f"/tracings/{uuid}/photos/1/file/").status_code == 404
    assert cast.browser("reader").get(f"/tracings/{uuid}/").status_code == 200
    assert cast.browser("reader").post(f"/tracings/{uuid}/keep/").status_code == 403
    assert fitter.get(f"/tracings/{uuid}/keep/").status_code == 405
    assert fitter.get(f"/tracings/{uuid}/photos/9/").status_code == 404


def test_sheets_are_given_to_print(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    answer = fitter.get("/tracings/sheets/topline/letter/")
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert fitter.get("/tracings/sheets/topline/a9/").status_code == 404
