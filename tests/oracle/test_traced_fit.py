"""A fit check of a back from seven photographed sheets against the one from the exact curves.

The oracle is the invented back in closed form: the exact points of the same sections and topline. No verdict
that is sure on either side may be another sure verdict on the other.
"""

import datetime as dt

import numpy as np

from saddlebench.demo.traced import (
    STATIONS_MM,
    TOPLINE_STARTS_MM,
    section_on_sheet,
    topline_on_sheet,
    traced_photos,
)
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.fit.findings import Verdict
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.study import FitStudy, StudyInputs
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest, study_of
from saddlebench.exchange.sheets.layout import SheetKind, layout_of
from saddlebench.exchange.tracings.as_readings import instrument_of, section_of, topline_of
from saddlebench.exchange.tracings.gathering import NamedSheet, gather
from saddlebench.exchange.tracings.read import read_sheet
from saddlebench.exchange.tracings.sheet_read import ReadCurve

BRAMBLE = next(horse for horse in YARD if horse.name == "Bramble")
INPUTS = StudyInputs(back_label="b", back_version="0" * 64, saddle_label="s", saddle_version="0" * 64)


def _exact(points: FloatArray) -> ReadCurve:
    nothing = np.zeros((0, 2))
    seen = np.ones(len(points), dtype=bool)
    return ReadCurve(points=points, seen=seen, photo=points, point_sd_mm=0.1, ticks=nothing)


def _study(readings: BackReadings, tool: TracedCurve) -> FitStudy:
    record = BackRecord(
        label="Bramble",
        measured_on=dt.date(2026, 5, 14),
        instrument=tool,
        readings=readings,
        landmarks=BRAMBLE.shape.landmarks,
    )
    request = StudyRequest(rider=Rider(mass_kg=BRAMBLE.rider_kg), draws=24)
    study = study_of(measured(record), BRAMBLE.saddle, request, inputs=INPUTS)
    assert isinstance(study, FitStudy)
    return study


def test_seven_photos_and_the_exact_curves_never_say_sure_verdicts_that_differ() -> None:
    shape, curve = BRAMBLE.shape, example_instrument("curve-mm")
    assert isinstance(curve, TracedCurve)
    sheets = [read_sheet(photo) for photo in traced_photos(shape)]
    named = [NamedSheet(name=str(k), sheet=sheet) for k, sheet in enumerate(sheets)]
    tool = instrument_of(curve, sheets)
    traced = gather(named, STATIONS_MM, topline_starts_mm=TOPLINE_STARTS_MM).readings
    sections, topline = layout_of(SheetKind.SECTIONS, "a3"), layout_of(SheetKind.TOPLINE, "a3")
    exact = BackReadings(
        stations=tuple(
            section_of(_exact(section_on_sheet(shape, s, sections)), k, s)
            for k, s in enumerate(STATIONS_MM, start=1)
        ),
        topline=topline_of(_exact(topline_on_sheet(shape, topline)), starts_at_mm=TOPLINE_STARTS_MM),
    )
    found, true = _study(traced, tool).findings, _study(exact, tool).findings
    assert len(found) == len(true) > 20
    pairs = [(one.verdict, other.verdict) for one, other in zip(found, true, strict=True)]
    sure = [pair for pair in pairs if Verdict.CANNOT_TELL not in pair]
    assert len(sure) > 15
    assert all(one is other for one, other in sure)
