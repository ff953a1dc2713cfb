"""What ends a fitting: said outright, or following from what was answered. Common practice throughout."""

from collections.abc import Mapping

from saddlebench.practice.catalogue import Value
from saddlebench.practice.catalogue.visit import STOPS_FIELDS

Stops = dict[str, tuple[str, ...]]
"""Kind of stop (the visit's field) to its causes."""

_VET_FIRST, _NOT_TODAY, _DO_NOT_RIDE = STOPS_FIELDS
_OF_THE_VISIT: tuple[tuple[str, tuple[Value, ...], str, str], ...] = (
    ("sedated", (True,), _NOT_TODAY, "sedated"),
    ("condition_score", (1,), _NOT_TODAY, "very_thin"),
    ("girthy", ("dangerous",), _NOT_TODAY, "unsafe_ground_or_handling"),
    # Marks that were felt by hand: one of such a kind anywhere is enough.
    ("palpation", ("wound", "heat", "swelling", "gall"), _VET_FIRST, "wound_heat_swelling_gall"),
    ("palpation", ("flinch",), _VET_FIRST, "pain_at_light_touch"),
)
_OF_A_SADDLE: tuple[tuple[str, tuple[Value, ...], str], ...] = (
    ("tree_squeeze", ("doubtful", "broken"), "tree_in_doubt"),
    ("tree_flex", ("doubtful", "broken"), "tree_in_doubt"),
    ("tree_spread", (True,), "tree_in_doubt"),
    ("tree_twisted", (True,), "tree_in_doubt"),
    ("stirrup_bars_tight", (False,), "stirrup_bar_in_doubt"),
    ("stirrup_catch_free", (False,), "stirrup_bar_in_doubt"),
    ("safety_release", ("unsafe",), "stirrup_bar_in_doubt"),
    ("straps", ("unsafe",), "strap_in_doubt"),
    ("webs", ("unsafe",), "strap_in_doubt"),
    ("stitching", ("unsafe",), "strap_in_doubt"),
    ("rigging", ("unsafe",), "rigging_in_doubt"),
)


def said_stops(visit: Mapping[str, Value]) -> Stops:
    """Return the stops that were said outright."""
    found = {name: visit.get(name) for name in STOPS_FIELDS}
    return {
        name: tuple(str(one) for one in held)
        for name, held in found.items()
        if isinstance(held, list) and held
    }


def following_stops(visit: Mapping[str, Value], saddle: Mapping[str, Value] | None = None) -> Stops:
    """Return the stops that follow from answers about the horse, and about one saddle where it is given."""
    found: dict[str, list[str]] = {}
    for name, values, kind, cause in _OF_THE_VISIT:
        if _is_among(visit.get(name), values):
            found.setdefault(kind, []).append(cause)
    for name, values, cause in _OF_A_SADDLE:
        if saddle is not None and saddle.get(name) in values and saddle.get(name) is not None:
            found.setdefault(_DO_NOT_RIDE, []).append(cause)
    return {kind: tuple(dict.fromkeys(causes)) for kind, causes in found.items()}


def _is_among(answer: Value, values: tuple[Value, ...]) -> bool:
    """Tell whether an answer is one of those that stop; of marks, whether one of them is of such a kind."""
    if isinstance(answer, list):
        return any(isinstance(one, dict) and one.get("kind") in values for one in answer)
    return answer is not None and answer in values


def all_stops(visit: Mapping[str, Value], saddle: Mapping[str, Value] | None = None) -> Stops:
    """Return what is said and what follows, each cause once."""
    said, follows = said_stops(visit), following_stops(visit, saddle)
    return {
        kind: tuple(dict.fromkeys((*said.get(kind, ()), *follows.get(kind, ()))))
        for kind in STOPS_FIELDS
        if kind in said or kind in follows
    }


def stop_rules() -> dict[str, list[dict[str, Value]]]:
    """Return which answers stop a fitting, as plain values: for a page that has no server in reach."""
    of_visit: list[dict[str, Value]] = [
        {"field": name, "values": list(values), "kind": kind, "cause": cause}
        for name, values, kind, cause in _OF_THE_VISIT
    ]
    of_saddle: list[dict[str, Value]] = [
        {"field": name, "values": list(values), "kind": _DO_NOT_RIDE, "cause": cause}
        for name, values, cause in _OF_A_SADDLE
    ]
    return {"visit": of_visit, "saddle": of_saddle}
