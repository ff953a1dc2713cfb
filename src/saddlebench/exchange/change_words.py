"""A change study in sentences, the same for commands, pages and drawings."""

import numpy as np

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.change.registration import Registration
from saddlebench.engine.change.results import (
    ChangeMap,
    ChangeStudy,
    Comparison,
    LeastWide,
    NotComparable,
    NumberChange,
    Patch,
    RegionVolume,
    Step,
    Visit,
)
from saddlebench.engine.days import plain_day
from saddlebench.engine.errors import NotMeasured
from saddlebench.exchange.change_place import place_bounds_mm
from saddlebench.exchange.change_unplaced import unplaced_words
from saddlebench.exchange.readers import NO_BREAK
from saddlebench.exchange.vocabulary import said

NEAR_OFF = {"left": "near (left)", "right": "off (right)", "both": "both sides"}
NOTHING_TOLD = "No change can be told from measuring error."
ON_THE_MIDLINE_MM = 15.0


def day(visit: Visit) -> str:
    """Return a visit's day as people write it."""
    return said(_day(visit))


def _day(visit: Visit) -> str:
    return plain_day(visit.measured_on)


def days(first: Visit, last: Visit) -> str:
    """Return two visits' days: from the one to the other."""
    return said(f"{_day(first)} to {_day(last)}")


def headline(study: ChangeStudy) -> str:
    """Return the answer in one sentence."""
    return said(_headline(study))


def _headline(study: ChangeStudy) -> str:
    whole = study.whole
    if isinstance(whole, NotComparable):
        return "These records cannot be compared."
    if not whole.scan.patches:
        return "A change can be told, but not where." if whole.scan.is_unplaced else NOTHING_TOLD
    more = len(whole.scan.patches)
    places = "in one place" if more == 1 else f"in {more} places"
    return f"The back has changed {places} by more than measuring error explains."


_WAY_IN_DOUBT = "its direction is in doubt: a wider change may lie behind it"


def patch_words(patch: Patch) -> str:
    """Return a patch in a sentence: where, how wide, which way, how much and how sure."""
    doubt = _WAY_IN_DOUBT if patch.is_way_in_doubt else ""
    return "; ".join(said(part) for part in (_patch(patch), _region_of(patch), doubt) if part)


def _patch(patch: Patch) -> str:
    side = "near (left)" if patch.from_midline_mm > 0 else "off (right)"
    across = abs(patch.from_midline_mm)
    where = (
        "on the midline" if across < ON_THE_MIDLINE_MM else f"{across:.0f}{NO_BREAK}mm down the {side} side"
    )
    way = "fuller" if patch.depth.value > 0 else "less"
    low, high = sorted((abs(patch.depth.low), abs(patch.depth.high)))
    return (
        f"{abs(patch.depth.value):.0f}{NO_BREAK}mm {way} (95{NO_BREAK}% {low:.0f} to {high:.0f}), {where}, "
        f"{_along(patch.s_mm)}, over about {patch.diameter_mm:.0f}{NO_BREAK}mm{_sure_of_place(patch)}"
    )


def _sure_of_place(patch: Patch) -> str:
    """Return how well a patch's place is known, to ten mm; nothing where a region says it."""
    if patch.middles_mm:
        return ""
    sure = 10.0 * np.ceil(0.2 * patch.place_sd_mm)
    return f", its place sure to ±{sure:.0f}{NO_BREAK}mm" if sure else ""


def _region_of(patch: Patch) -> str:
    """Return where a patch's middle may be, outwards to ten mm; empty where an older study is silent."""
    if not patch.middles_mm:
        return ""
    s, across = place_bounds_mm(patch)
    return f"its middle, in 95 of 100 cases: {_span_along(s)}, {_span_across(across)}"


def _outwards(ends: tuple[float, float]) -> tuple[float, float]:
    return 10.0 * float(np.floor(ends[0] / 10.0)), 10.0 * float(np.ceil(ends[1] / 10.0))


def _span_along(s_mm: tuple[float, float]) -> str:
    first, last = _outwards(s_mm)
    if first >= 0.0:
        return f"{first:.0f} to {last:.0f}{NO_BREAK}mm behind the shoulder mark"
    if last <= 0.0:
        return f"{-last:.0f} to {-first:.0f}{NO_BREAK}mm in front of the shoulder mark"
    return f"from {_along(first)} to {_along(last)}"


def _span_across(from_midline_mm: tuple[float, float]) -> str:
    right, left = _outwards(from_midline_mm)
    if right >= 0.0:
        return f"{right:.0f} to {left:.0f}{NO_BREAK}mm down the near (left) side"
    if left <= 0.0:
        return f"{-left:.0f} to {-right:.0f}{NO_BREAK}mm down the off (right) side"
    both = f"{left:.0f}{NO_BREAK}mm down the near (left) and {-right:.0f}{NO_BREAK}mm"
    return f"up to {both} down the off (right) side"


def least_wide_words(least: LeastWide | None) -> str:
    """Return how much of a wide or an even change may have gone unseen; empty where a study does not say."""
    if least is None:
        return ""
    return said(
        f"A wide change, fading over some 300{NO_BREAK}mm, would be told from "
        f"{least.middle_mm:.0f}{NO_BREAK}mm on ({least.best_mm:.0f} where they are best, "
        f"{least.worst_mm:.0f} and more where they are weakest); one that is the same all over, from "
        f"{least.even_mm:.0f}{NO_BREAK}mm on. Less of it may have gone unseen: laying the records together, "
        "posture and coat take it up."
    )


def along(s_mm: float) -> str:
    """Return a place along the back as a fitter says it."""
    return said(_along(s_mm))


def _along(s_mm: float) -> str:
    way = "behind" if s_mm >= 0.0 else "in front of"
    return f"{abs(s_mm):.0f}{NO_BREAK}mm {way} the shoulder mark"


def least_told(change_map: ChangeMap) -> tuple[float, float, float] | NotMeasured:
    """Return the least change over 100 mm that would be told: best place, middle, worst of ten [mm]."""
    held = change_map.told_mm[change_map.common & np.isfinite(change_map.told_mm)]
    if held.size == 0:
        return NotMeasured("no change over 100 mm would be told anywhere")
    best, middle, worst = (float(v) for v in np.quantile(held, [0.02, 0.5, 0.9]))
    return best, middle, worst


def least_told_words(change_map: ChangeMap) -> str:
    """Return what these two records could have told at all."""
    held = least_told(change_map)
    if isinstance(held, NotMeasured):
        return said("With these two records no change over 100 mm would be told anywhere.")
    best, middle, worst = held
    return said(
        f"With these two records a change over 100{NO_BREAK}mm would be told in 95 of 100 cases from "
        f"{middle:.0f}{NO_BREAK}mm on ({best:.0f} where they are best, {worst:.0f} and more where they are "
        "weakest). Less than that may have happened unseen."
    )


def registration_words(registration: Registration) -> str:
    """Return how far the later record was moved to lie on the earlier one."""
    parts = [
        f"{move.name} {signed(move.value, 1)}{NO_BREAK}{move.unit} (sure to ±{2.0 * move.sd:.1f})"
        for move in registration.moves
    ]
    coat = (
        f"; for the coat {registration.coat_mm:+.0f}{NO_BREAK}mm, ±{2.0 * registration.coat_sd_mm:.0f}, "
        "is allowed"
    )
    return said(
        "To lie on the earlier record, the later one was moved "
        f"{', '.join(parts)}: {registration.mean_move_mm:.1f}{NO_BREAK}mm on the whole{coat}."
    )


def estimate_words(held: Estimate | NotMeasured, digits: int = 0) -> str:
    """Return a change with its interval, or why there is none."""
    if isinstance(held, NotMeasured):
        return said(held.reason)
    unit = "" if held.unit == "1" else f"{NO_BREAK}{held.unit}"
    value, low, high = (signed(one, digits) for one in (held.value, held.low, held.high))
    return said(f"{value}{unit} ({low} to {high})")


def signed(value: float, digits: int) -> str:
    """Return a number with its sign, and without one where it rounds to nothing."""
    rounded = round(value, digits)
    return f"{rounded:+.{digits}f}" if rounded else f"{0.0:.{digits}f}"


def digits_of(unit: str) -> int:
    """Return how many decimals a number's unit deserves."""
    return {"1": 3, "°": 1, "mm": 1}.get(unit, 0)


def region_words(region: RegionVolume) -> str:
    """Return which region a volume is of."""
    return said(_region(region))


def _region(region: RegionVolume) -> str:
    side = NEAR_OFF[region.side]
    if region.along is None or region.across is None:
        return f"under the saddle, {side}"
    return f"{region.along.value}, {region.across.value}, {side}"


def number_words(number: NumberChange) -> str:
    """Return which number of the back it is."""
    side = "" if number.side == "both" else f", {NEAR_OFF[number.side]}"
    return said(f"{number.place}: {number.name}{side}")


def width_note(whole: Comparison) -> str:
    """Return how a changed width is to be read; empty where none changed."""
    told = (one.name for one in whole.numbers if one.is_told)
    if not any(name.startswith("width") and "below the midline" in name for name in told):
        return ""
    return said(
        "Widths are taken at a depth below each day's own midline: where the spine's line rose, the back is "
        "narrower at that depth without having lost anything, and the other way round."
    )


def step_words(step: Step | NotComparable, visit: Visit) -> str:
    """Return what a visit says against the first."""
    if isinstance(step, NotComparable):
        return f"{day(visit)}: {said('cannot be compared')}. {said(step.reason)}"
    if step.scan.is_unplaced:
        return f"{day(visit)}: {said('changed, but where cannot be told')}"
    if not step.scan.is_told:
        return f"{day(visit)}: {said('no change can be told')}"
    strongest = f", {said('strongest')}: {said(_patch(step.scan.patches[0]))}" if step.scan.patches else ""
    return f"{day(visit)}: {said('changed')}{strongest}"


def sentences(study: ChangeStudy) -> tuple[str, ...]:
    """Return the whole answer in sentences, the most important first."""
    whole = study.whole
    if isinstance(whole, NotComparable):
        return (headline(study), said(whole.reason))
    wide = least_wide_words(whole.least_wide)
    unseen = (least_told_words(whole.map), *((wide,) if wide else ()))
    return (headline(study), *_found(whole), *unseen, *_since(study))


def _found(whole: Comparison) -> tuple[str, ...]:
    patches = tuple(f"{patch_words(patch)}." for patch in whole.scan.patches)
    if whole.scan.unplaced is not None:
        patches = unplaced_words(whole.scan.unplaced)
    told = [one for one in whole.volumes if one.is_told]
    volumes = tuple(f"{_capital(region_words(one))}: {estimate_words(one.volume)}." for one in told[:4])
    width = width_note(whole)
    return (*patches, *volumes, *((width,) if width else ()))


def _since(study: ChangeStudy) -> tuple[str, ...]:
    if len(study.visits) < 3:
        return ()
    spans = told_spans(study)
    if not spans:
        return (said("At none of the visits a change against the first could be told."),)
    last = study.visits[-1]
    parts = [
        f"from {_day(first)} on"
        if end is last
        else (f"on {_day(first)}" if first is end else f"from {_day(first)} to {_day(end)}")
        for first, end in spans
    ]
    gone = "" if spans[-1][1] is last else ", and at the last visit no more"
    return (said(f"A change against the first visit could be told {', then '.join(parts)}{gone}."),)


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def told_spans(study: ChangeStudy) -> tuple[tuple[Visit, Visit], ...]:
    """Return runs of visits at which a change against the first could be told: first and last of each."""
    spans: list[tuple[Visit, Visit]] = []
    was_told = False
    for step in study.steps:
        if isinstance(step, NotComparable):
            continue
        visit = study.visits[step.later]
        if step.scan.is_beyond_error:
            spans = [*spans[:-1], (spans[-1][0], visit)] if was_told else [*spans, (visit, visit)]
        was_told = step.scan.is_beyond_error
    return tuple(spans)
