"""Trends in the words of people."""

import datetime as dt
from collections.abc import Sequence

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.trend.study import Change, Season, Swing, Trend
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.readers import MONTHS, NO_BREAK

MOVED_NOTE = (
    "Moved: risen or fallen between two visits by more than all visits and numbers of an unchanged back "
    "would show together in 95 of 100 cases. What is not marked may have moved by less than could be seen."
)
TREND_NOTE = (
    "A trend joins visits by what backs usually do in between; between visits nobody measured. A visit that "
    "does not belong may be a mistake or the first sign of something: measure it again, and where the horse "
    "is sore, lame or suddenly changed, the veterinary surgeon comes first."
)


def signed(value: float, quantity: Quantity) -> str:
    """Return a change with its sign and unit."""
    digits = 2 if quantity.unit == "1" else 1 if abs(value) < 10.0 else 0
    unit = quantity.shown_unit
    space = "" if unit == "°" or not unit else NO_BREAK
    rounded = round(value, digits) + 0.0
    return f"{rounded:+.{digits}f}{space}{unit}".replace("-", "\u2212")


def change_words(change: Change | Undetermined, quantity: Quantity) -> str:
    """Return a change with its interval, and whether measuring alone would show as much."""
    if isinstance(change, Undetermined):
        return "not known"
    told = "" if change.is_real else ", within measuring error"
    return f"{signed(change.value, quantity)} ({_ends(change, quantity)}{told})"


def _ends(change: Change, quantity: Quantity) -> str:
    low, high = (signed(end, quantity).split(NO_BREAK)[0].rstrip("°") for end in (change.low, change.high))
    return f"{low} to {high}"


def season_words(season: Season | Undetermined, quantity: Quantity) -> str:
    """Return what comes and goes with the year."""
    if isinstance(season, Undetermined):
        return "no season seen"
    size = signed(season.half_range, quantity).lstrip("+")
    return f"±{size} with the season, most in {MONTHS[season.highest_month - 1]}"


def swing_words(trend: Trend) -> str:
    """Return when a number rose or fell, and by how much; empty where it may have stood still."""
    return "; ".join(one_swing_words(one, trend.quantity) for one in trend.swings)


def one_swing_words(swing: Swing, quantity: Quantity) -> str:
    """Return one rise or fall: from when to when, by how much, with its interval."""
    return (
        f"{day_words(swing.first_day)} to {day_words(swing.last_day)} "
        f"{signed(swing.change.value, quantity)} ({_ends(swing.change, quantity)})"
    )


def day_words(day: dt.date) -> str:
    """Return a day as people write it."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def moved_words(trends: Sequence[Trend]) -> str:
    """Return how many numbers rose or fell at all, so that a still back is called still."""
    moved = sum(bool(one.swings) for one in trends)
    if not moved:
        return f"None of {len(trends)} numbers moved by more than the visits' own errors explain"
    return f"{moved} of {len(trends)} numbers moved"


def odd_words(trend: Trend) -> str:
    """Return which visits do not belong; empty where all do."""
    odd = [point for point in trend.points if not point.belongs]
    if not odd:
        return ""
    days = ", ".join(day_words(point.day) for point in odd)
    return f"does not belong: {days}"


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
