"""The two check bars of a sheet, at right angles, in whichever corner they cover least of the template."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from shapely.geometry import LineString, MultiLineString, Polygon, box
from shapely.ops import unary_union

from saddlebench.engine.units import Length
from saddlebench.exchange.planar import Layer
from saddlebench.exchange.readers import reader
from saddlebench.exchange.templates import PrintScale
from saddlebench.exchange.templates.tiles import BAR_MM
from saddlebench.exchange.vocabulary import said

BAR_IN_MM = 18.0
"""Inside the overlap's marks."""
BAR_TICK_MM = 1.6
WORDS_MM = 2.2
CLEAR_MM = 2.0
"""Between a bar and words."""
GLYPH_SHARE = 0.62
"""Mean width of a letter over the height of a capital, on the generous side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckBars:
    """Two bars and their words, in the sheet's frame [mm]."""

    strokes: list[dict[str, Any]]
    words: list[dict[str, Any]]


def check_bars(
    size: tuple[float, float],
    scale: PrintScale,
    words: Sequence[dict[str, Any]],
    strokes: Sequence[list[list[float]]],
) -> CheckBars:
    """Return the bars of a sheet, where they cross no words, and as few lines as may be.

    Parameters
    ----------
    size : of the frame [mm]
    scale : what the printer's own error is
    words, strokes : what stands on the sheet already, in its frame [mm]
    """
    taken = unary_union([room_of(one) for one in words]) if words else Polygon()
    lines = MultiLineString([LineString(points) for points in strokes if len(points) > 1])

    def cost(offer: tuple[CheckBars, Any]) -> tuple[float, float]:
        own = offer[1]
        return own.intersection(taken).area, own.intersection(lines).length

    return min(_offered(size, scale, bar_words()), key=cost)[0]


@lru_cache(maxsize=64)
def _offered(
    size: tuple[float, float], scale: PrintScale, words: str
) -> tuple[tuple[CheckBars, Polygon], ...]:
    """Return the bars in each corner and the room they take: the same on every sheet of one size."""
    corners = [
        _in_corner(size, scale, words, right=right, top=top)
        for top in (False, True)
        for right in (False, True)
    ]
    return tuple((bars, _room(bars)) for bars in corners)


def room_of(words: dict[str, Any]) -> Polygon:
    """Return the room that words take, in the sheet's frame [mm]."""
    x, y = words["at"]
    height, length = words["height"], len(words["words"]) * words["height"] * GLYPH_SHARE
    back = 0.5 * length if words["centred"] else 0.0
    if words["turned"]:
        return box(x - height, y - length + back, x, y + back)
    return box(x - back, y - height, x + length - back, y)


def _room(bars: CheckBars) -> Any:
    lines = [LineString(one["points"]).buffer(CLEAR_MM) for one in bars.strokes]
    return unary_union([*lines, *(room_of(one).buffer(CLEAR_MM) for one in bars.words)])


def bar_words() -> str:
    """Return what stands on a bar: its mm, since a print's lengths are given in mm, and its inches too."""
    shown = f"{said('check bar')}: {BAR_MM:.0f} mm"
    return f"{shown} ({reader().quantities(f'{BAR_MM:.0f} mm')})" if reader().length is Length.INCH else shown


def _in_corner(
    size: tuple[float, float], scale: PrintScale, words: str, *, right: bool, top: bool
) -> CheckBars:
    """Return the bars with their common end in one corner of the frame, the words on their inner sides."""
    across, down, tick = BAR_MM * scale.across, BAR_MM * scale.down, BAR_TICK_MM
    x, y = size[0] - BAR_IN_MM if right else BAR_IN_MM, BAR_IN_MM if top else size[1] - BAR_IN_MM
    end_x, end_y = x + (-across if right else across), y + (down if top else -down)
    lines = [
        [[x, y], [end_x, y]],
        *([[at, y - tick], [at, y + tick]] for at in (x, end_x)),
        [[x, y], [x, end_y]],
        *([[x - tick, at], [x + tick, at]] for at in (y, end_y)),
    ]
    said_of_it = {
        "words": words,
        "height": WORDS_MM,
        "centred": True,
        "layer": Layer.CHECK,
    }
    return CheckBars(
        strokes=[{"layer": Layer.CHECK, "points": line} for line in lines],
        words=[
            said_of_it | {"at": [0.5 * (x + end_x), y + (1.5 + WORDS_MM if top else -1.5)], "turned": 0.0},
            said_of_it | {"at": [x + (-1.8 if right else 1.8 + WORDS_MM), 0.5 * (y + end_y)], "turned": 90.0},
        ],
    )
