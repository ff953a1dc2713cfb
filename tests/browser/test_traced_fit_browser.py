"""Seven photographed sheets on a phone: a back record, and its fit check against the exact curves' one.

The sheets are those that the pages give to print, rasterised by pdfium, glued, drawn on and seen by the
renderer's camera. The oracle is the invented back in closed form. No verdict that is sure on either side may
be another sure verdict on the other.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from browser_program import LONG_WORK_MS, Look, Program, follow, free_port, sign_in
from PIL import Image
from playwright.sync_api import Page, expect

from saddlebench.demo.photographed import Scene, seen_by
from saddlebench.demo.traced import STATIONS_MM, TOPLINE_STARTS_MM, section_on_sheet, topline_on_sheet
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.findings import Verdict
from saddlebench.engine.fit.study import FitStudy
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.job import StudyRequest, study_of
from saddlebench.exchange.records import BackDocument, StudyDocument, parse_document
from saddlebench.exchange.sheets.layout import SheetKind, layout_of
from saddlebench.exchange.tracings.as_readings import section_of, topline_of
from saddlebench.exchange.tracings.sheet_read import ReadCurve
from support.traced_paper import drawn_on, glued

pytestmark = pytest.mark.browser
BRAMBLE = next(horse for horse in YARD if horse.name == "Bramble")
SECTIONS, TOPLINE = layout_of(SheetKind.SECTIONS, "a3"), layout_of(SheetKind.TOPLINE, "a3")
MARKS = ("withers", "lowest", "last_rib", "shoulder_left", "shoulder_right")
SCRIPT = Path(__file__).with_name("traced_home.py")


def _home(what: str, home: Path) -> str:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), what],
        env={**os.environ, "SADDLEBENCH_HOME": str(home)},
        check=True,
        capture_output=True,
        text=True,
    )
    return done.stdout


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    home = tmp_path_factory.mktemp("traced") / "home"
    _home("fill", home)
    running = Program(home=home, port=free_port())
    running.start()
    yield running
    running.kill()
    shutil.rmtree(home, ignore_errors=True)


def _photographed(page: Page, folder: Path) -> list[str]:
    """Print the sheets that the pages give, trace the invented back on them, and photograph them."""
    papers = {
        layout.kind: glued(layout, page.request.get(f"/tracings/sheets/{layout.kind}/a3/").body())
        for layout in (SECTIONS, TOPLINE)
    }
    rng = np.random.default_rng(11)
    sheets = [
        (SECTIONS, section_on_sheet(BRAMBLE.shape, s, SECTIONS), (k,))
        for k, s in enumerate(STATIONS_MM, start=1)
    ]
    names = []
    for layout, line, rings in [*sheets, (TOPLINE, topline_on_sheet(BRAMBLE.shape, TOPLINE), ())]:
        scene = Scene(
            tilt_deg=float(rng.uniform(5.0, 28.0)),
            toward_deg=float(rng.uniform(0.0, 360.0)),
            curl=float(rng.uniform(-0.3, 0.3)),
            seed=len(names),
        )
        photo = seen_by(drawn_on(papers[layout.kind], layout, line, rings), layout, scene)
        path = folder / f"sheet-{len(names)}.jpg"
        Image.fromarray(photo).save(path, "JPEG", quality=88)
        names.append(str(path))
    return names


def _thumb(page: Page, number: float) -> None:
    for one in f"{number:.6g}":
        name = {"-": "Minus", ".": "Decimal point"}.get(one, one)
        page.get_by_role("button", name=name, exact=True).click()
    page.get_by_role("button", name="Next", exact=True).click()


def _curve(points: FloatArray) -> ReadCurve:
    seen = np.ones(len(points), dtype=bool)
    return ReadCurve(points=points, seen=seen, photo=points, point_sd_mm=0.1, ticks=np.zeros((0, 2)))


def _exact() -> BackReadings:
    return BackReadings(
        stations=tuple(
            section_of(_curve(section_on_sheet(BRAMBLE.shape, s, SECTIONS)), k, s)
            for k, s in enumerate(STATIONS_MM, start=1)
        ),
        topline=topline_of(_curve(topline_on_sheet(BRAMBLE.shape, TOPLINE)), starts_at_mm=TOPLINE_STARTS_MM),
    )


def test_seven_photos_become_a_record_whose_fit_check_agrees_with_the_exact_backs(
    phone: Page, program: Program, look: Look, tmp_path: Path
) -> None:
    page = phone
    sign_in(page)
    photos = _photographed(page, tmp_path)
    page.goto("/horses/?q=juniper")
    horse = follow(page, page.get_by_role("link", name="Juniper").first)
    page.get_by_role("link", name="Read tracings on paper").click()
    # One photo is forgotten at first, and added when the others are read.
    page.get_by_label("Photos").set_input_files(photos[1:])
    page.get_by_label("Measured on").fill("2026-05-14")
    page.get_by_label("Stations 1, 2, 3").fill(" ".join(f"{one:g}" for one in STATIONS_MM))
    page.get_by_label("Topline’s long line").fill(f"{TOPLINE_STARTS_MM:g}")
    page.get_by_role("button", name="Read the photos").click()
    expect(page.get_by_role("heading", name="Tracings: Juniper")).to_be_visible(timeout=LONG_WORK_MS)
    expect(page.get_by_text("6 of 6 photos are not kept yet")).to_be_visible()
    page.get_by_text("Add photos to these").click()
    page.get_by_label("Photos").set_input_files(photos[:1])
    look(page, "tracing-adding")
    page.get_by_role("button", name="Read them, too").click()
    expect(page.get_by_text("7 of 7 photos are not kept yet")).to_be_visible(timeout=LONG_WORK_MS)
    page.get_by_role("button", name="All lines are right: keep them").click()
    expect(page.get_by_role("heading", name="The back of Juniper")).to_be_visible()
    measuring = page.url
    follow(page, page.get_by_role("link", name=re.compile("Marks")).first)
    marks = BRAMBLE.shape.landmarks
    for name in MARKS:
        mark = getattr(marks, name)
        assert is_known(mark)
        _thumb(page, round(mark.value_mm, 1))
    expect(page.locator("[data-saved]")).to_have_text(re.compile(r"saved at \d\d:\d\d"))
    page.goto(measuring)
    look(page, "tracing-measured")
    page.get_by_role("button", name=re.compile("^Finish and record")).click()
    expect(page.get_by_text("recorded as version 1")).to_be_visible()
    page.goto(f"{horse}check/")
    back = page.get_by_label("The back", exact=True)
    back.select_option(
        label=next(one for one in back.locator("option").all_inner_texts() if "14 May 2026" in one)
    )
    page.get_by_label("I have no verdict of my own yet").check()
    page.get_by_label(re.compile("^Rider, dressed")).fill(f"{BRAMBLE.rider_kg:g}")
    page.get_by_role("button", name="Run the fit check").click()
    expect(page.get_by_role("heading", name="Findings")).to_be_visible(timeout=LONG_WORK_MS)
    look(page, "tracing-checked")
    # A data folder is one program's at a time.
    program.kill()
    told = json.loads(_home("tell", program.home).splitlines()[-1])
    _refuse_to_differ(
        parse_document(StudyDocument, told["study"], "study").study(),
        parse_document(BackDocument, told["back"], "back"),
    )


def _refuse_to_differ(traced: FitStudy, recorded: BackDocument) -> None:
    exact = replace(recorded.record(), readings=_exact())
    request = StudyRequest(rider=traced.rider, horse=traced.horse, pads=traced.pads, draws=24)
    study = study_of(measured(exact), BRAMBLE.saddle, request, inputs=traced.inputs)
    assert isinstance(study, FitStudy)
    assert len(traced.findings) == len(study.findings) > 20
    pairs = [(one.verdict, other.verdict) for one, other in zip(traced.findings, study.findings, strict=True)]
    sure = [pair for pair in pairs if Verdict.CANNOT_TELL not in pair]
    assert len(sure) > 12
    assert all(one is other for one, other in sure)
