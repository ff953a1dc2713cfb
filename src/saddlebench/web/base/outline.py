"""A horse's back from above, drawn by us: its places have names, so that a list does what a finger does."""

from collections.abc import Mapping
from dataclasses import dataclass

from saddlebench.practice.catalogue import Value
from saddlebench.practice.phrases import choice_words

WIDTH, HEIGHT = 300, 420
DEGREES = ("noted", "slight", "clear", "strong")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place on the outline: fractions of its width and height, the head above, near on the left."""

    name: str
    words: str
    x: float
    y: float
    side: str


def _pair(name: str, words: str, out: float, y: float) -> tuple[Place, Place]:
    return (
        Place(name=f"{name}_near", words=f"{words}, near", x=0.5 - out, y=y, side="near"),
        Place(name=f"{name}_off", words=f"{words}, off", x=0.5 + out, y=y, side="off"),
    )


PLACES: tuple[Place, ...] = (
    *_pair("neck", "Neck", 0.1, 0.1),
    Place(name="withers", words="Withers", x=0.5, y=0.26, side="middle"),
    *_pair("withers_side", "Beside the withers", 0.12, 0.27),
    *_pair("shoulder", "Shoulder", 0.29, 0.27),
    *_pair("behind_shoulder", "Behind the shoulder", 0.22, 0.38),
    Place(name="spine_saddle", words="Spine under the saddle", x=0.5, y=0.46, side="middle"),
    *_pair("long_muscle", "Long muscle under the saddle", 0.13, 0.47),
    *_pair("ribs", "Ribs", 0.31, 0.47),
    *_pair("girth", "Girth", 0.4, 0.36),
    Place(name="spine_loin", words="Spine at the loin", x=0.5, y=0.64, side="middle"),
    *_pair("loin", "Loin", 0.15, 0.64),
    *_pair("flank", "Flank", 0.31, 0.62),
    Place(name="croup", words="Croup", x=0.5, y=0.77, side="middle"),
    *_pair("quarter", "Quarter", 0.22, 0.8),
)


def place_near(x: float, y: float) -> Place:
    """Return the named place that a point lies nearest to, on its own side."""
    side = "middle" if abs(x - 0.5) < 0.06 else "near" if x < 0.5 else "off"
    among = [place for place in PLACES if place.side == side]
    return min(among, key=lambda place: (place.x - x) ** 2 + (place.y - y) ** 2)


def mark_words(held: Mapping[str, Value]) -> str:
    """Return a mark in the program's own words: “Sore, clear: Behind the shoulder, near”."""
    x, y, degree = held.get("x"), held.get("y"), held.get("degree")
    place = place_near(x if isinstance(x, float) else 0.0, y if isinstance(y, float) else 0.0)
    strength = DEGREES[degree] if isinstance(degree, int) and 0 < degree < len(DEGREES) else ""
    kind = str(choice_words(str(held.get("kind"))))
    return f"{kind}{', ' + strength if strength else ''}: {place.words}"
