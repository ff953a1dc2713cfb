"""The sheet of settings: a station at a time, in the order in which one sets them, with a picture of each."""

import datetime as dt
from typing import Any

import numpy as np

from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    Scan,
    TapeAndHand,
    TracedCurve,
)
from saddlebench.engine.back.record import section_of
from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.curves import sections_of
from saddlebench.engine.replica.setting_steps import SettingStep
from saddlebench.engine.replica.settings import InstrumentSettings, SetStation, outline_at
from saddlebench.exchange.drawings.ink import drawable, shortened
from saddlebench.exchange.readers import NO_BREAK, reader
from saddlebench.exchange.vocabulary import said
from saddlebench.report.replica.words import (
    length_words,
    lengths_note,
    number_words,
    paper_contents,
    paper_words,
    place_words,
    problem_words,
)
from saddlebench.report.setting import Paper
from saddlebench.report.typeset import typeset_for_all

FOR_WHAT_YOU_SEE = "The empty line under each reading is for what you see once it is set."
PICTURE_WIDTH_MM = 52.0
IN_A_ROW = 9
LEVEL_NOTE = "Level: the first link's fall to the rear, in degrees."
HEIGHTS_NOTE = (
    "Heights of the midline against the shoulder mark, by the distance behind it (\u2212 in front)."
)


def settings_pdf(
    settings: InstrumentSettings,
    estimated: EstimatedBack,
    label: str,
    measured_on: dt.date,
    paper: Paper = Paper.A4,
) -> bytes:
    """Return the sheet of settings as PDF/UA-1, in the language and lengths of its reader (`read_by`).

    The instrument's readings stay in its own divisions.

    Parameters
    ----------
    settings : what to set
    estimated : the back they show
    label, measured_on : of the back record
    paper : it is printed on
    """
    contents = settings_contents(settings, estimated, label, measured_on, paper)
    return typeset_for_all("replica/settings.typ", [contents], shared=False)


def settings_contents(
    settings: InstrumentSettings,
    estimated: EstimatedBack,
    label: str,
    measured_on: dt.date,
    paper: Paper = Paper.A4,
) -> dict[str, Any]:
    """Return what the sheet says, as plain data."""
    name = shortened(settings.instrument.name, 60)
    back = shortened(label, 60)
    return {
        **paper_contents(paper),
        "words": paper_words("shows", "Topline", FOR_WHAT_YOU_SEE, "NEAR", "OFF"),
        "for_what_you_see": said(FOR_WHAT_YOU_SEE),
        "title": f"{said('Settings for')} {name}",
        "back": f"{back}, {said('measured on')} {reader().day(measured_on)}",
        "about": " ".join([said(_about(settings.instrument)), *_unit(settings.instrument)]),
        "off_by": said(f"Every set point lies within {settings.off_by_mm:.1f} mm of the back."),
        "tolerance": said(f"Within {settings.tolerance_mm:g} mm counts as set."),
        "topline": _topline(settings),
        "stations": [
            _station(settings, estimated, one, [s for s in settings.steps if s.station == one.number])
            for one in settings.stations
        ],
        "warnings": [drawable(problem_words(problem)) for problem in settings.problems],
        "footer": f"{said('settings for')} {name} · {back}",
    }


def _about(instrument: Instrument) -> str:
    match instrument:
        case JointedChain():
            return (
                "Small numbers count the joints from the midline. "
                "Set the topline first, then each station: near side, then off side, joint by "
                "joint outward from the "
                "midline. Readings are in the instrument's own divisions."
            )
        case PinComb():
            return (
                "Small numbers count the pins from the horse's left. "
                "Set the topline first, then each station pin by pin, outward from the midline: "
                "near side, then off "
                "side. Readings are in the instrument's own divisions."
            )
        case TracedCurve():
            return (
                "Each point is given as out / up. "
                "Draw each station's points on paper, out from the midline and up from the skin "
                "there, and bend the "
                "curve to them."
            )
        case Scan() | TapeAndHand():
            return ""


def _unit(instrument: Instrument) -> list[str]:
    """Say how large a curve's own unit is, in mm for every reader: it is a fact of the instrument."""
    if not isinstance(instrument, TracedCurve):
        return []
    size = reader().number(f"{instrument.mm_per_unit:g}")
    return [f"{said('One unit of the instrument:')} {size}{NO_BREAK}mm."]


def _topline(settings: InstrumentSettings) -> dict[str, Any]:
    steps = [step for step in settings.steps if step.station is None]
    if steps and steps[0].part == "level":
        start = place_words(steps[0].distance_mm)
        words = f"{said('Starts')} {start}. {said(LEVEL_NOTE)}"
        cells = [(said(step.part), number_words(step.reading)) for step in steps]
    else:
        words = f"{said(HEIGHTS_NOTE)} {lengths_note()}"
        cells = [(length_words(step.distance_mm, 0), length_words(step.reading, 0)) for step in steps]
    return {
        "words": words,
        "off_by": said(f"off by up to {settings.topline_off_by_mm:.1f} mm"),
        "rows": _rows([("", cells)]),
    }


def _station(
    settings: InstrumentSettings, estimated: EstimatedBack, station: SetStation, steps: list[SettingStep]
) -> dict[str, Any]:
    sides: dict[str, list[tuple[str, str]]] = {}
    for step in steps:
        shown = number_words(step.reading)
        words = shown if step.up is None else f"{shown} / {number_words(step.up)}"
        part = step.part.removeprefix("joint ").removeprefix("pin ").removeprefix("point ")
        sides.setdefault(step.side, []).append((part, words))
    names = {"near": said("near (left)"), "off": said("off (right)"), "": said("midline")}
    between = said(f"between the set points the back lies up to {station.between_mm:.0f} mm off")
    off_by = said(f"off by up to {station.off_by_mm:.1f} mm")
    return {
        "name": said(f"Station {station.number}"),
        "where": place_words(station.readings.distance_mm),
        "off_by": f"{off_by}; {between}" if station.between_mm >= 0.95 else off_by,
        "rows": _rows([(names[side], cells) for side, cells in sides.items()]),
        "picture": _picture(settings, estimated, station),
    }


def _rows(sides: list[tuple[str, list[tuple[str, str]]]]) -> list[dict[str, Any]]:
    """Return rows of at most nine cells, each with the side it belongs to."""
    return [
        {
            "side": side if begin == 0 else "",
            "cells": [list(cell) for cell in cells[begin : begin + IN_A_ROW]],
        }
        for side, cells in sides
        for begin in range(0, len(cells), IN_A_ROW)
    ]


def _picture(settings: InstrumentSettings, estimated: EstimatedBack, station: SetStation) -> dict[str, Any]:
    """Return the outline and the set points, as seen from behind, in mm of the paper from its upper left."""
    outline = outline_at(sections_of(estimated, 4), station.readings.distance_mm)
    points = section_of(settings.instrument, station.readings).points
    both = np.vstack([outline, points]) if len(points) else outline
    half = float(np.abs(both[:, 0]).max())
    scale = 0.5 * PICTURE_WIDTH_MM / half
    high = float(both[:, 1].max())

    def placed(of: FloatArray) -> list[list[float]]:
        """Return points (n, 2) float, station plane [mm], as the paper counts [mm]."""
        own = np.stack([0.5 * PICTURE_WIDTH_MM - of[:, 0] * scale, (high - of[:, 1]) * scale + 1.5], axis=1)
        return [[float(x), float(y)] for x, y in np.round(own, 3)]

    return {
        "width": PICTURE_WIDTH_MM,
        # Its sides are named below the curve, not across its ends.
        "height": float((high - both[:, 1].min()) * scale + 6.5),
        "outline": placed(outline),
        "points": placed(points),
    }
