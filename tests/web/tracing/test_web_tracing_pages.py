"""Tracings over the web: photos read beside the pages, looked at, moved by hand, kept as readings."""

import io
import json
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


def test_a_photo_without_a_sheet_ends_the_job_in_words(cast: Cast) -> None:
    fitter = cast.browser("fitter")
    blank = as_jpeg(np.full((600, 800, 3), 200, np.uint8))
    uuid = begun(cast, fitter, (blank,))
    shown = fitter.get(f"/jobs/{uuid}/").content.decode()
    assert "square marks can be read" in shown
    assert fitter.get(f"/tracings/{uuid}/").status_code == 404


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
