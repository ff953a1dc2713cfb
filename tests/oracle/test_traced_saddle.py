"""A saddle traced on the printed sheet, photographed and read, against the invented saddle in closed form.

The whole way: the sheet's PDF by pdfium, curves and strokes drawn on it, a known camera, the reading, the
record. Its sections lie within what it states of itself, and a fit check of it and of the exact saddle on one
back never give two sure verdicts that differ.
"""

from functools import lru_cache

import numpy as np
import pytest

from saddlebench.demo.photographed import Scene, seen_by
from saddlebench.demo.saddles import ALL_ROUND
from saddlebench.demo.traced_saddle import drawn_across, gaps_mm, leans_deg
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.findings import Verdict
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.study import FitStudy, StudyInputs
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord, model_of
from saddlebench.engine.saddle.sections import sections_of
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest, study_of
from saddlebench.exchange.sheets.layout import SheetKind, layout_of
from saddlebench.exchange.tracings.across_saddle import SectionsStated
from saddlebench.exchange.tracings.gathering import NamedSheet
from saddlebench.exchange.tracings.read import read_sheet
from saddlebench.exchange.tracings.traced_saddle import TracedSaddle, saddle_from_tracings
from saddlebench.report.trace_sheet import trace_sheet_pdf
from support.traced_backs import exact_back
from support.traced_paper import glued, lines_on

BRAMBLE = next(horse for horse in YARD if horse.name == "Bramble")
BEHIND_MM = (12.0, 60.0, 120.0, 200.0, 280.0, 350.0, 405.0)
A_SHEET = 2
INPUTS = StudyInputs(back_label="b", back_version="0" * 64, saddle_label="s", saddle_version="0" * 64)


@lru_cache(maxsize=1)
def exact_model() -> SaddleModel:
    return model_from_numbers(ALL_ROUND, 2000)


def photographed_sheets() -> list[NamedSheet]:
    """Return what is read from photos of the printed sheets, drawn on as a person would."""
    layout = layout_of(SheetKind.SADDLE, "a3")
    paper = glued(layout, trace_sheet_pdf(layout))
    sections, rng = sections_of(exact_model(), BEHIND_MM), np.random.default_rng(2)
    named = []
    for first in range(0, len(sections), A_SHEET):
        here = sections[first : first + A_SHEET]
        lines = [
            line.points
            for k, one in enumerate(here)
            for line in drawn_across(one, layout, down_mm=8.0 + 40.0 * k)
        ]
        rings = tuple(range(first + 1, first + 1 + len(here)))
        scene = Scene(
            tilt_deg=float(rng.uniform(5.0, 28.0)),
            toward_deg=float(rng.uniform(0.0, 360.0)),
            curl=float(rng.uniform(-0.3, 0.3)),
            seed=first,
        )
        sheet = read_sheet(seen_by(lines_on(paper, layout, lines, rings), layout, scene))
        named.append(NamedSheet(name=f"photo {first}", sheet=sheet))
    return named


@pytest.fixture(scope="module")
def traced() -> TracedSaddle:
    """The saddle by its traced sheets; leans to half a degree and gaps to a millimetre, as they are read."""
    rng = np.random.default_rng(6)
    leans = np.array(leans_deg(exact_model(), BEHIND_MM, stand_deg=1.5)) + rng.normal(0, 0.3, len(BEHIND_MM))
    gaps = np.array(gaps_mm(exact_model(), BEHIND_MM)) + rng.normal(0, 0.7, len(BEHIND_MM))
    stated = SectionsStated(
        behind_mm=BEHIND_MM,
        leans_deg=tuple(round(2 * one) / 2 for one in leans.tolist()),
        gaps_mm=tuple(max(0.0, round(one)) for one in gaps.tolist()),
    )
    curve = example_instrument("curve-mm")
    assert isinstance(curve, TracedCurve)
    return saddle_from_tracings(BRAMBLE.saddle, photographed_sheets(), stated, curve)


def test_the_traced_sections_lie_within_what_they_state_of_the_exact_saddle(traced: TracedSaddle) -> None:
    error = traced.record.shape_error
    assert error is not None
    for one, true in zip(traced.underside.sections, sections_of(exact_model(), BEHIND_MM), strict=True):
        for line, other, sign in ((one.left, true.left, 1.0), (one.right, true.right, -1.0)):
            y, z = sign * line[:, 0], line[:, 1]
            # A pen's end is found to 2 mm; within the panel the face lies as high as it does.
            inside = (y > sign * other[0, 0] + 2.0) & (y < sign * other[-1, 0] - 4.0)
            off = z[inside] - np.interp(y[inside], sign * other[:, 0], other[:, 1])
            stated = np.hypot(error.rocker_mm, np.hypot(0.5 * error.twist_mm, error.face_angle * np.ptp(y)))
            assert np.abs(off).max() < 2.5 * stated
            assert abs(y[0] - sign * other[0, 0]) < 2.0
            assert abs(y[-1] - sign * other[-1, 0]) < 4.0
    told = traced.underside.told
    assert all(
        abs(one.channel_mm - (true.left[0, 0] - true.right[0, 0])) < 2.5 * one.channel_sd_mm
        for one, true in zip(told, sections_of(exact_model(), BEHIND_MM), strict=True)
    )
    assert not isinstance(traced.underside.twist, Undetermined)
    assert not traced.underside.twist.is_told
    assert not any(one.is_uneven for one in told)


def test_its_fit_check_and_the_exact_saddles_never_say_sure_verdicts_that_differ(
    traced: TracedSaddle,
) -> None:
    assert isinstance(model_of(traced.record), SaddleModel)
    found, true = _study(traced.record).findings, _study(BRAMBLE.saddle).findings
    assert len(found) == len(true) > 20
    pairs = [(one.verdict, other.verdict) for one, other in zip(found, true, strict=True)]
    sure = [pair for pair in pairs if Verdict.CANNOT_TELL not in pair]
    assert len(sure) > 15
    assert all(one is other for one, other in sure)


def _study(saddle: SaddleRecord) -> FitStudy:
    request = StudyRequest(rider=Rider(mass_kg=BRAMBLE.rider_kg), draws=24)
    study = study_of(measured(exact_back(BRAMBLE.shape)), saddle, request, inputs=INPUTS)
    assert isinstance(study, FitStudy)
    return study
