"""What every paper of a rebuild says in the same words."""

from typing import Any

from saddlebench.engine.errors import Problem
from saddlebench.engine.replica.set_check import Move
from saddlebench.engine.units import Length
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.places import place_words as along_words
from saddlebench.exchange.readers import Language, reader
from saddlebench.exchange.vocabulary import said
from saddlebench.report.setting import Paper, region_of

HARD_NOTE = (
    "A rebuild is hard; the horse is not. A saddle that is right for the horse lies on a "
    "rebuild with small gaps and "
    "may rock a little, where flesh would give way: do not alter a saddle to close such gaps."
)
RECORD_NOTE = (
    "A rebuild shows the record, with the errors it was measured with, on the day it was "
    "measured. Horses change: see "
    "that the record is not an old one."
)
CAUTIONS = (HARD_NOTE, RECORD_NOTE, SCREENING_NOTE)


def quoted(name: str) -> str:
    """Return a name that people gave in the quotation marks of its reader's language."""
    return f"„{name}“" if reader().language is Language.GERMAN else f"“{name}”"


def place_words(s_mm: float) -> str:
    """Return “110 mm behind the shoulder mark”."""
    return said(along_words(s_mm))


def problem_words(problem: Problem) -> str:
    """Return a warning with its place, told part by part."""
    where = problem.where
    station = f"station {where.station}" if where.station is not None else ""
    place = ", ".join(said(part) for part in (station, where.side, where.field) if part)
    told = f"{said(f'{problem.what}.')} {said(problem.cure)}"
    return f"{place}: {told}" if place else f"{told[:1].upper()}{told[1:]}"


def paper_contents(paper: Paper) -> dict[str, Any]:
    """Return what every paper of a rebuild takes; to be called while speaking to its reader."""
    return {
        "language": reader().language,
        "region": region_of(reader()),
        "paper": paper,
        "cautions": [said(caution) for caution in CAUTIONS],
    }


def paper_words(*names: str) -> dict[str, str]:
    """Return words of a paper as its reader has them, by their English."""
    return {name: said(name) for name in (*names, "page", "of", "Mind", "near (left)", "off (right)")}


def number_words(value: float, digits: int = 2) -> str:
    """Return a number with at most so many decimals, without trailing zeros, with a true minus sign."""
    shown = _fixed(value, digits)
    return reader().number(shown.rstrip("0").rstrip(".") if "." in shown else shown)


def _fixed(value: float, digits: int) -> str:
    # Adding nothing makes −0 after rounding a plain 0.
    return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", "\u2212")


def lengths_note() -> str:
    """Return in which unit a paper's bare lengths are."""
    return said("Lengths are in inches." if reader().length is Length.INCH else "Lengths are in mm.")


def length_words(mm: float, digits: int = 1) -> str:
    """Return a length as its reader has it, without its unit: mm to so many decimals, or inches to 0.01."""
    return reader().millimetres(_fixed(mm, digits))


def signed_words(mm: float, digits: int = 1) -> str:
    """Return a length that has a direction, as its reader has it, without its unit: “+1.5”, “−0.3”."""
    shown = _fixed(mm, digits)
    return reader().millimetres(shown if shown.startswith("\u2212") else f"+{shown}")


def setting_move_words(move: Move) -> str:
    """Return what to move on an instrument being set: “move joint 3 on the near side by +2, to 14”."""
    side = f" on the {move.side} side" if move.side else ""
    if move.to is None:
        way = "outward" if move.by > 0.0 else "inward"
        return f"move the curve at {move.part}{side} {way} by {number_words(abs(move.by), 1)} mm"
    by = number_words(move.by)
    return f"move {move.part}{side} by {by if move.by < 0.0 else f'+{by}'}, to {number_words(move.to)}"
