"""How well a back is measured, in the words of people: what a hand is like, what it should practise."""

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.repeat.exercise import CheckMe, Hand, HandOn
from saddlebench.engine.change.repeat.own import InUse
from saddlebench.engine.change.repeat.sets import SURFACE
from saddlebench.engine.change.repeat.spread import Spread
from saddlebench.engine.change.repeat.study import PairAgreement, QuantityRepeats, RepeatStudy
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.readers import NO_BREAK

REPEAT_NOTE = (
    "Repeats in one visit show the hand, the marks and the instrument, not how the horse stands on another "
    "day. They say how well a back is measured, nothing about the horse."
)
WORDS = {
    Hand.STEADIER: "steadier than the instrument states",
    Hand.AS_STATED: "as steady as the instrument states",
    Hand.LESS_STEADY: "less steady than the instrument states",
}


def with_unit(value: float, quantity: Quantity) -> str:
    """Return a number of a back with its unit."""
    digits = 3 if quantity.unit == "1" else 0 if abs(value) >= 100.0 else 1
    unit = quantity.shown_unit
    space = "" if unit == "°" or not unit else NO_BREAK
    return f"{value:.{digits}f}{space}{unit}".replace("-", "\u2212")


def spread_words(spread: Spread | Undetermined, quantity: Quantity) -> str:
    """Return a standard deviation with its interval, or why there is none."""
    if isinstance(spread, Undetermined):
        return "not known"
    low, high = with_unit(spread.low, quantity), with_unit(spread.high, quantity)
    return f"{with_unit(spread.sd, quantity)} ({low.split(NO_BREAK)[0].rstrip('°')} to {high})"


def headline(found: CheckMe) -> str:
    """Return how good the hand is, as one sentence."""
    overall = found.overall
    if overall.factor == 0.0:
        return (
            "Over the whole back your repeats scatter less than rounding, marks and the level of the ground "
            "alone allow for: steadier than stated."
        )
    if overall.low > 1.0:
        return (
            f"Over the whole back your repeats scatter {overall.factor:.1f} times as far as the instrument "
            f"states ({overall.low:.1f} to {overall.high:.1f} times): less steady than stated."
        )
    if overall.high < 1.0:
        return (
            f"Over the whole back your repeats scatter {overall.factor:.1f} times as far as the instrument "
            f"states ({overall.low:.1f} to {overall.high:.1f} times): steadier than stated."
        )
    return (
        f"Over the whole back your repeats scatter as the instrument states, as far as {found.n_repeats} "
        f"repeats can tell ({overall.low:.1f} to {overall.high:.1f} times)."
    )


def plain_sentences(found: CheckMe) -> tuple[str, ...]:
    """Return the result of the exercise, a sentence a line, the most useful first."""
    numbers = [one for one in found.numbers if one.quantity.what != SURFACE]
    worse = [one for one in numbers if one.hand is Hand.LESS_STEADY]
    said = [headline(found)]
    widths = [one for one in numbers if "width" in one.quantity.what and one.quantity.unit == "mm"]
    if widths:
        typical = sorted(one.own.sd for one in widths)[len(widths) // 2]
        said.append(f"A width read twice differs by up to {2.77 * typical:.0f} mm (95 of 100 times).")
    if worse:
        names = "; ".join(one.quantity.words for one in worse[:4])
        said.append(f"Less steady than stated: {names}{' and others' if len(worse) > 4 else ''}.")
    said.append(
        f"Practise: {found.practise}." if found.practise else "Nothing stands out that needs practice."
    )
    said.append(f"In use: {in_use_words(found)}.")
    return tuple(said)


def in_use_words(found: CheckMe) -> str:
    """Return whose errors are used, and why."""
    overall = found.overall
    times = "" if overall.in_use is InUse.STATED else f", {overall.applied:.2f} times the stated ones"
    return f"{overall.in_use}{times}; {overall.why}"


def hand_words(one: HandOn) -> str:
    """Return one number's repeats against what is stated."""
    return (
        f"{spread_words(one.own, one.quantity)}, stated {with_unit(one.stated_sd, one.quantity)}: "
        f"{WORDS[one.hand]}"
    )


def repeat_sentences(study: RepeatStudy) -> tuple[str, ...]:
    """Return what a repeat study says, a sentence a line, the most useful first."""
    said = []
    for one in shown_quantities(study):
        if one.quantity.unit != "mm" or "width" not in one.quantity.what:
            continue
        again, by_any = one.repeatability, one.reproducibility
        if isinstance(again, Undetermined):
            continue
        words = (
            f"{one.quantity.words}, twice by the same fitter: within {with_unit(again.limit, one.quantity)}"
        )
        if not isinstance(by_any, Undetermined):
            words += f"; by any of them: within {with_unit(by_any.limit, one.quantity)}"
        said.append(f"{words[0].upper()}{words[1:]} (95 of 100 times).")
    return (*said[:3], *_standing_out(study))


def gauge_words(one: QuantityRepeats) -> str:
    """Return how much of the spread between readings is the gauge's, and how many kinds of back it tells."""
    if isinstance(one.gauge, Undetermined):
        return ""
    kinds = one.gauge.distinct_categories
    return f"{one.gauge.of_total:.0%}; tells {kinds} kind{'' if kinds == 1 else 's'} of back apart"


def limits_words(pair: PairAgreement, quantity: Quantity) -> str:
    """Return between what 95 of 100 differences lie, and how far apart the two read on average."""
    low, high, bias = (
        with_unit(v, quantity) for v in (pair.limits.lower, pair.limits.upper, pair.limits.bias)
    )
    return f"between {low} and {high}; on average {bias}"


def shown_quantities(study: RepeatStudy) -> tuple[QuantityRepeats, ...]:
    """Return the numbers that people know by name; the surface's regions are the rest."""
    return tuple(one for one in study.quantities if one.quantity.what != SURFACE)


def _standing_out(study: RepeatStudy) -> tuple[str, ...]:
    held: dict[tuple[str, str], list[str]] = {}
    for one in study.quantities:
        if isinstance(one.consistency, Undetermined):
            continue
        looks = (
            ("repeats worse", one.consistency.repeats_worse),
            ("lies further off", one.consistency.lies_off),
        )
        for what, suspect in looks:
            if not isinstance(suspect, Undetermined) and suspect.is_outlier and suspect.group < len(one.by):
                held.setdefault((one.by[suspect.group], what), []).append(one.quantity.words)
        pair = one.consistency.two_lie_off
        if not isinstance(pair, Undetermined) and pair.is_outlier and max(pair.groups) < len(one.by):
            for group in pair.groups:
                held.setdefault((one.by[group], "lies further off"), []).append(one.quantity.words)
    return tuple(
        f"{who} {what} than chance allows: {'; '.join(names[:3])}{' and others' if len(names) > 3 else ''}."
        for (who, what), names in held.items()
    )
