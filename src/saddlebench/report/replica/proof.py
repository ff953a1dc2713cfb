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
from saddlebench.report.replica.words import CAUTIONS, fixed_words, number_words, place_words, signed_words
from saddlebench.report.typeset import typeset

SYMBOLS = {RebuildVerdict.GOOD: "✓", RebuildVerdict.MOVE: "✕", RebuildVerdict.CANNOT_TELL: "?"}
PLAN_WIDTH_MM, PLAN_HEIGHT_MM = 70.0, 105.0
LEAST_MOVE_MM = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofNames:
    """What was compared with what."""

    original: str
    original_day: dt.date
    replica: str
    replica_day: dt.date
    instrument: str
    """That the replica was measured with."""


def proof_pdf(proof: RebuildProof, original: EstimatedBack, names: ProofNames) -> bytes:
    """Return the rebuild check sheet as an A4 PDF.

    Parameters
    ----------
    proof : what was found
    original : the back that was rebuilt
    names : what was compared with what
    """
    return typeset("replica/proof.typ", proof_contents(proof, original, names))


def proof_contents(proof: RebuildProof, original: EstimatedBack, names: ProofNames) -> dict[str, Any]:
    """Return what the sheet says, as plain data."""
    missing = [one.reason for one in not_compared(proof, original)]
    return {
        "title": f"Rebuild check sheet: {shortened(names.original, 60)}",
        "about": (
            f"“{shortened(names.replica, 60)}”, measured on {names.replica_day.isoformat()} with "
            f"{shortened(names.instrument, 60)}, laid on the record of "
            f"{names.original_day.isoformat()} as one "
            "piece and compared."
        ),
        "symbol": SYMBOLS[proof.verdict],
        "verdict": headline(proof),
        "figures": (
            f"Off by {proof.rms_mm:.1f} mm in the mean (root of mean squares), "
            f"{proof.largest_mm:.1f} mm at most, at "
            f"{len(proof.off_mm)} places. Good means within {proof.tolerance_mm:g} mm. At all "
            "places together, with "
            f"95 in 100, measuring alone stays within {float(np.median(proof.band_mm)):.1f} mm "
            "(median): a smaller "
            "fault could be missed."
        ),
        "rows": [_row(one) for one in proof.stations],
        "missing": missing,
        "plan": _plan(proof, original),
        "cautions": list(CAUTIONS),
        "footer": f"rebuild check · {shortened(names.original, 40)}",
    }


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
        parts.append(f"{up} by {number_words(abs(station.raise_mm), 1)} mm")
    if abs(station.shift_near_mm) >= LEAST_MOVE_MM:
        side = "near" if station.shift_near_mm > 0.0 else "off"
        parts.append(f"shift {number_words(abs(station.shift_near_mm), 1)} mm to the {side} side")
    bad = [side for side in station.sides if side.verdict is RebuildVerdict.MOVE]
    parts += [_side_words(side) for side in bad]
    return "; ".join(parts)


def _side_words(side: SideMove) -> str:
    proud = "too high" if side.worst_mm > 0.0 else "too low"
    return f"{side.side}, {side.worst_at_mm:.0f} mm out: {number_words(abs(side.worst_mm), 1)} mm {proud}"


def _row(station: StationProof) -> dict[str, Any]:
    sides = {side.side: side for side in station.sides}
    return {
        "symbol": SYMBOLS[station.verdict],
        "verdict": station.verdict,
        "station": str(station.number),
        "where": place_words(station.s_mm),
        "near": signed_words(sides["near"].worst_mm) if "near" in sides else "–",
        "off": signed_words(sides["off"].worst_mm) if "off" in sides else "–",
        "miss": fixed_words(station.could_miss_mm),
        "move": move_words(station),
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
