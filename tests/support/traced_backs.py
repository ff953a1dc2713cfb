"""A back's record from the exact curves of an invented shape: what tracings are held against."""

import datetime as dt

import numpy as np

from saddlebench.demo.shapes import BackShape
from saddlebench.demo.traced import STATIONS_MM, TOPLINE_STARTS_MM, section_on_sheet, topline_on_sheet
from saddlebench.engine.back.readings import BackReadings
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.sheets.layout import SheetKind, layout_of
from saddlebench.exchange.tracings.as_readings import section_of, topline_of
from saddlebench.exchange.tracings.sheet_read import ReadCurve


def exact_back(shape: BackShape) -> BackRecord:
    """Return the record of a shape by the curves that a person without any error would have traced."""
    sections, topline = layout_of(SheetKind.SECTIONS, "a3"), layout_of(SheetKind.TOPLINE, "a3")
    readings = BackReadings(
        stations=tuple(
            section_of(_exact(section_on_sheet(shape, s, sections)), k, s)
            for k, s in enumerate(STATIONS_MM, start=1)
        ),
        topline=topline_of(_exact(topline_on_sheet(shape, topline)), starts_at_mm=TOPLINE_STARTS_MM),
    )
    return BackRecord(
        label="an exact back",
        measured_on=dt.date(2026, 5, 14),
        instrument=example_instrument("curve-mm"),
        readings=readings,
        landmarks=shape.landmarks,
    )


def _exact(points: FloatArray) -> ReadCurve:
    seen = np.ones(len(points), dtype=bool)
    return ReadCurve(points=points, seen=seen, photo=points, point_sd_mm=0.1, ticks=np.zeros((0, 2)))
