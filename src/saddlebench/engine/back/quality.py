"""Quality of a back record, said at once and in words: what to do before leaving the horse."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from saddlebench.engine.back.halves import Halves, halves_of
from saddlebench.engine.back.instruments import Instrument, Scan, TapeAndHand, TracedCurve
from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.back.plausible import readings_problems
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.back.rules import RULES, QualityRules
from saddlebench.engine.back.section_checks import repeat_difference, shape_problems, swap_problems
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.errors import NotMeasured, Problem, Weight, Where
from saddlebench.engine.units import DEGREE

MARKS = {
    "withers": "highest spine of the withers",
    "lowest": "lowest point of the topline",
    "last_rib": "last-rib mark",
    "shoulder_left": "shoulder edge, left (near)",
    "shoulder_right": "shoulder edge, right (off)",
}


class Verdict(StrEnum):
    """What a record is good for."""

    GOOD = "good"
    REPEAT = "repeat"
    TREND_ONLY = "enough for a trend, not for an order"
    COARSE = "coarse: enough for a first look, not for an order"
    NOT_ENOUGH = "not enough to work with"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordQuality:
    """The verdict on a record, and everything it rests on."""

    verdict: Verdict
    repeat_stations: tuple[int, ...]
    """Stations to measure again, as the fitter counts."""
    must_haves_left: tuple[str, ...]
    """What is still missing, in words."""
    repeat_difference_mm: dict[int, float] | NotMeasured
    """By station: root mean square difference between a section and its repeat [mm]."""
    problems: tuple[Problem, ...]

    @property
    def words(self) -> str:
        """The verdict as a fitter says it: “good”, “repeat station 3 and 5”."""
        if self.verdict is not Verdict.REPEAT:
            return self.verdict.value
        named = [str(number) for number in self.repeat_stations]
        return "repeat station " + " and ".join([", ".join(named[:-1])] * (len(named) > 1) + named[-1:])


def is_coarse(instrument: Instrument) -> bool:
    """Tell whether an instrument is too coarse for an order or a trend, however well it was read."""
    return isinstance(instrument, TapeAndHand)


def size_doubt(instrument: Instrument, rules: QualityRules = RULES) -> float | None:
    """Return by how much tracings may all be too large or too small, one standard deviation [1].

    None where the size was checked, or is another instrument's.
    """
    if isinstance(instrument, TracedCurve) and instrument.scale_sd >= rules.unchecked_scale:
        return instrument.scale_sd
    return None


def repeat_limits(instrument: Instrument, rules: QualityRules = RULES) -> tuple[float, float]:
    """Return how far a repeated section may differ to be good, and beyond what something moved [mm]."""
    if is_coarse(instrument):
        return rules.coarse_repeat_good_mm, rules.coarse_repeat_worst_mm
    return rules.repeat_good_mm, rules.repeat_worst_mm


def check_record(
    record: BackRecord, points: MeasuredPoints, rules: QualityRules = RULES
) -> tuple[Problem, ...]:
    """Return everything that is questionable about a record whose points could be made, in words."""
    sections = [halves_of(record.instrument, station) for station in record.readings.stations]
    problems = [*readings_problems(record.instrument, record.readings, rules)]
    problems += _stance_problems(record, rules)
    for halves in sections:
        problems += shape_problems(halves, rules, bends=not is_coarse(record.instrument))
    problems += swap_problems([h for h in sections if h.station.repeat == 0], rules)
    problems += _spacing_problems(record, points, rules)
    problems += _topline_problems(points, rules)
    problems += _size_problems(record.instrument, rules)
    problems += record.questioned
    for number, difference in _repeat_differences(sections).items():
        if difference > repeat_limits(record.instrument, rules)[0]:
            worst = difference > repeat_limits(record.instrument, rules)[1]
            problems.append(_repeat_problem(number, difference, worst=worst))
    return tuple(problems)


def judge_record(record: BackRecord, points: MeasuredPoints, rules: QualityRules = RULES) -> RecordQuality:
    """Return the verdict on a record: good, which station to repeat, or what it is enough for."""
    problems = check_record(record, points, rules)
    sections = [halves_of(record.instrument, station) for station in record.readings.stations]
    left = tuple(must_haves_left(record, rules))
    blamed = {p.where.station for p in problems if p.where.station is not None}
    repeat = tuple(sorted(number for number in blamed if number is not None))
    if any(p.weight is Weight.ERROR for p in problems) or len(points.stations) < rules.trend_stations:
        verdict = Verdict.NOT_ENOUGH
    elif repeat:
        verdict = Verdict.REPEAT
    elif is_coarse(record.instrument):
        verdict = Verdict.COARSE
    elif left or problems:
        verdict = Verdict.TREND_ONLY
    else:
        verdict = Verdict.GOOD
    differences = _repeat_differences(sections)
    return RecordQuality(
        verdict=verdict,
        repeat_stations=repeat,
        must_haves_left=left,
        repeat_difference_mm=differences or NotMeasured("no section was measured twice"),
        problems=problems,
    )


def must_haves_left(record: BackRecord, rules: QualityRules = RULES) -> Iterator[str]:
    """Yield what is still missing before the horse goes: marks, topline, three sections."""
    for name, words in MARKS.items():
        if not isinstance(getattr(record.landmarks, name), Mark):
            yield f"the mark: {words}"
    if isinstance(record.readings.topline, NotMeasured) and not isinstance(record.instrument, Scan):
        yield "the topline"
    distances = [station.distance_mm for station in record.readings.stations]
    if not any(0.0 <= s <= rules.behind_shoulder_mm for s in distances):
        yield "a section behind the shoulder"
    for name, words in (("lowest", "the lowest point"), ("last_rib", "the last-rib mark")):
        mark = getattr(record.landmarks, name)
        if isinstance(mark, Mark) and not any(
            abs(s - mark.value_mm) <= rules.near_landmark_mm for s in distances
        ):
            yield f"a section at {words} ({round(mark.value_mm)} mm)"


def _size_problems(instrument: Instrument, rules: QualityRules) -> Iterator[Problem]:
    doubt = size_doubt(instrument, rules)
    if doubt is not None:
        percent = f"± {100.0 * doubt:.0f} %"
        yield Problem(
            what=f"The tracings’ size is known to {percent} only: nothing checked the printing’s scale",
            cure="Measure the printed ruler, and read the photos again with its length.",
            where=Where(field="instrument"),
            weight=Weight.WARNING,
        )


def _stance_problems(record: BackRecord, rules: QualityRules) -> Iterator[Problem]:
    worst = max(abs(record.stance.pitch_deg), abs(record.stance.roll_deg))
    if worst > rules.level_good_deg:
        far = worst > rules.level_worst_deg
        yield Problem(
            what=f"The stance is {worst:.1f}° off level"
            + (": no horse stands square on that" if far else ""),
            cure="Move to level ground and measure again."
            if far
            else "Look for more level ground next time.",
            where=Where(field="stance"),
            weight=Weight.WARNING,
        )


def _spacing_problems(record: BackRecord, points: MeasuredPoints, rules: QualityRules) -> Iterator[Problem]:
    distances = np.array(sorted({station.distance_mm for station in points.stations}))
    for gap, begins in zip(np.diff(distances), distances, strict=False):
        if gap > rules.coarse_stations_mm:
            yield Problem(
                what=f"There is no section between {round(begins)} and {round(begins + gap)} mm",
                cure=f"Measure one near {round(begins + gap / 2)} mm.",
                where=Where(field="distance"),
                weight=Weight.WARNING,
            )
    topline = np.sort(-points.points_back[points.station == -1, 0])
    for gap, begins in zip(np.diff(topline), topline, strict=False):
        if gap > rules.topline_gap_mm and not isinstance(record.instrument, Scan):
            yield Problem(
                what=f"The topline has no height between {round(begins)} and {round(begins + gap)} mm",
                cure=f"Measure one near {round(begins + gap / 2)} mm.",
                where=Where(field="topline"),
                weight=Weight.WARNING,
            )


def _topline_problems(points: MeasuredPoints, rules: QualityRules) -> Iterator[Problem]:
    """Yield where the topline turns as no back does: a height that was misread or mistyped."""
    midline = points.points_back[points.station == -1][:, [0, 2]] * np.array([-1.0, 1.0])
    row = midline[np.argsort(midline[:, 0], kind="stable")]
    row = row[np.concatenate([[True], np.diff(row[:, 0]) >= rules.same_place_mm])] if len(row) else row
    steps = np.diff(row, axis=0)
    turns = np.abs(np.diff(np.arctan2(steps[:, 1], steps[:, 0])))
    if len(turns) and turns.max() > rules.topline_kink_deg * DEGREE:
        place = row[1 + int(np.argmax(turns)), 0]
        yield Problem(
            what=f"The topline turns by {turns.max() / DEGREE:.0f}° at {round(place)} mm, as no back does",
            cure="Read the heights around that place again.",
            where=Where(field="topline"),
            weight=Weight.WARNING,
        )


def _repeat_differences(sections: list[Halves]) -> dict[int, float]:
    first = {halves.station.number: halves for halves in sections if halves.station.repeat == 0}
    differences: dict[int, float] = {}
    for halves in sections:
        number = halves.station.number
        if halves.station.repeat > 0 and number in first:
            difference = repeat_difference(first[number], halves)
            if difference is not None:
                differences[number] = max(difference, differences.get(number, 0.0))
    return differences


def _repeat_problem(number: int, difference_mm: float, *, worst: bool) -> Problem:
    return Problem(
        what=f"The repeat differs by {difference_mm:.1f} mm"
        + (": the horse or the instrument moved" if worst else ""),
        cure="Stand the horse square and measure this section again.",
        where=Where(station=number),
        weight=Weight.WARNING,
    )
