"""What every paper of a rebuild says in the same words."""

from typing import Any

from saddlebench.engine.replica.set_check import Move
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.readers import Language, reader
from saddlebench.exchange.vocabulary import said

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


def place_words(s_mm: float) -> str:
    """Return “110 mm behind the shoulder mark”."""
    if abs(s_mm) < 0.5:
        return said("at the shoulder mark")
    return said(f"{abs(s_mm):.0f} mm {'behind' if s_mm > 0.0 else 'in front of'} the shoulder mark")


def paper_contents() -> dict[str, Any]:
    """Return what every paper of a rebuild takes; to be called while speaking to its reader."""
    language = reader().language
    return {
        "language": language,
        "region": "DE" if language is Language.GERMAN else "GB",
        "cautions": [said(caution) for caution in CAUTIONS],
    }


def paper_words(*names: str) -> dict[str, str]:
    """Return words of a paper as its reader has them, by their English."""
    return {name: said(name) for name in (*names, "page", "of", "Mind", "near (left)", "off (right)")}


def number_words(value: float, digits: int = 2) -> str:
    """Return a number with at most so many decimals, without trailing zeros, with a true minus sign."""
    shown = _fixed(value, digits)
    return reader().number(shown.rstrip("0").rstrip(".") if "." in shown else shown)


def fixed_words(value: float, digits: int = 1) -> str:
    """Return a number with so many decimals, with a true minus sign."""
    return reader().number(_fixed(value, digits))


def _fixed(value: float, digits: int) -> str:
    # Adding nothing makes −0 after rounding a plain 0.
    return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", "\u2212")


def signed_words(value: float, digits: int = 1) -> str:
    """Return “+1.5” or “−0.3”."""
    shown = fixed_words(value, digits)
    return shown if shown.startswith("\u2212") else f"+{shown}"


def setting_move_words(move: Move) -> str:
    """Return what to move on an instrument being set: “move joint 3 on the near side by +2, to 14”."""
    side = f" on the {move.side} side" if move.side else ""
    if move.to is None:
        way = "outward" if move.by > 0.0 else "inward"
        return f"move the curve at {move.part}{side} {way} by {number_words(abs(move.by), 1)} mm"
    by = number_words(move.by)
    return f"move {move.part}{side} by {by if move.by < 0.0 else f'+{by}'}, to {number_words(move.to)}"
