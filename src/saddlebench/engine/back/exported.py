"""The rules a back is judged by, and instruments' geometry, as plain values: for a page that judges."""

from dataclasses import asdict
from typing import Any

from saddlebench.engine.back.instruments import Instrument, JointedChain, PinComb, TapeAndHand, TracedCurve
from saddlebench.engine.back.quality import MARKS, Verdict
from saddlebench.engine.back.rules import RULES, QualityRules

_FAMILIES = {JointedChain: "chain", PinComb: "comb", TracedCurve: "tracing", TapeAndHand: "tape"}


def rule_table(rules: QualityRules = RULES) -> dict[str, Any]:
    """Return every limit by its name, the words of the marks, and the words of the verdicts."""
    return {
        "limits": asdict(rules),
        "marks": dict(MARKS),
        "verdicts": {one.name.lower(): one.value for one in Verdict},
    }


def geometry_of(instrument: Instrument) -> dict[str, Any]:
    """Return an instrument as plain values, with its family.

    Raises
    ------
    ValueError
        If its readings are not keyed in (a scan).
    """
    family = _FAMILIES.get(type(instrument))
    if family is None:
        msg = f"{instrument.name} is not read off by hand"
        raise ValueError(msg)
    return {"family": family, **asdict(instrument)}
