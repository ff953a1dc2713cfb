"""Which of two saddles of a list stands first: in the words of people, and for machines."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from saddlebench.engine.choose import OrderDoubt
from saddlebench.engine.errors import Undetermined, is_known
from saddlebench.engine.fit.doubt_sources import LIKELY, SourceKind, WorthRepeating
from saddlebench.exchange.doubt_json import source_as_json
from saddlebench.exchange.doubt_words import MOST_SURE, deed_of, nothing_helps, place_of
from saddlebench.exchange.vocabulary import said

ORDER_HEADING = "What would tell which stands first"
ORDER_NOTE = (
    "Each bar is how far the order goes with one source alone; left of the dashed line the other saddle "
    "stands first. What a repeat would tell is itself an estimate, if the model holds."
)


def title_of_order(doubt: OrderDoubt) -> str:
    """Return which two saddles it is about."""
    return f"{doubt.first_label} {said('or')} {doubt.other_label}"


def order_words(doubt: OrderDoubt) -> str:
    """Return how sure the order of the two is."""
    tries = f"{100.0 * doubt.agreeing:.0f} of 100 tries"
    return said(f"In {tries} {doubt.first_label} costs less than {doubt.other_label}.")


def order_advice(doubt: OrderDoubt) -> str:
    """Return what to measure again to tell them apart."""
    best = doubt.best
    if doubt.is_told:
        return said("It can be told as it is; no repeat is needed.")
    if isinstance(best, Undetermined):
        return nothing_helps(best)
    deed = deed_of(best)
    if best.settles <= 0.0:
        return f"{deed}; {said('that alone does not tell which stands first.')}"
    only = "" if best.settles >= LIKELY else " only"
    cases = f"about {min(round(100.0 * best.settles), MOST_SURE)} of 100 cases{only}"
    return f"{deed}; {said(f'which stands first can then be told in {cases}.')}"


def told_of_order(doubts: Iterable[OrderDoubt]) -> tuple[str, ...]:
    """Return every doubt of the first place with what to do about it, a sentence or two a line."""
    return tuple(f"{title_of_order(one)}: {order_words(one)} {order_advice(one)}" for one in doubts)


def order_as_json(doubts: Iterable[OrderDoubt]) -> list[dict[str, Any]]:
    """Return doubts of the first place as JSON holds them."""
    return [_as_json(one) for one in doubts]


def _as_json(one: OrderDoubt) -> dict[str, Any]:
    best = one.best
    return {
        "first": one.first,
        "first_saddle": one.first_label,
        "other": one.other,
        "other_saddle": one.other_label,
        "lead": one.lead,
        "agreeing": one.agreeing,
        "told": one.is_told,
        "words": order_words(one),
        "advice": order_advice(one),
        "repeat": place_of(best) if is_known(best) else None,
        "sources": [source_as_json(source) | {"name": source.source} for source in one.sources],
    }


def order_of_json(held: Sequence[Mapping[str, Any]]) -> tuple[OrderDoubt, ...]:
    """Return doubts of the first place as `order_as_json` wrote them."""
    return tuple(
        OrderDoubt(
            first=one["first"],
            first_label=one["first_saddle"],
            other=one["other"],
            other_label=one["other_saddle"],
            lead=one["lead"],
            agreeing=one["agreeing"],
            sources=tuple(_source(source) for source in one["sources"]),
        )
        for one in held
    )


def _source(held: Mapping[str, Any]) -> WorthRepeating:
    low, high = held["between"]
    return WorthRepeating(
        source=held["name"],
        kind=SourceKind(held["what_to_do"]),
        share=held["share"],
        low=low,
        high=high,
        removes=held["removes"],
        settles=held["told_after"],
        stations=tuple(held["stations"]),
        at_mm=held["behind_shoulder_mm"],
    )
