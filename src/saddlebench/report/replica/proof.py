"""The rebuild check sheet: good, or which station to move by how much."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np

from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.replica.proof import (
    RebuildProof,
    RebuildVerdict,
    SideMove,
    StationProof,
    not_compared,
)
from saddlebench.exchange.drawings.ink import shortened
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said
from saddlebench.report.replica.words import (
    length_words,
    lengths_note,
    paper_contents,
    paper_words,
    place_words,
    quoted,
    signed_words,
)
from saddlebench.report.setting import Paper
from saddlebench.report.typeset import typeset_for_all

SYMBOLS = {RebuildVerdict.GOOD: "✓", RebuildVerdict.MOVE: "✕", RebuildVerdict.CANNOT_TELL: "?"}
PLAN_WIDTH_MM, PLAN_HEIGHT_MM = 70.0, 105.0
LEAST_MOVE_MM = 0.5
COLUMNS = ("station", "where", "near", "off", "could miss", "what to do")
SIDES_NOTE = (
    "Near and off: the worst place of each side, + where the rebuild stands proud of the record, "
    "\u2212 where it lies too deep."
)
PLAN_NOTE = (
    "A ring: within what counts as good. A triangle pointing up: the rebuild stands proud by so much; "
    "pointing down: it lies too deep. Filled: more than measuring error explains; empty: it may be the "
    "measuring."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofNames:
    """What was compared with what."""

    original: str
    original_day: dt.date
    replica: str
    replica_day: dt.date
    instrument: str
    """That the replica was measured with."""


def proof_pdf(
    proof: RebuildProof, original: EstimatedBack, names: ProofNames, paper: Paper = Paper.A4
) -> bytes:
    """Return the rebuild check sheet as PDF/UA-1, in the language and lengths of its reader (`read_by`).

    Parameters
    ----------
    proof : what was found
    original : the back that was rebuilt
    names : what was compared with what
    paper : it is printed on
    """
    contents = proof_contents(proof, original, names, paper)
    return typeset_for_all("replica/proof.typ", [contents], shared=False)


def proof_contents(
    proof: RebuildProof, original: EstimatedBack, names: ProofNames, paper: Paper = Paper.A4
) -> dict[str, Any]:
    """Return what the sheet says, as plain data."""
    missing = [said(one.reason) for one in not_compared(proof, original)]
    day, then = reader().day(names.replica_day), reader().day(names.original_day)
    return {
        **paper_contents(paper),
        "words": paper_words(*COLUMNS, "Seen from above", "HEAD"),
        "sides_note": f"{said(SIDES_NOTE)} {lengths_note()}",
        "plan_note": said(PLAN_NOTE),
        "title": f"{said('Rebuild check sheet')}: {shortened(names.original, 60)}",
        "about": (
            f"{quoted(shortened(names.replica, 60))}, {said('measured on')} {day}, {said('with')} "
            f"{shortened(names.instrument, 60)}; {said('compared with the record of')} {then}, "
            f"{said('laid on it as one piece')}."
        ),
        "symbol": SYMBOLS[proof.verdict],
        "verdict": said(headline(proof)),
        "figures": _figures(proof),
        "rows": [_row(one) for one in proof.stations],
        "missing": missing,
        "plan": _plan(proof, original),
        "footer": f"{said('rebuild check')} · {shortened(names.original, 40)}",
    }


def _figures(proof: RebuildProof) -> str:
    median = float(np.median(proof.band_mm))
    off = (
        f"Off by {proof.rms_mm:.1f} mm in the mean (root of mean squares), {proof.largest_mm:.1f} mm at "
        f"most, at {len(proof.off_mm)} places."
    )
    good = f"Good means within {proof.tolerance_mm:g} mm."
    missed = (
        f"At all places together, with 95 in 100, measuring alone stays within {median:.1f} mm (median): a "
        "smaller fault could be missed."
    )
    return " ".join(said(sentence) for sentence in (off, good, missed))


def headline(proof: RebuildProof) -> str:
    """Return the verdict as a sentence."""
    moved = [str(one.number) for one in proof.stations if one.verdict is RebuildVerdict.MOVE]
    again = [str(one.number) for one in proof.stations if one.verdict is RebuildVerdict.CANNOT_TELL]
    if moved:
        return f"Move station{'s' if len(moved) > 1 else ''} {', '.join(moved)}."
    if again:
        listed = f"station{'s' if len(again) > 1 else ''} {', '.join(again)}"
        return f"Cannot tell: measure {listed} of the rebuild again."
    return "Good: the rebuild shows the record."


def move_words(station: StationProof) -> str:
    """Return what to do with a station: nothing, or how to move it."""
    if station.verdict is RebuildVerdict.GOOD:
        return "leave as it is"
    if station.verdict is RebuildVerdict.CANNOT_TELL:
        return "measure again"
    parts = []
    if abs(station.raise_mm) >= LEAST_MOVE_MM:
        up = "raise" if station.raise_mm > 0.0 else "lower"
        parts.append(f"{up} by {_plain(station.raise_mm)} mm")
    if abs(station.shift_near_mm) >= LEAST_MOVE_MM:
        side = "near" if station.shift_near_mm > 0.0 else "off"
        parts.append(f"shift {_plain(station.shift_near_mm)} mm to the {side} side")
    bad = [side for side in station.sides if side.verdict is RebuildVerdict.MOVE]
    parts += [_side_words(side) for side in bad]
    return "; ".join(parts)


def _plain(mm: float) -> str:
    """Return a number's size as the program's own sentences have it, to be told with them."""
    return f"{abs(round(mm, 1)):g}"


def _side_words(side: SideMove) -> str:
    proud = "too high" if side.worst_mm > 0.0 else "too low"
    return f"{side.side}, {side.worst_at_mm:.0f} mm out: {_plain(side.worst_mm)} mm {proud}"


def _row(station: StationProof) -> dict[str, Any]:
    sides = {side.side: side for side in station.sides}
    return {
        "symbol": SYMBOLS[station.verdict],
        "verdict": station.verdict,
        "said": said(station.verdict),
        "station": str(station.number),
        "where": place_words(station.s_mm),
        "near": signed_words(sides["near"].worst_mm) if "near" in sides else "–",
        "off": signed_words(sides["off"].worst_mm) if "off" in sides else "–",
        "miss": length_words(station.could_miss_mm),
        "move": said(move_words(station)),
    }


def _plan(proof: RebuildProof, original: EstimatedBack) -> dict[str, Any]:
    """Return the places seen from above, head up and near side left, in mm of the paper."""
    radius = original.surface.spline.radius(proof.s_mm, proof.phi)[:, 0]
    across = radius * np.sin(proof.phi)
    half = float(np.abs(across).max())
    first, last = float(proof.s_mm.min()), float(proof.s_mm.max())
    x = 0.5 * PLAN_WIDTH_MM * (1.0 - 0.9 * across / half)
    y = 5.0 + (PLAN_HEIGHT_MM - 10.0) * (proof.s_mm - first) / max(last - first, 1.0)
    kinds = np.where(np.abs(proof.off_mm) <= proof.tolerance_mm, "within", "")
    kinds = np.where((kinds == "") & (proof.off_mm > 0.0), "proud", np.where(kinds == "", "deep", kinds))
    return {
        "width": PLAN_WIDTH_MM,
        "height": PLAN_HEIGHT_MM,
        "dots": [
            {
                "x": float(a),
                "y": float(b),
                "kind": str(kind),
                "sure": bool(abs(off) > band),
                "off": signed_words(off),
            }
            for a, b, kind, off, band in zip(x, y, kinds, proof.off_mm, proof.band_mm, strict=True)
        ],
    }
