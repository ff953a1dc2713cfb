"""What there is to say of a scanned underside beside its numbers: where it is open, short or doubtful."""

from collections.abc import Sequence

import numpy as np

from saddlebench.engine.errors import Problem, Weight, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT
from saddlebench.engine.saddle.sections import UndersideSection
from saddlebench.engine.saddle.underside.bulges import Bulge
from saddlebench.engine.saddle.underside.found import FoundUnderside

UNLIKE_MM = 6.0
"""A scan that lies farther than this off the saddle's own numbers is asked about (judgement)."""
OPEN_SHARE = 0.10
SHORT_MM = 8.0
"""A panel whose sections end so far before its edge is said to be taken as shorter."""


def scan_remarks(
    found: FoundUnderside,
    sections: Sequence[UndersideSection],
    left_out: Sequence[float],
    carried: Sequence[float] | FloatArray,
) -> tuple[Problem, ...]:
    """Return what a person should know of a scanned underside before it is recorded.

    Parameters
    ----------
    found : as `find_underside` returns it
    sections : of the record, in order of distance
    left_out : where sections had to be left out, behind the front edge [mm]
    carried : (k,) where sections near an end were carried over small holes, behind the front edge [mm]
    """
    said = []
    begin, end = sections[0].behind_mm, sections[-1].behind_mm
    if begin > SHORT_MM or found.length_mm - end > SHORT_MM:
        said.append(
            (
                f"{_reach(begin, end)} of {found.length_mm:.0f} mm: a fit check takes them to end there",
                "It then says too much pressure at that end. Scan both ends of the panels again.",
            )
        )
    if len(carried):
        said.append(
            (
                f"small holes near the panels’ ends: {_places(carried)}",
                "What was scanned around them carries the panel over; pressures there are less sure.",
            )
        )
    if found.unlike_mm > UNLIKE_MM:
        said.append(
            (
                f"the scan lies {found.unlike_mm:.0f} mm off the saddle's numbers on average",
                "Check that it is this saddle, and the unit.",
            )
        )
    between = [place for place in left_out if begin < place < end]
    if between:
        said.append(
            (
                f"sections with holes were left out: {_places(between)}",
                "Nothing is measured there; neighbouring sections carry the panel over it.",
            )
        )
    if 1.0 - found.measured_share > OPEN_SHARE:
        said.append(
            (
                f"{100 * (1.0 - found.measured_share):.0f} % of the panels is not measured",
                "Scan those parts again.",
            )
        )
    cure = "Look whether it is the panel; else take it away, and scan again."
    said += [(bulge_words(one), cure) for one in found.bulges]
    if np.isfinite(found.roof_z_mm).mean() < 0.5:
        said.append(
            (
                "the scan does not reach the roof of the channel",
                "The channel's depth stays as it was recorded by hand.",
            )
        )
    where = Where(field="scan")
    return tuple(Problem(what=what, cure=cure, where=where, weight=Weight.WARNING) for what, cure in said)


def bulge_words(bulge: Bulge) -> str:
    """Return what is said of a place where an edge ran out too far."""
    side = "near" if bulge.side == LEFT else "off"
    edge = "outer" if bulge.is_outer else "inner"
    return (
        f"the {side} panel’s {edge} edge runs out by {bulge.out_mm:.0f} mm from {bulge.begin_mm:.0f} to "
        f"{bulge.end_mm:.0f} mm behind the front edge, like a hand or a strap: it was carried over there"
    )


def _places(behind_mm: Sequence[float] | FloatArray) -> str:
    more = " …" if len(behind_mm) > 6 else ""
    return ", ".join(f"{place:.0f}" for place in behind_mm[:6]) + f"{more} mm behind the front edge"


def _reach(begin: float, end: float) -> str:
    return f"the panels are measured from {begin:.0f} to {end:.0f} mm behind the front edge,"
