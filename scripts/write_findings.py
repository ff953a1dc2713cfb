"""Make docs/reference/findings.md from the criteria table, so that its limits cannot go stale.

Run without arguments to write; with --check to fail if the page is out of date.
"""

import sys
from collections.abc import Iterable
from math import inf
from pathlib import Path

from saddlebench.engine.fit.criteria import Combine, Criterion, FindingName, PressureCriterion
from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
from saddlebench.engine.fit.measures.names import MeasureKey
from saddlebench.engine.fit.verdicts import COMMON_PRACTICE, Levels, Limit

PAGE = Path(__file__).resolve().parent.parent / "docs" / "reference" / "findings.md"

ABOUT = {
    FindingName.WITHERS_TOP: (
        "Smallest true distance from the top of the front arch (30 mm wide) to the back, less a pad "
        "that is pulled down on the spine."
    ),
    FindingName.WITHERS_TOP_GIRTHED: (
        "The same with the saddle girthed and nobody up. Usual values only: outside them a question "
        "is raised, nothing is condemned. Too high is no sign of a narrow tree on a flat-withered "
        "horse."
    ),
    FindingName.WITHERS_DROP: ("Difference of the two clearances above."),
    FindingName.WITHERS_SIDES: (
        "Smallest true distance from the upper 60 mm of the arch, beside its top, near and off, girthed: "
        "where a finger feels for it. What the rider adds shows in the drop."
    ),
    FindingName.CHANNEL_WIDTH: (
        "Narrowest place of the channel, of the saddle alone. Ponies: fine from 55; cobs: fine from "
        "75; ten below is borderline. Too wide is borderline, never worse."
    ),
    FindingName.SPINE_STRIP: (
        "How far each edge of the channel stays outside the spine strip as felt, with the saddle as "
        "it lies. The common rule is strip plus 10 mm a side; that touching the strip is not right is"
        " the default's own reading of it."
    ),
    FindingName.SPINE_HEIGHT: (
        "Smallest true distance from the channel's roof, over the width of the strip, to the back."
    ),
    FindingName.FRONT_ANGLE: (
        "Points: arc sine of the least-squares slope of the distance to the back over the lower 60 "
        "mm. Above 0 the end is closest. Bars: the face's angle, front, middle and rear."
    ),
    FindingName.FRONT_WIDTH: (
        "With the girthed saddle turned level about its centre of pressure: horizontal room at both "
        "point ends together, less panel and pad as pressed as they are on average. Below 0 the arch "
        "is too narrow by that much."
    ),
    FindingName.BEHIND_SHOULDER: (
        "Place of the point's end (of the bar's front end) behind the shoulder blade's edge, near and"
        " off. A bar's tip may overlap where it is flared: then the gap under its first 15 mm counts."
    ),
    FindingName.LAST_RIB: (
        "Rear end of the bearing surface against the mark, and the share of the load past it; the "
        "worse counts."
    ),
    FindingName.BRIDGING: (
        "A row of the panel is open where it touches nowhere across. Depth and length of the gap that"
        " stays open between rows that bear; ends that hang free are no bridge."
    ),
    FindingName.BRIDGING_GIRTHED: ("The same without a rider, depth only."),
    FindingName.ROCKING: (
        "Rise of the cantle when the girthed saddle, pads on, is settled again with 100 N on top of "
        "the front arch."
    ),
    FindingName.LOAD_ALONG: ("Share of the normal load in each third of the bearing length, at halt."),
    FindingName.LOAD_ENDS: ("Share of the normal load on the first and the last 50 mm."),
    FindingName.LEFT_SHARE: ("Share of the normal load on the near panel. A side-saddle is not judged."),
    FindingName.SEAT_TILT: ("Pitch of the saddle against level as designed, front up positive."),
    FindingName.SEAT_SHIFT: ("How far the seat's lowest place, as it lies, is behind its designed place."),
    FindingName.OFF_LINE: ("Sideways distance of the cantle's middle from the midline, near positive."),
    FindingName.STRAPS: (
        "How far the straps' anchors, on average, hang ahead of the girth groove where the saddle is put."
    ),
    FindingName.EDGE_SHARE: ("Share of the load within 15 mm of the outer edge."),
    FindingName.FACE_ANGLE: (
        "Arc tangent of the slope of the gap across, least squares over a third. Above 0 the gap "
        "opens outwards: the inner edge bears."
    ),
    FindingName.SURFACE_USED: ("Area above 1 kPa over the whole bearing area."),
    FindingName.SADDLE_EQUAL: (
        "The saddle against its own mirror image: point ends, stirrup bars, and the largest mean of a"
        " panel zone along its normal."
    ),
    FindingName.RIDER_AND_TACK: (
        "A matter for a talk, not a verdict: it never answers “not right”. Studies begin to worry "
        "above 20 %; contested up to 25 % for stocky types."
    ),
    FindingName.PRESSURE_MEAN: (
        "Mean over the area above 1 kPa in each third, rider up: a stride's mean load is the rider's weight."
    ),
    FindingName.PRESSURE_PEAK: (
        "Greatest pressure in each third under the trot's peak load, with a standing horse's "
        "stiffness. As computed; no confidence is tried."
    ),
}

INTRODUCTION = """# Findings

Made by `scripts/write_findings.py` from the criteria table; do not edit by hand.

A finding is **fine**, **borderline**, **not right** or **cannot tell**. Limits are defaults: a practice may put its own in
their place, and every page shows whose limit it is. Unless a source is named, limits are common practice, without a
published study behind them. Numbers on a limit belong to the better side. Forces are normal to the panel, as a sensing
mat would read them; distances are true distances to the unpressed back.

**Cannot tell** has a reason: near the limit (fewer than 80 % of the tries agree) · not measured well enough (the same, and
the error is wider than the band; the reading that would help most is named) · not measured · not covered by the model
(treeless and flexible saddles) · the saddle does not sit.

**Confidence** is the share of 256 tries that agree, if the model holds. Each try draws another back that the readings
allow, the marks, the saddle's own measurements, pads, softness of back and panels, friction and the girth, settles the
saddle anew and judges it with the same rules (JCGM 101:2008). The saddle stays where it was put.

**Pressure** ranks and shows evenness. It has no way to answer “not right”.

Panelled, cut-back and side-saddles have the limits of panels; western, endurance and trooper saddles those of bars.
"""


def range_words(low: float, high: float) -> str:
    """Say a range: "≥ 30", "≤ 15", "40–75", "±5"."""
    if high == inf:
        return "any" if low == -inf else f"≥ {low:g}"
    if low == -high:
        return f"±{high:g}"
    return f"≤ {high:g}" if low == -inf else f"{low:g}–{high:g}"


def levels_words(levels: Levels) -> str:
    """Say both ranges of a limit."""
    borderline = range_words(*levels.borderline)
    beyond = "otherwise" if borderline == "any" else borderline
    return f"{range_words(*levels.fine)} | {beyond}"


def measure_words(key: MeasureKey) -> str:
    """Say what is held against a limit, with its unit and state."""
    place = " ".join(word for word in (key.side, key.part) if word)
    state = f", {key.state}" if key.state is not None else ""
    return f"{key.name}{f' ({place})' if place else ''}{state}, {key.unit.symbol}"


def family_words(row: Criterion | PressureCriterion) -> str:
    """Say for which saddles a row holds."""
    return ", ".join(sorted(str(family) for family in row.families))


def rows_of(row: Criterion) -> Iterable[str]:
    """Return the lines of one criterion."""
    best = " (one of them suffices)" if row.combine is Combine.BEST else ""
    for limit in row.limits:
        yield (
            f"| {family_words(row)} | {measure_words(limit.measure)}{best} | {levels_words(limit.levels)} "
            f"| {source_words(limit)} |"
        )


def source_words(limit: Limit) -> str:
    """Say where a limit comes from."""
    return "common practice" if limit.source == COMMON_PRACTICE else limit.source


def pressure_rows(row: PressureCriterion) -> Iterable[str]:
    """Return the lines of one criterion on pressure."""
    for guide in row.guides:
        key = guide.measure
        yield (
            f"| {family_words(row)} | {key.name} ({key.part}), {key.state}, {key.unit.symbol} "
            f"| ≤ {guide.usual_below_kpa:g} | above | {guide.source} |"
        )


def page() -> str:
    """Return the whole page."""
    parts = [INTRODUCTION]
    for name in FindingName:
        lines = [line for row in DEFAULT_CRITERIA.rows if row.finding is name for line in rows_of(row)]
        lines += [
            line for row in DEFAULT_CRITERIA.pressures if row.finding is name for line in pressure_rows(row)
        ]
        head = "| saddles | measure | fine | borderline | source |\n| --- | --- | --- | --- | --- |"
        parts.append("\n".join([f"## {name.value}\n", ABOUT[name], "", head, *lines, ""]))
    return "\n".join(parts)


def main() -> int:
    """Write the page, or check it."""
    if "--check" in sys.argv[1:]:
        if not PAGE.is_file() or PAGE.read_text(encoding="utf-8") != page():
            print(f"{PAGE.name} is out of date: run scripts/write_findings.py", file=sys.stderr)
            return 1
        return 0
    PAGE.write_text(page(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
