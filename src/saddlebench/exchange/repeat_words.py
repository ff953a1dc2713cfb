"""How well a back is measured, in the words of people: what a hand is like, what it should practise."""

from collections.abc import Sequence

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.repeat.exercise import CheckMe, Hand, HandOn
from saddlebench.engine.change.repeat.own import InUse
from saddlebench.engine.change.repeat.sets import SURFACE
from saddlebench.engine.change.repeat.spread import Spread
from saddlebench.engine.change.repeat.study import PairAgreement, QuantityRepeats, RepeatStudy
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.readers import NO_BREAK
from saddlebench.exchange.vocabulary import said

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
    return said(_with_unit(value, quantity))


def _with_unit(value: float, quantity: Quantity) -> str:
    digits = 3 if quantity.unit == "1" else 0 if abs(value) >= 100.0 else 1
    unit = quantity.shown_unit
    space = "" if unit == "°" or not unit else NO_BREAK
    return f"{value:.{digits}f}{space}{unit}".replace("-", "\u2212")


def spread_words(spread: Spread | Undetermined, quantity: Quantity) -> str:
    """Return a standard deviation with its interval, or why there is none."""
    if isinstance(spread, Undetermined):
        return said("not known")
    low = _with_unit(spread.low, quantity).split(NO_BREAK)[0].rstrip("°")
    return said(f"{_with_unit(spread.sd, quantity)} ({low} to {_with_unit(spread.high, quantity)})")


def headline(found: CheckMe) -> str:
    """Return how good the hand is, as one sentence."""
    return said(_headline(found))


def _headline(found: CheckMe) -> str:
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
    lines = [headline(found)]
    widths = [one for one in numbers if "width" in one.quantity.what and one.quantity.unit == "mm"]
    if widths:
        typical = sorted(one.own.sd for one in widths)[len(widths) // 2]
        apart = f"{2.77 * typical:.0f}{NO_BREAK}mm"
        lines.append(said(f"A width read twice differs by up to {apart} (95 of 100 times)."))
    if worse:
        names = "; ".join(said(one.quantity.words) for one in worse[:4])
        lines.append(f"{said('Less steady than stated')}: {names}{_and_others(len(worse) > 4)}.")
    practise = f"Practise: {found.practise}." if found.practise else "Nothing stands out that needs practice."
    lines += [said(practise), f"{said('In use')}: {in_use_words(found)}."]
    return tuple(lines)


def _and_others(more: bool) -> str:  # noqa: FBT001
    return f" {said('and others')}" if more else ""


def in_use_words(found: CheckMe) -> str:
    """Return whose errors are used, and why."""
    overall = found.overall
    applied = f"{overall.applied:.2f} times the stated ones"
    times = "" if overall.in_use is InUse.STATED else f", {said(applied)}"
    return f"{said(overall.in_use.value)}{times}; {said(overall.why)}"


def hand_words(one: HandOn) -> str:
    """Return one number's repeats against what is stated."""
    stated = f"{said('stated')} {with_unit(one.stated_sd, one.quantity)}"
    return f"{spread_words(one.own, one.quantity)}, {stated}: {said(WORDS[one.hand])}"


MOST_WIDTHS = 3
ROUGHLY = 1.5
"""From so many times the computed one on, the upper end of a deviation's 95 % is said: up to 16 degrees of
freedom."""


def repeat_sentences(study: RepeatStudy) -> tuple[str, ...]:
    """Return what a repeat study says, a sentence a line, the most useful first."""
    lines, known = [], []
    for one in shown_quantities(study):
        if one.quantity.unit != "mm" or "width" not in one.quantity.what:
            continue
        again, by_any = one.repeatability, one.reproducibility
        if isinstance(again, Undetermined):
            continue
        name = said(one.quantity.words)
        same = f"twice by the same fitter: within {_with_unit(again.limit, one.quantity)}"
        words = f"{name[0].upper()}{name[1:]}, {said(same)}"
        if not isinstance(by_any, Undetermined):
            words += f"; {said(f'by any of them: within {_with_unit(by_any.limit, one.quantity)}')}"
        lines.append(f"{words} ({said('95 of 100 times')}).")
        known.append((again.low / again.sd, again.high / again.sd))
    return (*lines[:MOST_WIDTHS], *_roughly(known[:MOST_WIDTHS]), *_standing_out(study))


def _roughly(known: Sequence[tuple[float, float]]) -> tuple[str, ...]:
    """Return how roughly few repeats tell a limit, by the interval of the one that is known least."""
    if not known:
        return ()
    low, high = min(one for one, _ in known), max(one for _, one in known)
    if high < ROUGHLY:
        return ()
    return (
        said(f"So few repeats tell it roughly: the true limits may be {low:.1f} to {high:.1f} times these."),
    )


def gauge_words(one: QuantityRepeats) -> str:
    """Return how much of the spread between readings is the gauge's, and how many kinds of back it tells."""
    if isinstance(one.gauge, Undetermined):
        return ""
    kinds = one.gauge.distinct_categories
    told = f"tells {kinds} kind{'' if kinds == 1 else 's'} of back apart"
    return f"{said(f'{one.gauge.of_total:.0%}')}; {said(told)}"


def limits_words(pair: PairAgreement, quantity: Quantity) -> str:
    """Return between what 95 of 100 differences lie, and how far apart the two read on average."""
    low, high, bias = (
        _with_unit(v, quantity) for v in (pair.limits.lower, pair.limits.upper, pair.limits.bias)
    )
    return f"{said(f'between {low} and {high}')}; {said(f'on average {bias}')}"


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
                held.setdefault((one.by[suspect.group], what), []).append(said(one.quantity.words))
        pair = one.consistency.two_lie_off
        if not isinstance(pair, Undetermined) and pair.is_outlier and max(pair.groups) < len(one.by):
            for group in pair.groups:
                held.setdefault((one.by[group], "lies further off"), []).append(said(one.quantity.words))
    return tuple(
        f"{who} {said(f'{what} than chance allows')}: {'; '.join(names[:3])}{_and_others(len(names) > 3)}."
        for (who, what), names in held.items()
    )
