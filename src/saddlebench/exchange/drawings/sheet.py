"""A sheet of paper measured in millimetres: axes to scale, scale bars, files that are the same every day."""

import io
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.drawings.ink import (
    HEADING_PT,
    INK,
    LINE_PT,
    PAPER,
    SOFT,
    STYLE,
    TEXT_PT,
    drawable,
    shortened,
)
from saddlebench.exchange.vocabulary import said
from saddlebench.exchange.whole_file import write_whole

MM_PER_INCH = 25.4
PHONE_WIDTH_MM = 103.0
"""390 CSS pixels of 1/96 inch."""
PAGE_WIDTH_MM = 180.0
"""What an A4 page has between its margins."""
SUFFIXES = (".svg", ".png", ".pdf")

_STYLE_LOCK = threading.RLock()


@contextmanager
def drawing_style() -> Iterator[None]:
    """Hold matplotlib's settings at this program's style; settings are global, so one thread at a time."""
    with _STYLE_LOCK, mpl.rc_context(STYLE):
        yield


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A finished drawing, and what it shows in words for those who cannot see it."""

    figure: Figure
    title: str
    description: str
    scale: float | None
    """Paper length over true length (0.2 is 1:5); None for a diagram that is not to scale."""


class Sheet:
    """Places things on paper by millimetres from the top left corner."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.width_mm = width_mm
        self.height_mm = height_mm
        self.figure = Figure(
            figsize=(width_mm / MM_PER_INCH, height_mm / MM_PER_INCH), facecolor=PAPER, dpi=200.0
        )
        FigureCanvasAgg(self.figure)

    def axes(self, left: float, top: float, width: float, height: float) -> Axes:
        """Return bare axes filling a rectangle [mm]."""
        rectangle = (
            left / self.width_mm,
            1.0 - (top + height) / self.height_mm,
            width / self.width_mm,
            height / self.height_mm,
        )
        made: Axes = self.figure.add_axes(rectangle)
        made.set_facecolor("none")
        for spine in made.spines.values():
            spine.set_visible(False)
        made.set_xticks([])
        made.set_yticks([])
        return made

    def scaled_axes(
        self,
        left: float,
        top: float,
        width: float,
        height: float,
        *,
        scale: float,
        centre: tuple[float, float],
    ) -> Axes:
        """Return axes in true millimetres at a scale, `centre` (true mm) in the rectangle's middle."""
        made = self.axes(left, top, width, height)
        half_width, half_height = width / scale / 2, height / scale / 2
        made.set_xlim(centre[0] - half_width, centre[0] + half_width)
        made.set_ylim(centre[1] - half_height, centre[1] + half_height)
        return made

    def box(self, left: float, top: float, width: float, height: float, **style: Any) -> None:
        """Draw a rectangle [mm]; without an edge unless its style names one."""
        corner = (left / self.width_mm, 1.0 - (top + height) / self.height_mm)
        size = (width / self.width_mm, height / self.height_mm)
        style.setdefault("edgecolor", "none")
        self.figure.add_artist(Rectangle(corner, *size, transform=self.figure.transFigure, **style))

    def text(self, left: float, top: float, words: str, *, room: float | None = None, **style: Any) -> float:
        """Write words with the base line `top` below the sheet's upper edge; return their width [mm].

        Where `room` [mm] is given, the words are cut to it with an ellipsis, between clauses if they can be.
        """
        style.setdefault("size", TEXT_PT)
        style.setdefault("va", "baseline")
        tidy = drawable(words)
        written = self.figure.text(left / self.width_mm, 1.0 - top / self.height_mm, tidy, **style)
        width = self._width_of(written)
        while room is not None and width > room and len(tidy) > 1:
            tidy = shortened(tidy, max(1, min(len(tidy) - 1, int(len(tidy) * room / width) + 1)))
            written.set_text(tidy)
            width = self._width_of(written)
        clause = tidy.rpartition(", ")[0]
        if tidy.endswith("…") and 2 * len(clause) > len(tidy):
            written.set_text(f"{clause} …")
            width = self._width_of(written)
        return width

    def paragraph(
        self, left: float, top: float, words: str, *, room: float, n_lines: int, **style: Any
    ) -> int:
        """Write words over at most `n_lines` lines of `room` mm, 3.8 mm apart; return how many were used."""
        rest, used = drawable(words).split(" "), 0
        while rest and rest != [""] and used < n_lines:
            count = len(rest)
            if used < n_lines - 1:
                count = next((k for k in range(len(rest), 1, -1) if self._fits(rest[:k], room, style)), 1)
            self.text(left, top + 3.8 * used, " ".join(rest[:count]), room=room, **style)
            rest, used = rest[count:], used + 1
        return used

    def _fits(self, words: list[str], room: float, style: dict[str, Any]) -> bool:
        trial = self.figure.text(0.0, 0.0, " ".join(words), **{"size": TEXT_PT, **style})
        width = self._width_of(trial)
        trial.remove()
        return width <= room

    def _width_of(self, written: Text) -> float:
        return float(written.get_window_extent().width / self.figure.dpi * MM_PER_INCH)

    def two_weights(self, left: float, top: float, name: str, words: str) -> None:
        """Write a bold name and, on the same line, what is to be said of it."""
        width = self.text(left, top, name, weight="bold")
        self.text(left + width + 2.5, top, words, color=SOFT)

    def heading(self, left: float, top: float, words: str, small_words: tuple[str, ...] = ()) -> None:
        """Write a heading and, below it, smaller lines, cut to the sheet's width."""
        self.text(left, top, words, size=HEADING_PT, weight="bold")
        for k, line in enumerate(small_words):
            self.text(left, top + 4.4 + 3.6 * k, line, color=SOFT, room=self.width_mm - 2 * left)


def scale_bar(axes: Axes, left: float, base: float, *, length_mm: float, scale: float, name: str) -> None:
    """Draw a bar of a stated true length, ticked at its ends and middle, with its words.

    The group `scale-bar-<name>` of the drawing holds it, and the line alone is `scale-bar-line-<name>`.
    """
    tick = 1.2 / scale
    (line,) = axes.plot([left, left + length_mm], [base, base], color=INK, lw=LINE_PT, solid_capstyle="butt")
    line.set_gid(f"scale-bar-line-{name}")
    for part in (0.0, 0.5, 1.0):
        x = left + part * length_mm
        axes.plot([x, x], [base, base + tick], color=INK, lw=LINE_PT * 0.7, solid_capstyle="butt")
    axes.text(
        left + length_mm + 1.5 / scale,
        base - 0.3 / scale,
        said(f"{length_mm:.0f} mm"),
        size=TEXT_PT,
        va="baseline",
    ).set_gid(f"scale-bar-{name}")


def as_svg(drawing: Drawing) -> str:
    """Return the drawing as an SVG document with `<title>` and `<desc>`; equal input gives equal text."""
    held = io.BytesIO()
    with drawing_style():
        drawing.figure.savefig(held, format="svg", metadata={"Date": None, "Creator": None, "Format": None})
    document = held.getvalue().decode("utf-8")
    start = document.index("<svg ")
    end = document.index(">", start)
    head = document[start:end] + ' role="img" aria-labelledby="drawing-title drawing-description"'
    words = (
        f'\n <title id="drawing-title">{escape(drawable(drawing.title))}</title>'
        f'\n <desc id="drawing-description">{escape(drawable(drawing.description))}</desc>'
    )
    return document[:start] + head + ">" + words + document[end + 1 :]


def as_png(drawing: Drawing, pixels_per_inch: float = 200.0) -> bytes:
    """Return the drawing as a PNG picture."""
    held = io.BytesIO()
    with drawing_style():
        drawing.figure.savefig(held, format="png", dpi=pixels_per_inch, metadata={"Software": None})
    return held.getvalue()


def as_pdf(drawing: Drawing) -> bytes:
    """Return the drawing as a one-page PDF of the sheet's true size."""
    held = io.BytesIO()
    metadata = {
        "CreationDate": None,
        "ModDate": None,
        "Creator": "saddlebench",
        "Title": drawable(drawing.title),
    }
    with drawing_style():
        drawing.figure.savefig(held, format="pdf", metadata=metadata)
    return held.getvalue()


def write_drawing(drawing: Drawing, path: Path) -> None:
    """Write the drawing in the format that the file's ending names; whole, or not at all.

    Raises
    ------
    InputProblemsError
        For another ending.
    """
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        what = f"a drawing cannot be written as “{path.suffix or path.name}”"
        raise input_problem(
            what,
            "Name the file with one of the endings .svg, .png or .pdf.",
            Where(file=str(path)),
        )
    if suffix == ".svg":
        content = as_svg(drawing).encode("utf-8")
    else:
        content = as_png(drawing) if suffix == ".png" else as_pdf(drawing)
    write_whole(path, content)
