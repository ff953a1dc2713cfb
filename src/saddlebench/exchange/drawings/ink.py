"""Colours, weights and hatches of every drawing, and text that its fonts can show.

States are told by words, symbols or hatching; colour only repeats them. The hues of the verdicts are those of
Okabe and Ito's palette for colour-blind readers (Color Universal Design, 2008); fields use matplotlib's
perceptually uniform maps.
"""

import unicodedata
from functools import lru_cache

import matplotlib as mpl
from matplotlib.colors import Colormap
from matplotlib.font_manager import FontProperties, findfont, get_font

from saddlebench.exchange.readers import NO_BREAK

FONT = "DejaVu Sans"
INK = "#1f2a33"
SOFT = "#5a6772"
HAIR = "#c3ccd3"
PAPER = "#ffffff"
BACK_FILL = "#f0e9df"
BACK_LINE = "#7d6850"
PANEL_FILL = "#d6dce1"
PAD_FILL = "#faf5e4"
STRIP_FILL = "#e7e2f1"
LOAD = "#0b4f79"

TEXT_PT = 7.5
"""Smallest text: 10 CSS pixels, legible on a phone when a drawing 390 pixels wide fills the screen."""
HEADING_PT = 9.0
LINE_PT = 1.3
HAIR_PT = 0.6

NOT_MEASURED_HATCH = "xxxx"
OPEN_HATCH = "////"

PRESSURE_MAP: Colormap = mpl.colormaps["viridis_r"]
CLEARANCE_MAP: Colormap = mpl.colormaps["cividis_r"]

STYLE = {
    "font.family": FONT,
    "font.size": TEXT_PT,
    "text.parse_math": False,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": HAIR_PT,
    "axes.unicode_minus": True,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.major.width": HAIR_PT,
    "ytick.major.width": HAIR_PT,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "hatch.linewidth": 0.5,
    "hatch.color": SOFT,
    "lines.solid_capstyle": "round",
    "lines.solid_joinstyle": "round",
    "svg.fonttype": "path",
    "svg.hashsalt": "saddlebench",
    "pdf.fonttype": 42,
    "path.simplify": False,
}


@lru_cache(maxsize=1)
def _known_characters() -> frozenset[int]:
    return frozenset(get_font(findfont(FontProperties(family=FONT))).get_charmap())


def drawable(text: str) -> str:
    """Return the text on one line, with a box for each character that the drawing's font has not got."""
    kept = []
    for character in unicodedata.normalize("NFC", text):
        category = unicodedata.category(character)
        if character.isspace():
            kept.append(character if character == NO_BREAK else " ")
        elif category in ("Cf", "Mn"):
            # Joiners, marks of direction and stacked accents shape text but stand for nothing alone.
            continue
        else:
            is_known = category[0] != "C" and ord(character) in _known_characters()
            kept.append(character if is_known else "\u25af")
    return " ".join(word for word in "".join(kept).split(" ") if word)


def shortened(text: str, length: int) -> str:
    """Return drawable text of at most `length` characters, cut with an ellipsis."""
    tidy = drawable(text)
    return tidy if len(tidy) <= length else tidy[: length - 1].rstrip() + "…"
