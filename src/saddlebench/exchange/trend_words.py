"""Trends in the words of people."""

import datetime as dt
from collections.abc import Collection, Sequence

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.trend.belonging import LEAST_VISITS, OddVisit
from saddlebench.engine.change.trend.study import TOO_SHORT_FOR_SEASON, Change, Season, Swing, Trend
from saddlebench.engine.days import MONTHS, plain_day
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.readers import NO_BREAK, reader
from saddlebench.exchange.vocabulary import said

NOT_MOVED = "not beyond error"
ODD_WHOLE = (
    "as a whole: many numbers are off a little, together, as another stance, a slipped gauge or another "
    "horse would have it"
)
ODD_PLACE = "several numbers together"
SEASON_TOLD = 3.8
"""Height of a yearly wave over its deviation. Nothing but errors shows 1.9 (a Rayleigh distribution's mean
over its deviation, 1.253 over 0.655). A horse has some thirty numbers: that any of them shows more by errors
alone once in twenty horses asks for a wave that one number shows once in 600 (3.6 of the error), which has
this (a Rice distribution's mean over its deviation).
"""
MOVED_NOTE = (
    "Moved: risen or fallen between two visits by more than all visits and numbers of an unchanged back "
    "would show together in 95 of 100 cases. The days are those of visits: it may have begun or ended a "
    "visit or two before or after. What is not marked may have moved by less than could be seen, or "
    "at places that no number stands for: a comparison of two visits looks at the whole surface."
)
TREND_NOTE = (
    "A trend joins visits by what backs usually do in between; between visits nobody measured. What does not "
    "belong is left out of the lines. Of 100 backs on which every visit belongs, 5 at most show one that "
    "does not. A visit that does not belong may be a mistake or the first sign of something: measure it "
    "again, and where the horse is sore, lame or suddenly changed, the veterinary surgeon comes first."
)


def name_of(quantity: Quantity) -> str:
    """Return where and what a number is."""
    return said(quantity.words)


def signed(value: float, quantity: Quantity) -> str:
    """Return a change with its sign and unit."""
    return said(_signed(value, quantity))


def _signed(value: float, quantity: Quantity) -> str:
    return f"{_number(value, quantity)}{_unit(quantity)}"


def _number(value: float, quantity: Quantity) -> str:
    digits = 3 if quantity.unit == "1" else 1 if abs(value) < 10.0 else 0
    return f"{round(value, digits) + 0.0:+.{digits}f}".replace("-", "\u2212")


def _unit(quantity: Quantity) -> str:
    unit = quantity.shown_unit
    return unit if unit == "°" or not unit else f"{NO_BREAK}{unit}"


def change_words(change: Change | Undetermined, quantity: Quantity) -> str:
    """Return a change with its interval, and whether measuring alone would show as much."""
    if isinstance(change, Undetermined):
        return said("not known")
    told = "" if change.is_real else ", within measuring error"
    return said(f"{_signed(change.value, quantity)} ({_ends(change, quantity)}{told})")


def _ends(change: Change, quantity: Quantity) -> str:
    return f"{_number(change.low, quantity)} to {_signed(change.high, quantity)}"


def is_season_told(season: Season | Undetermined) -> bool:
    """Whether a coming and going with the year stands out from error: a fit's range is never nothing."""
    return not isinstance(season, Undetermined) and season.half_range >= SEASON_TOLD * season.sd


def season_words(season: Season | Undetermined, quantity: Quantity) -> str:
    """Return what comes and goes with the year."""
    if isinstance(season, Undetermined):
        return said("too few visits to tell a season" if season == TOO_SHORT_FOR_SEASON else "no season seen")
    if not is_season_told(season):
        return said("a season cannot be told from error")
    size = _signed(season.half_range, quantity).lstrip("+")
    return said(f"±{size} with the season, most in {MONTHS[season.highest_month - 1]}")


def swing_words(trend: Trend) -> str:
    """Return when a number rose or fell, and by how much; empty where it may have stood still."""
    return "; ".join(one_swing_words(one, trend.quantity) for one in trend.swings)


def one_swing_words(swing: Swing, quantity: Quantity) -> str:
    """Return one rise or fall: from when to when, by how much, with its interval."""
    days = f"{plain_day(swing.first_day)} to {plain_day(swing.last_day)}"
    return f"{said(days)} {_swing(swing, quantity)}"


def short_swing_words(swing: Swing, quantity: Quantity) -> str:
    """Return the same by months, where there is little room."""
    first, last = (reader().month(day) for day in (swing.first_day, swing.last_day))
    return f"{first} {said('to')} {last} {_swing(swing, quantity)}"


def _swing(swing: Swing, quantity: Quantity) -> str:
    change = swing.change
    return said(f"{_signed(change.value, quantity)} ({_ends(change, quantity)})")


def day_words(day: dt.date) -> str:
    """Return a day as people write it."""
    return said(plain_day(day))


def visits_words(trends: Sequence[Trend]) -> str:
    """Return how many visits there are, and from when to when."""
    days = sorted({point.day for one in trends for point in one.points})
    return f"{said(f'{len(days)} visits')}, {said(f'{plain_day(days[0])} to {plain_day(days[-1])}')}"


def moved_words(trends: Sequence[Trend]) -> str:
    """Return how many numbers rose or fell at all, so that a still back is called still."""
    if not is_trend(trends):
        return too_few_words(trends)
    moved = sum(bool(one.swings) for one in trends)
    if not moved:
        return said(f"None of {len(trends)} numbers moved by more than the visits' own errors explain")
    return said(f"{moved} of {len(trends)} numbers moved")


def is_trend(trends: Sequence[Trend]) -> bool:
    """Whether any number was measured often enough to be followed."""
    return any(not isinstance(one.line, Undetermined) for one in trends)


def too_few_words(trends: Sequence[Trend]) -> str:
    """Return that there is no trend yet, and from when on there is one."""
    visits = len({point.day for one in trends for point in one.points})
    return said(f"No trend yet: {visits} of the {LEAST_VISITS} visits that make one")


def odd_visit_words(one: OddVisit) -> str:
    """Return a visit that does not belong, and what of it."""
    return f"{day_words(one.day)}: {odd_parts_words(one)}"


def odd_parts_words(one: OddVisit) -> str:
    """Return what of a visit does not belong."""
    if one.whole:
        return said(ODD_WHOLE)
    places = (f"{said(where)}: {said(ODD_PLACE)}" for where in one.places)
    return "; ".join([*places, *(name_of(quantity) for quantity in one.numbers)])


def odd_words(trend: Trend, besides: Collection[dt.date] = ()) -> str:
    """Return on which days this number does not belong, but for those that are said besides."""
    odd = [point for point in trend.points if not point.belongs and point.day not in besides]
    if not odd:
        return ""
    days = ", ".join(day_words(point.day) for point in odd)
    return f"{said('does not belong')}: {days}"


def whole_days(odd_visits: Sequence[OddVisit]) -> tuple[dt.date, ...]:
    """Return the days of visits that are odd as a whole: what need not be said of every number."""
    return tuple(one.day for one in odd_visits if one.whole)


def ordered(trends: "tuple[Trend, ...]") -> "tuple[Trend, ...]":
    """Return the trends that moved first, and among them the clearest, in units of what is known of it."""

    def clarity(trend: Trend) -> tuple[bool, float]:
        changes = [*(one.change for one in trend.swings), *(() if trend.swings else (trend.overall,))]
        clearest = max(
            (
                abs(one.value) / max((one.high - one.low) / 2.0, 1e-9)
                for one in changes
                if not isinstance(one, Undetermined)
            ),
            default=0.0,
        )
        return not trend.swings, -clearest

    return tuple(sorted(trends, key=clarity))
