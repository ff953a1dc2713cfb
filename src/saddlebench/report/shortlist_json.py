"""Shortlists, seasons and takers as machines read them."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from saddlebench.engine.choose import Entry, RuledOut, Shortlist, Takers
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.chosen_words import (
    LIST_CAUTIONS,
    SIZE_CAUTION,
    against_of,
    change_of,
    doubt_of,
    level_of,
    reason_of,
    sure_of,
    work_of,
    would_help,
)
from saddlebench.exchange.doubt_json import doubts_as_json
from saddlebench.exchange.doubt_of_order import ORDER_NOTE, order_as_json, told_of_order
from saddlebench.exchange.doubt_words import worth_telling
from saddlebench.exchange.phrases import sorted_worst_first
from saddlebench.exchange.shop import Stock
from saddlebench.exchange.stock import StockItem
from saddlebench.report.findings_json import finding_as_json


def shortlist_as_json(
    found: Shortlist, stock: Stock | None = None, *, briefly: bool = False
) -> dict[str, Any]:
    """Return a shortlist for machines.

    Parameters
    ----------
    found : the list
    stock : what the shop knows of the saddles, if they are from a stock
    briefly : leave out the findings in full, and saddles ruled out one by one
    """
    items = {} if stock is None else {item.number: item for item in stock.items}
    return {
        "horse": found.wanted_label,
        "complete": found.is_complete,
        "asked_for": found.length,
        "entries": [_entry(entry, found, items, briefly=briefly) for entry in found.entries],
        "ruled_out": dict(Counter(str(one.limit) for one in found.ruled_out)),
        "ruled_out_saddles": [] if briefly else [_ruled_out(one) for one in found.ruled_out],
        "not_judged": [] if briefly else [vars_of(one) for one in found.not_judged],
        "cost": {
            "words": list(found.rules.words),
            "weights": {name.value: weight for name, weight in found.rules.weights.items()},
        },
        "hard_limits": {
            "past_last_rib_mm": found.limits.past_last_rib_mm,
            "bars_past_last_rib_mm": found.limits.bars_past_last_rib_mm,
            "width_mm": found.limits.width_mm,
            "seat_in": found.limits.sizes.seat_most_in,
            "flap_mm": found.limits.sizes.flap_reach_mm,
            "source": found.limits.source,
        },
        "work": vars_of(found.work),
        "work_words": list(work_of(found)),
        "would_help": list(would_help(found)),
        "order": order_as_json(found.order_doubts),
        "order_note": ORDER_NOTE if found.order_doubts else "",
        "order_words": list(told_of_order(found.order_doubts)),
        "cautions": [*LIST_CAUTIONS, SIZE_CAUTION],
    }


def vars_of(one: Any) -> dict[str, Any]:
    """Return the fields of a flat frozen class."""
    return {name: getattr(one, name) for name in one.__slots__}


def _ruled_out(one: RuledOut) -> dict[str, Any]:
    return {"number": one.key, "saddle": one.label, "limit": str(one.limit), "words": one.words}


def _entry(entry: Entry, found: Shortlist, items: dict[str, StockItem], *, briefly: bool) -> dict[str, Any]:
    item = items.get(entry.key)
    sure, stands = entry.how_sure, entry.cost_as_it_stands
    findings = () if entry.study is None else sorted_worst_first(entry.study.findings)
    doubts = () if entry.study is None else entry.study.put.doubts
    return {
        "rank": entry.rank,
        "number": entry.key,
        "saddle": entry.label,
        "where": "" if item is None else item.where_words,
        "price": "" if item is None else item.price_words,
        "seat_in": None if item is None else item.seat_in,
        "condition": "" if item is None else item.condition,
        "looked_at": entry.depth.value,
        "cost": entry.cost,
        "cost_as_it_stands": None if isinstance(stands, Undetermined) else stands,
        "arch_by_mm": entry.arch_by_mm,
        "change": change_of(entry),
        "counted": [{"finding": name.value, "counts": value} for name, value in entry.counted if value > 0.0],
        "for": [reason_of(one) for one in entry.speaks_for],
        "against": [against_of(one) for one in entry.speaks_against],
        "stays_share": None if isinstance(sure, Undetermined) else sure.stays,
        "verdicts_hold_share": None if isinstance(sure, Undetermined) else sure.verdicts_hold,
        "sure": sure_of(entry, found.length),
        "doubt": doubt_of(entry),
        "doubts": [] if briefly else doubts_as_json(worth_telling(doubts)),
        "level_with": list(entry.level_with),
        "level": level_of(entry, found),
        "alike": list(entry.alike),
        "findings": [] if briefly else [finding_as_json(one) for one in findings],
    }


def season_as_json(lists: Sequence[Shortlist], n_horses: int, stock: Stock | None = None) -> dict[str, Any]:
    """Return a season for machines: a short list for each horse, in the order of the table."""
    ordered = sorted(lists, key=lambda one: (len(one.wanted_key), one.wanted_key))
    return {
        "complete": len(lists) == n_horses and all(one.is_complete for one in lists),
        "horses": n_horses,
        "done": len(lists),
        "lists": [shortlist_as_json(one, stock, briefly=True) for one in ordered],
    }


def takers_as_json(found: Takers) -> dict[str, Any]:
    """Return the horses for one saddle for machines."""
    return {
        "number": found.key,
        "saddle": found.label,
        "complete": found.is_complete,
        "horses": [
            {
                "rank": one.entry.rank,
                "horse": one.wanted_label,
                "cost": one.entry.cost,
                "change": change_of(one.entry),
            }
            for one in found.takers
        ],
        "ruled_out": [{"horse": horse, "words": one.words} for horse, one in found.ruled_out],
        "not_judged": [{"horse": horse, "reason": one.reason} for horse, one in found.not_judged],
        "cautions": list(LIST_CAUTIONS),
    }
