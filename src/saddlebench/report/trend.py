"""The report's section on a back over its visits: what moved, which visit is odd, when to look again."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from saddlebench.engine.change.trend.belonging import OddVisit
from saddlebench.engine.change.trend.recheck import RecheckAdvice
from saddlebench.engine.change.trend.study import TOO_SHORT_FOR_SEASON, Trend
from saddlebench.exchange.drawings import PAGE_WIDTH_MM, Drawing
from saddlebench.exchange.drawings.ink import drawable
from saddlebench.exchange.drawings.trend import trend_chart
from saddlebench.exchange.trend_words import (
    MOVED_NOTE,
    NOT_MOVED,
    TREND_NOTE,
    change_words,
    day_words,
    moved_words,
    name_of,
    odd_visit_words,
    odd_words,
    season_words,
    swing_words,
    visits_words,
    whole_days,
)
from saddlebench.exchange.vocabulary import said
from saddlebench.report.setting import drawn

IN_FIRST, IN_A_PICTURE = 6, 8
"""Numbers in the first picture, below what is said in words, and in those that have a page to themselves."""
KEY_NOTE = (
    "Bars: 95 % of each visit; band: 95 % of the trend; shaded: November to March; a cross: a visit that "
    "does not belong; the dashed line: the day for looking again."
)
NO_SEASON_MARK = "–"
COLUMNS = ("number", "moved", "first to last (95 %)", "a quarter year now", "season")


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """A back over its visits."""

    trends: tuple[Trend, ...]
    """Those that moved most clearly first."""
    odd_visits: tuple[OddVisit, ...] = ()
    """In the order of their days."""
    advice: RecheckAdvice | None = None
    remarks: tuple[str, ...] = ()
    """What the reader has to know of the figures, in the program's own words: that they are older ones."""


def trend_contents(followed: Followed | None) -> dict[str, Any]:
    """Return what the template takes of it; to be called while speaking to the reader."""
    if followed is None or not followed.trends:
        return {"trend": None}
    trends, advice = followed.trends, followed.advice
    return {
        "trend": {
            "heading": said("Over the visits"),
            "visits": visits_words(trends),
            "moved": f"{moved_words(trends)}.",
            "remarks": [drawable(said(one)) for one in followed.remarks],
            "odd": _odd(followed.odd_visits),
            "again": None
            if advice is None
            else {
                "heading": f"{said('Look again by')} {day_words(advice.day)}",
                "reasons": [drawable(said(one)) for one in advice.reasons],
            },
            "key": said(KEY_NOTE),
            "pictures": [
                one for picture in _pictures(trends, advice) for one in drawn({"trend": picture}).values()
            ],
            "every": said("Every number"),
            "columns": [said(one) for one in COLUMNS],
            "rows": [_row(one, whole_days(followed.odd_visits)) for one in trends],
            "notes": [*_short_of_season(trends), said(MOVED_NOTE), said(TREND_NOTE)],
        }
    }


def _odd(odd_visits: Sequence[OddVisit]) -> dict[str, Any] | None:
    if not odd_visits:
        return None
    return {
        "heading": said("Visits that do not belong"),
        "visits": [drawable(f"{odd_visit_words(one)}.") for one in odd_visits],
    }


def _short_of_season(trends: Sequence[Trend]) -> list[str]:
    """Return once what the column of seasons would say in every row."""
    short = next((one for one in trends if one.season == TOO_SHORT_FOR_SEASON), None)
    return [] if short is None else [f"{NO_SEASON_MARK}: {season_words(short.season, short.quantity)}."]


def _pictures(trends: Sequence[Trend], advice: RecheckAdvice | None) -> list[Drawing]:
    first, rest = trends[:IN_FIRST], trends[IN_FIRST:]
    parts = [first, *(rest[k : k + IN_A_PICTURE] for k in range(0, len(rest), IN_A_PICTURE))]
    return [trend_chart(part, advice=advice, width_mm=PAGE_WIDTH_MM, is_headed=False) for part in parts]


def _row(trend: Trend, besides: Sequence[dt.date]) -> dict[str, Any]:
    quantity = trend.quantity
    moved = swing_words(trend)
    odd = odd_words(trend, besides)
    cells = (
        name_of(quantity),
        "; ".join(one for one in (moved or said(NOT_MOVED), odd) if one),
        change_words(trend.overall, quantity),
        change_words(trend.rate, quantity),
        NO_SEASON_MARK if trend.season == TOO_SHORT_FOR_SEASON else season_words(trend.season, quantity),
    )
    return {"moved": bool(moved), "cells": [drawable(one) for one in cells]}
