"""From tracings of an upturned saddle to a saddle record, with everything there is to say of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.errors import InputProblemsError, Problem, Undetermined, Weight, Where
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import REAR, WAIST, PanelNumbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.sections import UndersideSection, section_problems, unmeasured
from saddlebench.engine.saddle.underside.across import (
    TracedUnderside,
    TracingErrors,
    underside_across,
)
from saddlebench.engine.saddle.underside.become import panelled_of, with_underside
from saddlebench.exchange.tracings.across_saddle import SectionsStated, curves_across
from saddlebench.exchange.tracings.as_readings import PEN_SD_MM
from saddlebench.exchange.tracings.gathering import NamedSheet

PATTERN_POINTS = 1500
UNLIKE_MM = 8.0
"""Tracings that lie farther than this off the saddle's own numbers are asked about (judgement)."""
UNTRACED_MM = 30.0
NARROWER_MM = 15.0
_MEASURED = ("channel", "width", "angle")


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedSaddle:
    """A record from tracings, and what there is to say of it."""

    record: SaddleRecord
    underside: TracedUnderside
    remarks: tuple[Problem, ...]


def saddle_from_tracings(
    record: SaddleRecord, photos: Sequence[NamedSheet], stated: SectionsStated, tool: TracedCurve
) -> TracedSaddle:
    """Return a saddle's record with its underside from tracings across it.

    Parameters
    ----------
    record : the saddle by its numbers
    photos : what was read from photos of its sheets
    stated : where the sections were taken, and what was measured beside them
    tool : the flexible curve

    Raises
    ------
    InputProblemsError
        With everything that is wrong: photos, stations, strokes, or what they make is no saddle.
    """
    base = panelled_of(record.numbers)
    gathered = curves_across(photos, stated)
    if len(gathered.curves) < 4:
        problems: Sequence[Problem] = section_problems(
            [UndersideSection(behind_mm=one.behind_mm, left=one.near, right=one.off * (-1.0, 1.0))
             for one in sorted(gathered.curves, key=lambda curve: curve.behind_mm)]
        )  # fmt: skip
        raise InputProblemsError(problems)
    pattern = model_from_numbers(record.numbers, PATTERN_POINTS)
    if isinstance(pattern, Undetermined):
        raise InputProblemsError([Problem(what=pattern.reason, cure="Measure its numbers first.")])
    traced = underside_across(gathered.curves, base, pattern, errors_of(photos, tool), gathered.gaps_mm)
    wrong = list(section_problems(traced.sections))
    gaps = None if wrong else unmeasured(traced.sections)
    if gaps is not None:
        places = ", ".join(f"{traced.sections[k - 1].behind_mm:g}" for k in gaps.stations)
        cure = f"Trace more of it: {places} mm behind the front edge."
        wrong.append(Problem(what=gaps.reason, cure=cure, where=Where(field="stations")))
    if wrong:
        raise InputProblemsError(wrong)
    return TracedSaddle(
        record=with_underside(record, _panel(base, traced), traced.sections, traced.error, _MEASURED),
        underside=traced,
        remarks=(*gathered.remarks, *_remarks(base, traced)),
    )


def errors_of(photos: Sequence[NamedSheet], tool: TracedCurve) -> TracingErrors:
    """Return how sure tracings are by their photos and the curve that was bent; the coarsest photo counts."""
    point = max(curve.point_sd_mm for one in photos for curve in one.sheet.curves)
    scale = max(one.sheet.scale.sd for one in photos)
    return TracingErrors(
        point_mm=hypot(PEN_SD_MM, point), spring_mm=tool.spring_back_sd_mm, scale=hypot(tool.scale_sd, scale)
    )


def _panel(base: PanelledNumbers, traced: TracedUnderside) -> PanelNumbers:
    behind = np.array([one.behind_mm for one in traced.told])
    places = np.array([base.tree.behind_mm, WAIST * base.panel.length_mm, REAR * base.panel.length_mm])
    channel = np.interp(places, behind, [one.channel_mm for one in traced.told])
    width = np.interp(places, behind, [0.5 * (one.near_width_mm + one.off_width_mm) for one in traced.told])
    falls = [
        np.degrees(np.mean([np.arctan2(line[0, 1] - line[-1, 1], abs(line[-1, 0] - line[0, 0]))
                            for line in (one.left, one.right)]))
        for one in traced.sections
    ]  # fmt: skip
    angle = np.interp(places[1:], behind, falls)
    front, waist, rear = (round(float(one), 1) for one in channel)
    wide = tuple(round(float(one), 1) for one in width)
    return replace(
        base.panel,
        channel_mm=(front, waist, rear),
        width_mm=(wide[0], wide[1], wide[2]),
        angle_deg=(round(float(angle[0]), 1), round(float(angle[1]), 1)),
    )


def _remarks(base: PanelledNumbers, traced: TracedUnderside) -> tuple[Problem, ...]:
    said = []
    if traced.off_numbers_mm > UNLIKE_MM:
        what = f"the tracings lie {traced.off_numbers_mm:.0f} mm off the saddle’s numbers on average"
        cure = "Check that it is this saddle, which side is near, and the stations’ distances."
        said.append(_warning(what, cure, "stations"))
    ends = (traced.told[0].behind_mm, base.panel.length_mm - traced.told[-1].behind_mm)
    for words, missing in zip(("front", "rear"), ends, strict=True):
        if missing > UNTRACED_MM:
            what = (
                f"the {words} {missing:.0f} mm of the panels are not traced: in a fit check they bear nothing"
            )
            said.append(_warning(what, "Trace a section nearer to the end, if they bear there.", "stations"))
    if not traced.heights_measured:
        what = "how high the sections lie against each other is taken from the saddle’s numbers"
        cure = "To measure it, lay a straight rod along the near panel and give the gap at each station."
        said.append(_warning(what, cure, "gaps"))
    if isinstance(traced.twist, Undetermined):
        what = "no rule’s lean was read: neither twist nor which panel stands out more can be told"
        cure = "Lay a rule across both panels at each station, and read its lean with a level."
        said.append(_warning(what, cure, "lean"))
    if not traced.edges_are_marked:
        what = "where strokes are missing, the panels’ inner edges are taken by the channel’s width"
        said.append(_warning(what, "Draw a stroke at each inner edge: it need not lie evenly.", "channel"))
    return (*said, *_narrow_panels(base, traced))


def _narrow_panels(base: PanelledNumbers, traced: TracedUnderside) -> list[Problem]:
    """Return where a curve may not reach the outer edge: cut, broken, or not traced so far."""
    length = base.panel.length_mm
    places = (base.tree.behind_mm, WAIST * length, REAR * length)
    found = []
    for one in traced.told:
        wide = float(np.interp(one.behind_mm, places, base.panel.width_mm))
        for side, width in (("near", one.near_width_mm), ("off", one.off_width_mm)):
            if wide - width > NARROWER_MM:
                what = (
                    f"{one.behind_mm:.0f} mm behind the front edge the {side} panel is {width:.0f} mm wide, "
                    f"{wide - width:.0f} mm less than by its numbers"
                )
                found.append(
                    _warning(what, "Look whether its curve reaches the outer edge in the photo.", "stations")
                )
    return found


def _warning(what: str, cure: str, field: str) -> Problem:
    return Problem(what=what, cure=cure, where=Where(field=field), weight=Weight.WARNING)
