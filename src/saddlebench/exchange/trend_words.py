"""Trends in the words of people."""

from saddlebench.engine.back.quantities import Quantity
from saddlebench.engine.change.trend.study import Change, Season, Trend
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.readers import NO_BREAK

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
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
    low, high = signed(change.low, quantity), signed(change.high, quantity)
    told = "" if change.is_real else ", within measuring error"
    return f"{signed(change.value, quantity)} ({low} to {high}{told})"


def season_words(season: Season | Undetermined, quantity: Quantity) -> str:
    """Return what comes and goes with the year."""
    if isinstance(season, Undetermined):
        return "no season seen"
    size = signed(season.half_range, quantity).lstrip("+")
    return f"±{size} with the season, most in {MONTHS[season.highest_month - 1]}"


def odd_words(trend: Trend) -> str:
    """Return which visits do not belong; empty where all do."""
    odd = [point for point in trend.points if not point.belongs]
    if not odd:
        return ""
    days = ", ".join(point.day.isoformat() for point in odd)
    return f"does not belong: {days}"


def ordered(trends: "tuple[Trend, ...]") -> "tuple[Trend, ...]":
    """Return the trends with the clearest change first, in units of what is known of it."""

    def clarity(trend: Trend) -> float:
        change = trend.overall
        if isinstance(change, Undetermined):
            return 0.0
        half = max((change.high - change.low) / 2.0, 1e-9)
        return -abs(change.value) / half

    return tuple(sorted(trends, key=clarity))
