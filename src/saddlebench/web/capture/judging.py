"""What is said of readings at once: of a section while it is read, of the whole before the horse goes."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from saddlebench.engine.back.halves import Halves, halves_of
from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.back.plausible import readings_problems
from saddlebench.engine.back.quality import (
    Verdict,
    is_coarse,
    judge_record,
    must_haves_left,
    repeat_limits,
)
from saddlebench.engine.back.readings import (
    NO_TOPLINE,
    BackReadings,
    Section,
    SectionPoints,
    StationReadings,
)
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.rules import RULES
from saddlebench.engine.back.section_checks import repeat_difference, shape_problems, swap_problems
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, is_known

_SAID = {
    Verdict.GOOD: ("Good", "✓", "fine"),
    Verdict.REPEAT: ("", "≈", "borderline"),
    Verdict.TREND_ONLY: ("Enough for a trend, not for an order", "≈", "borderline"),
    Verdict.COARSE: ("Coarse: enough for a first look, not for an order", "≈", "borderline"),
    Verdict.NOT_ENOUGH: ("Not enough to work with yet", "✕", "not-right"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The verdict on what was measured so far."""

    words: str
    sign: str
    style: str
    must_haves: tuple[str, ...]
    problems: tuple[Problem, ...]
    repeats: tuple[tuple[int, float], ...]
    """By station: difference of a section from its repeat [mm]."""
    can_be_recorded: bool
    is_good: bool


def judge(record: BackRecord) -> Judged:
    """Return the verdict on a record, whether or not its readings make a surface yet."""
    try:
        points = measure_points(record)
    except InputProblemsError as error:
        found = {*error.problems, *readings_problems(record.instrument, record.readings)}
        # What cannot be without a section or a topline is told by the list of what is still to do.
        problems = tuple(p for p in found if p.weight is Weight.ERROR) if record.readings.stations else ()
        return _judged(Verdict.NOT_ENOUGH, "", tuple(must_haves_left(record)), problems, (), recordable=False)
    quality = judge_record(record, points)
    differences = quality.repeat_difference_mm
    return _judged(
        quality.verdict,
        quality.words,
        quality.must_haves_left,
        quality.problems,
        tuple(sorted(differences.items())) if is_known(differences) else (),
        recordable=not any(p.weight is Weight.ERROR for p in quality.problems),
    )


def _judged(
    verdict: Verdict,
    said: str,
    left: tuple[str, ...],
    problems: tuple[Problem, ...],
    repeats: tuple[tuple[int, float], ...],
    *,
    recordable: bool,
) -> Judged:
    words, sign, style = _SAID[verdict]
    return Judged(
        words=words or said.capitalize(),
        sign=sign,
        style=style,
        must_haves=left,
        problems=problems,
        repeats=repeats,
        can_be_recorded=recordable,
        is_good=verdict is Verdict.GOOD,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A section as it is drawn."""

    number: int
    repeat: int
    distance_mm: float
    halves: Halves


def outlines(instrument: Instrument, sections: tuple[Section, ...]) -> tuple[Outline, ...]:
    """Return the sections that can be drawn; a reading beyond every scale does not stop the others."""
    found = []
    for section in sections:
        halves = halves_of(instrument, section)
        found.append(
            Outline(
                number=section.number, repeat=section.repeat, distance_mm=section.distance_mm, halves=halves
            )
        )
    return tuple(found)


def section_remarks(
    instrument: Instrument, sections: tuple[Section, ...], number: int, repeat: int, *, is_done: bool
) -> tuple[Problem, ...]:
    """Return what is questionable about one section, given those read so far."""
    mine = [one for one in sections if (one.number, one.repeat) == (number, repeat)]
    if not mine:
        return ()
    alone = BackReadings(stations=(replace(mine[0], repeat=0),), topline=NO_TOPLINE)
    problems = [p for p in readings_problems(instrument, alone) if _is_of_section(p, number, is_done=is_done)]
    if any(p.weight is Weight.ERROR for p in problems):
        return tuple(problems)
    drawn = halves_of(instrument, mine[0])
    if is_done or _both_sides(mine[0]):
        problems += shape_problems(drawn, RULES, bends=not is_coarse(instrument))
        problems += _between_sections(instrument, sections, drawn, number, repeat)
    return tuple(problems)


def _is_of_section(problem: Problem, number: int, *, is_done: bool) -> bool:
    if problem.where.station != number or problem.where.field == "topline":
        return False
    if "station only" in problem.what:
        return False
    return is_done or problem.weight is Weight.ERROR


def _both_sides(section: Section) -> bool:
    if isinstance(section, StationReadings) and section.widths:
        return None not in section.widths
    n = 2 if isinstance(section, SectionPoints) else 3
    return min(len(section.left), len(section.right)) >= n


def _between_sections(
    instrument: Instrument, sections: tuple[Section, ...], drawn: Halves, number: int, repeat: int
) -> Iterator[Problem]:
    first = [halves_of(instrument, one) for one in sections if one.repeat == 0 and _both_sides(one)]
    if repeat:
        earlier = [one for one in first if one.station.number == number]
        off = repeat_difference(earlier[0], drawn) if earlier else None
        if off is not None and off > repeat_limits(instrument)[0]:
            yield Problem(
                what=f"This section differs from the first time by {off:.1f} mm",
                cure="Stand the horse square and measure it again.",
                weight=Weight.WARNING,
            )
        return
    for problem in swap_problems(first, RULES):
        if problem.where.station == number or f" {number} " in problem.what:
            yield problem
