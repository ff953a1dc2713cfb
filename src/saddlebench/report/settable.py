"""Text that the typesetter's own fonts can show: PDF/UA refuses a page with a letter nobody could read."""

import unicodedata
from functools import cache
from typing import Any

from matplotlib.font_manager import FontProperties, findfont, get_font

FALLBACK = "DejaVu Sans Mono"
"""The widest of the fonts inside the typesetter; the drawings' library brings the same one."""
NO_BREAK = "\u00a0"
DRAWN = "svg"
"""Under this name the data holds drawings, not words."""


@cache
def _known() -> frozenset[int]:
    return frozenset(get_font(findfont(FontProperties(family=FALLBACK))).get_charmap())


def settable(text: str) -> str:
    """Return text on one line, with a box for each letter that cannot be shown, and without hidden ones."""
    kept = []
    for character in unicodedata.normalize("NFC", text):
        category = unicodedata.category(character)
        if character.isspace():
            kept.append(character if character == NO_BREAK else " ")
        elif category not in ("Cf", "Mn"):
            kept.append(character if category[0] != "C" and ord(character) in _known() else "\u25af")
    return "".join(kept)


def all_settable(data: Any) -> Any:
    """Return data for a template with every text in it settable."""
    if isinstance(data, dict):
        return {name: held if name == DRAWN else all_settable(held) for name, held in data.items()}
    if isinstance(data, list | tuple):
        if all(isinstance(held, float) for held in data):
            # points of drawings: a hundred times as many as texts
            return list(data)
        return [all_settable(held) for held in data]
    return settable(str(data)) if isinstance(data, str) else data
