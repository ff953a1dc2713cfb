"""What pages say of packs."""

from collections.abc import Mapping

from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Value
from saddlebench.practice.enums import Subject
from saddlebench.practice.handover.items import Fate, Item
from saddlebench.practice.handover.keys import KeyStanding
from saddlebench.web.base.fields import text_of

STANDING_WORDS: dict[KeyStanding, str] = {
    KeyStanding.OWN: "It is signed with your own practice’s key.",
    KeyStanding.KNOWN: "The key is known and trusted here.",
    KeyStanding.NEW: (
        "The key is not known here yet. Call the sender on a number that you know, and let them read their "
        "fingerprint to you. Only if every digit is the same is the pack theirs."
    ),
    KeyStanding.CHANGED: (
        "This sender was known here with another key. Somebody may be posing as them. Call them on a number "
        "that you know, not on one from this pack or the message it came with, and ask why."
    ),
    KeyStanding.REFUSED: "The key is no longer trusted here. Nothing signed with it is taken.",
}
FATE_WORDS: dict[Fate, tuple[str, str]] = {
    Fate.NEW: ("+", "new"),
    Fate.HERE: ("=", "here already"),
    Fate.SAME_ONE: ("=", "the one that is here"),
    Fate.LIKE: ("?", "one of this name is here"),
    Fate.DIFFERS: ("≠", "here in another version"),
    Fate.WITHDRAWN: ("–", "withdrawn here, and stays so"),
}
"""A sign, and the words beside it."""
KIND_WORDS: dict[Subject, str] = {
    Subject.HORSE: "Horse",
    Subject.SADDLE: "Saddle",
    Subject.BACK: "Back record",
    Subject.STUDY: "Fit check",
    Subject.PLAN: "Alteration plan",
    Subject.ORDER: "Work order",
    Subject.VISIT: "Visit",
    Subject.COMPARISON: "Change study",
    Subject.CHOICE: "Shortlist",
    Subject.PHOTO: "Photo or film",
}


def kind_of(item: Item) -> str:
    """Return what an item of a pack is: a saddle, or its measured record."""
    is_record = item.subject is Subject.SADDLE and bool(item.sha256)
    return "Saddle record" if is_record else KIND_WORDS[item.subject]


def field_words(name: str) -> str:
    """Return what a differing fact is called: a horse's, a saddle's, or a visit's, of which saddle there."""
    field, _, saddle = name.partition(": ")
    known = VISIT_FIELDS.get(field) or VISIT_SADDLE_FIELDS.get(field)
    words = FACT_WORDS.get(field) or (known.words if known else field.replace("_", " "))
    return f"{words}, {saddle}" if saddle else words


def told(value: Value) -> str:
    """Return a value as people read it; empty where there is none."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(told, value))
    return "" if value is None else text_of(value).replace("_", " ")


FACT_WORDS = {
    "label": "name",
    "registered_name": "registered name",
    "microchip": "microchip",
    "ueln": "life number",
    "born_in": "year of birth",
    "breed_type": "type",
    "breed": "breed",
    "colour": "colour",
    "height_cm": "height, cm",
    "work": "work",
    "discipline": "discipline",
    "rider_mass_kg": "rider, kg",
    "family": "kind",
    "maker": "maker",
    "serial": "number",
    "seat_size_in": "seat, in",
    "made_in": "made in",
}


def counted(holds: Mapping[str, object]) -> list[str]:
    """Return how many plans, orders, visits, findings and films a pack holds, in words, where it has any."""
    kinds = {
        "plans": "alteration plan",
        "orders": "work order",
        "visits": "visit",
        "changes": "change study",
        "shortlists": "shortlist",
        "films": "film",
    }
    counts = [(holds.get(name, 0), word) for name, word in kinds.items()]
    return [f"{n} {word if n == 1 else _several(word)}" for n, word in counts if n]


def _several(word: str) -> str:
    return f"{word.removesuffix('y')}ies" if word.endswith("dy") else f"{word}s"
