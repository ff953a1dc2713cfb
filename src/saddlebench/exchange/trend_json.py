"""Trends for machines: the same for commands and other programs."""

from typing import Any

from saddlebench.engine.change.trend.belonging import OddVisit
from saddlebench.engine.change.trend.study import Change, Trend
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.trend_words import is_season_told


def trend_as_json(one: Trend) -> dict[str, Any]:
    """Return one number over the visits as JSON holds it."""
    season = None if isinstance(one.season, Undetermined) else one.season
    return {
        "where": one.quantity.where,
        "what": one.quantity.what,
        "unit": one.quantity.unit,
        "points": [
            {
                "day": point.day.isoformat(),
                "value": point.value,
                "standard_uncertainty": point.sd,
                "belongs": point.belongs,
            }
            for point in one.points
        ],
        "overall": _change_as_json(one.overall),
        "per_quarter": _change_as_json(one.rate),
        "moved": [
            {
                "from": swing.first_day.isoformat(),
                "to": swing.last_day.isoformat(),
                "change": swing.change.value,
                "interval_95": [swing.change.low, swing.change.high],
            }
            for swing in one.swings
        ],
        "season": None
        if season is None
        else {
            "half_range": season.half_range,
            "standard_uncertainty": season.sd,
            "highest_month": season.highest_month,
            "told": is_season_told(season),
        },
    }


def odd_visit_as_json(one: OddVisit) -> dict[str, Any]:
    """Return a visit that does not belong as JSON holds it."""
    return {
        "day": one.day.isoformat(),
        "chance": one.chance,
        "whole": one.whole,
        "places": list(one.places),
        "numbers": [
            {"where": quantity.where, "what": quantity.what, "unit": quantity.unit}
            for quantity in one.numbers
        ],
    }


def _change_as_json(change: Change | Undetermined) -> dict[str, Any] | None:
    if isinstance(change, Undetermined):
        return None
    return {"change": change.value, "interval_95": [change.low, change.high], "real": change.is_real}
