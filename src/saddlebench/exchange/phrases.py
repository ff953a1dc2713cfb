"""The words that drawings, documents and commands share, so that one thing is said in one way everywhere."""

from collections.abc import Sequence
from math import inf

from saddlebench.engine.errors import NotMeasured, Undetermined, is_known
from saddlebench.engine.fit.criteria import FindingName
from saddlebench.engine.fit.findings import Confidence, Doubt, DoubtKind, Finding, Held, Judged
from saddlebench.engine.fit.hand_slide import Feel, HandSlide
from saddlebench.engine.fit.measures.names import Key, MeasureKey, Part, Side
from saddlebench.engine.fit.measures.table import Measure
from saddlebench.engine.fit.verdicts import Levels, PressureGuide, Verdict
from saddlebench.engine.units import Unit
from saddlebench.exchange.readers import NO_BREAK
from saddlebench.exchange.vocabulary import said

SYMBOLS = {Verdict.FINE: "✓", Verdict.BORDERLINE: "≈", Verdict.NOT_RIGHT: "✕", Verdict.CANNOT_TELL: "?"}
"""Told apart by shape; the word always stands beside it."""
WORST_FIRST = (Verdict.NOT_RIGHT, Verdict.BORDERLINE, Verdict.CANNOT_TELL, Verdict.FINE)
SIDE_WORDS = {Side.NEAR: "near (left)", Side.OFF: "off (right)", Side.BOTH: ""}

SHORT_DOUBTS = {
    DoubtKind.NEAR_THE_LIMIT: "near the limit",
    DoubtKind.NOT_MEASURED_WELL_ENOUGH: "not well measured",
    DoubtKind.NOT_MEASURED: "not measured",
    DoubtKind.NOT_COVERED: "not covered",
    DoubtKind.DOES_NOT_SIT: "may not sit",
}
"""Why a finding cannot be told, for a row of a table."""

SCREENING_NOTE = (
    "This is a screening aid, not a diagnosis. Pain, lameness, a wound or a sudden change: ask your vet "
    "first. A qualified fitter's ridden assessment completes it. Local law and professional codes come first."
)
MODEL_NOTE = (
    "Every figure holds if the model holds: a rigid saddle at rest on a springy back. Load cases are load "
    "cases, not motion; pressure shows rank and evenness and never alone makes a finding “not right”."
)

PLAIN_NAMES = {
    FindingName.WITHERS_TOP: "Room above the withers, rider up",
    FindingName.WITHERS_TOP_GIRTHED: "Front height, girthed only",
    FindingName.WITHERS_DROP: "Drop when the rider mounts",
    FindingName.WITHERS_SIDES: "Room beside the withers",
    FindingName.CHANNEL_WIDTH: "Width of the channel",
    FindingName.SPINE_STRIP: "Room for the spine strip",
    FindingName.SPINE_HEIGHT: "Height over the spine, rider up",
    FindingName.FRONT_ANGLE: "Angle of the front arch",
    FindingName.FRONT_WIDTH: "Width of the front",
    FindingName.BEHIND_SHOULDER: "Freedom of the shoulder",
    FindingName.LAST_RIB: "Length: bearing past the last rib",
    FindingName.BRIDGING: "Middle of the panels, rider up",
    FindingName.BRIDGING_GIRTHED: "Middle of the panels, girthed only",
    FindingName.ROCKING: "Rocking",
    FindingName.LOAD_ALONG: "Load from front to rear",
    FindingName.LOAD_ENDS: "Load on the ends",
    FindingName.LEFT_SHARE: "Load near against off",
    FindingName.SEAT_TILT: "Level of the seat",
    FindingName.SEAT_SHIFT: "Lowest point of the seat",
    FindingName.OFF_LINE: "Straightness at the cantle",
    FindingName.STRAPS: "Girth straps over the girth groove",
    FindingName.EDGE_SHARE: "Load on the outer edges",
    FindingName.FACE_ANGLE: "Slope of the panels across",
    FindingName.SURFACE_USED: "How much of the panels bears",
    FindingName.SADDLE_EQUAL: "Saddle itself, near against off",
    FindingName.RIDER_AND_TACK: "Weight of rider and tack",
    FindingName.PRESSURE_MEAN: "Mean pressure at the trot",
    FindingName.PRESSURE_PEAK: "Greatest pressure at the trot",
}
"""What an owner reads for each finding."""


def sorted_worst_first(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the findings with the worst first; within a verdict in the order of the criteria."""
    return tuple(sorted(findings, key=lambda finding: WORST_FIRST.index(finding.verdict)))


def name_of(finding: FindingName) -> str:
    """Return a finding's plain name, in the vocabulary that is spoken."""
    return said(PLAIN_NAMES[finding])


def title_of(finding: Finding) -> str:
    """Return a finding's plain name with its side."""
    return said(_title(finding))


def _title(finding: Finding) -> str:
    side = SIDE_WORDS[finding.side]
    name = PLAIN_NAMES[finding.name]
    return f"{name}, {side}" if side else name


def amount(value: float, unit: Unit) -> str:
    """Return a number as people see it: with its unit, rounded to what is worth showing."""
    return said(_amount(value, unit))


def _amount(value: float, unit: Unit) -> str:
    rounded = round(value, unit.digits)
    # −0 after rounding is still nothing.
    shown = f"{rounded + 0.0:.{unit.digits}f}".replace("-", "\u2212")
    return _with_unit(shown, unit)


def _with_unit(shown: str, unit: Unit) -> str:
    return f"{shown}{unit.symbol}" if unit.symbol in ("°", "%") else f"{shown}{NO_BREAK}{unit.symbol}"


def _level(value: float, unit: Unit) -> str:
    """Return a limit's end as it was set: unlike a measured number it is exact."""
    return _with_unit(f"{value + 0.0:.10g}".replace("-", "\u2212"), unit)


def number_of(measure: Measure | NotMeasured | Undetermined) -> str:
    """Return a measure's number, or that there is none."""
    return said(_number(measure))


def _number(measure: Measure | NotMeasured | Undetermined) -> str:
    if isinstance(measure, Measure):
        return _amount(measure.shown, measure.unit)
    return "not measured" if isinstance(measure, NotMeasured) else "no number"


def place_of(key: Key) -> str:
    """Return what is measured and where, in words: “depth of the bridge, near (left), rider up”."""
    return said(_place(key))


def _place(key: Key) -> str:
    words = [str(key.name)]
    if key.part is not Part.WHOLE:
        words.append(f"{key.part} third")
    if isinstance(key, MeasureKey) and SIDE_WORDS[key.side]:
        words.append(SIDE_WORDS[key.side])
    if key.state is not None:
        words.append(str(key.state))
    return ", ".join(words)


def limits_of(held: Held) -> str:
    """Return a limit in words."""
    return said(_limits(held))


def _limits(held: Held) -> str:
    unit = held.measure.unit
    if isinstance(held, PressureGuide):
        return f"usual up to {_amount(held.usual_below_kpa, unit)}"
    fine, borderline = held.levels.fine, held.levels.borderline
    parts = [f"fine {_range(fine, unit)}"]
    if borderline != fine and not (borderline[0] == -inf and borderline[1] == inf):
        parts.append(f"not right {_outside(held.levels, unit)}")
    return ", ".join(parts)


def _range(ends: tuple[float, float], unit: Unit) -> str:
    low, high = ends
    if low == -inf:
        return f"up to {_level(high, unit)}"
    if high == inf:
        return f"from {_level(low, unit)}"
    if low == -high:
        return f"within ±{_level(high, unit)}"
    return f"{_level(low, unit)} to {_level(high, unit)}"


def _outside(levels: Levels, unit: Unit) -> str:
    low, high = levels.borderline
    if low == -high:
        return f"beyond ±{_level(high, unit)}"
    words = [f"below {_level(low, unit)}"] if low > -inf else []
    words += [f"above {_level(high, unit)}"] if high < inf else []
    return " or ".join(words)


def interval_of(finding: Finding) -> str:
    """Return the range that 95 of 100 tries fall in; empty if none was computed."""
    confidence, measure = finding.confidence, finding.decided_by.measure
    if not isinstance(confidence, Confidence) or not isinstance(measure, Measure):
        return ""
    if not is_known(confidence.interval):
        return ""
    low, high = confidence.interval
    first, second = _amount(low, measure.unit), _amount(high, measure.unit)
    return said(f"{first.removesuffix(NO_BREAK + measure.unit.symbol)} to {second}")


def confidence_of(finding: Finding) -> str:
    """Return how sure the finding is, as one sentence."""
    if not isinstance(finding.confidence, Confidence):
        return said("How sure this is was not computed.")
    share = finding.confidence.agreeing(finding.as_computed)
    return said(
        f"{share * 100.0:.0f} of 100 tries within the measuring errors say “{finding.as_computed}”, "
        "if the model holds."
    )


def agreement_of(finding: Finding) -> str:
    """Return how sure the finding is, in a few words; empty if that was not computed."""
    if not isinstance(finding.confidence, Confidence):
        return ""
    return said(f"{finding.confidence.agreeing(finding.as_computed) * 100.0:.0f} of 100 tries agree")


def doubt_of(doubt: Doubt) -> str:
    """Return why a finding cannot be told, and what would help."""
    return said(_doubt(doubt))


def _doubt(doubt: Doubt) -> str:
    reason = f"{_capital(doubt.kind)}: {doubt.reason}."
    if doubt.kind in (DoubtKind.NOT_MEASURED, DoubtKind.NOT_MEASURED_WELL_ENOUGH) and doubt.stations:
        numbers = ", ".join(str(number) for number in doubt.stations)
        reason += f" Measure station{'s' if len(doubt.stations) > 1 else ''} {numbers} again."
    return reason


def remark_of(finding: Finding) -> str:
    """Return what goes with the number: the doubt, the direction, or nothing."""
    if finding.doubt is not None:
        return doubt_of(finding.doubt)
    if finding.note is None:
        return ""
    words = _capital(finding.note)
    return said(words if words.endswith("?") else f"{words}.")


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def short_remark_of(finding: Finding) -> str:
    """Return the remark in a few words, for a row of a table."""
    if finding.doubt is None:
        return said(finding.note) if finding.note is not None else ""
    if not finding.doubt.stations:
        return said(SHORT_DOUBTS[finding.doubt.kind])
    numbers = ", ".join(str(number) for number in finding.doubt.stations)
    return said(f"station {numbers} again")


def hand_slide_of(slide: HandSlide) -> str:
    """Return what a hand would feel under one panel of the girthed saddle, and where."""
    return said(_hand(slide))


def _hand(slide: HandSlide) -> str:
    side = SIDE_WORDS[slide.side]
    felt = [stretch for stretch in slide.stretches if stretch.feel is not Feel.EVEN]
    if not felt:
        return f"{side} even throughout"
    places = (f"{stretch.feel} {_stretch(stretch.from_mm, stretch.to_mm)}" for stretch in felt)
    return f"{side} {', '.join(places)}, else even"


def hand_under_panels(slides: tuple[HandSlide, HandSlide] | Undetermined) -> str:
    """Return what a hand would feel under both panels, as a sentence."""
    if isinstance(slides, Undetermined):
        return said(f"Hand under the panels: cannot be told, {slides.reason}.")
    return said(f"Hand under the panels, girthed: {'; '.join(_hand(slide) for slide in slides)}.")


def _stretch(from_mm: float, to_mm: float) -> str:
    """Return a stretch along a panel, counted from the tree point: “120–200 mm behind the point”."""
    first, last = f"{abs(from_mm):.0f}", f"{abs(to_mm):.0f}{NO_BREAK}mm"
    if from_mm >= 0.0:
        return f"{first}–{last} behind the point"
    if to_mm <= 0.0:
        return f"{first}–{last} in front of the point"
    return f"from {first}{NO_BREAK}mm in front of the point to {last} behind it"


def judged_in_words(judged: Judged) -> str:
    """Return one measure against its limit: what, where, number, limit."""
    limit = f"{_limits(judged.limit)}, {judged.limit.owner}"
    return said(f"{_place(judged.limit.measure)}: {_number(judged.measure)}; {limit}")


def sentence_of(finding: Finding) -> str:
    """Return a finding as one plain sentence, as spoken or read aloud."""
    number = _number(finding.decided_by.measure)
    return said(f"{_title(finding)}: {finding.verdict}, {number}; {_limits(finding.decided_by.limit)}.")
