"""Sections drawn while they are read: small SVG pictures, with attributes and classes only."""

from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from django.utils.safestring import SafeString

from saddlebench.engine.back.readings import ToplineHeights, ToplineJoints
from saddlebench.engine.back.topline import ToplineCurve
from saddlebench.engine.frames import FloatArray
from saddlebench.web.capture.judging import Outline

_OUT_MM, _UP_MM, _DOWN_MM = 330.0, 40.0, 330.0
_LEAN, _SINK = 0.12, 0.42
"""How far 1 mm along the back moves a section aside and down in the oblique picture."""

Topline = ToplineHeights | ToplineJoints


def _path(points: FloatArray) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def picture(
    box: tuple[float, float, float, float], words: str, parts: Iterable[str], style: str = ""
) -> SafeString:
    """Return a picture with its description; `box` is left, top, width, height."""
    view = " ".join(f"{one:g}" for one in box)
    # Everything between the tags is numbers, fixed words, or escaped here.
    return SafeString(
        f'<svg class="drawn {style}" viewBox="{view}" role="img" aria-label={quoteattr(words)} '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )  # fmt: skip


def said(x: float, y: float, words: str, style: str = "", anchor: str = "middle") -> str:
    """Return words at a place of a picture."""
    return f'<text x="{x:g}" y="{y:g}" class="{style}" text-anchor="{anchor}">{escape(words)}</text>'


def _across(outline: Outline) -> FloatArray:
    """Return the section from off to near as it is seen from behind: the horse's left on the left."""
    left, right = outline.halves.left, outline.halves.right
    return np.concatenate([right[::-1] * (1.0, -1.0), left[1:] * (-1.0, -1.0)])


def section_picture(outlines: Sequence[Outline], number: int, repeat: int) -> SafeString:
    """Return one section as it is read, with its neighbours and its first time faint behind it."""
    this = [one for one in outlines if (one.number, one.repeat) == (number, repeat)]
    beside = [
        one for one in outlines if abs(one.number - number) <= 1 and one.repeat == 0 and one not in this
    ]
    parts = [
        f'<path class="midline" d="M0 {-_UP_MM:g}V{_DOWN_MM:g}"/>',
        said(-_OUT_MM + 4, -_UP_MM + 28, "NEAR", "side-word", "start"),
        said(_OUT_MM - 4, -_UP_MM + 28, "OFF", "side-word", "end"),
        f'<path class="bar" d="M{_OUT_MM - 110:g} {_DOWN_MM - 12:g}h100m0 -6v12m-100 0v-12"/>',
        said(_OUT_MM - 60, _DOWN_MM - 22, "100 mm", "small"),
    ]
    parts += [
        f'<path class="{"first-time" if one.number == number else "neighbour"}" d="{_path(_across(one))}"/>'
        for one in beside
    ]
    read = 0
    for one in this:
        points = _across(one)
        read = len(points) - 1
        parts.append(f'<path class="curve" d="{_path(points)}"/>')
        parts += [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" class="point"/>' for x, y in points]
    words = f"Section {number} as seen from behind, {read} points read, near side on the left"
    return picture((-_OUT_MM, -_UP_MM, 2 * _OUT_MM, _UP_MM + _DOWN_MM), words, parts, "section-picture")


def growing_picture(
    outlines: Sequence[Outline], curve: ToplineCurve | None, current: tuple[int, int] = (0, 0)
) -> SafeString:
    """Return the back as far as it was measured: every section, seen from behind and above."""
    first = [one for one in outlines if one.repeat == 0]
    rows = sorted(first, key=lambda one: one.distance_mm)
    heights = (
        curve.heights(np.array([one.distance_mm for one in rows])) if curve is not None and rows else None
    )
    base = float(heights.max()) if heights is not None else 0.0
    parts, corners = [], [np.array([[-_OUT_MM, -40.0], [_OUT_MM, 60.0]])]
    crowns = []
    for i, one in enumerate(rows):
        rise = float(heights[i]) - base if heights is not None else 0.0
        # The tail is nearer the eye: what lies further back stands lower and to the right.
        aside = np.array([_LEAN * one.distance_mm, _SINK * one.distance_mm - rise])
        points = _across(one) * 0.8 + aside
        corners.append(points)
        crowns.append(aside)
        style = "curve now" if (one.number, one.repeat) == current else "curve"
        parts.append(f'<path class="{style} row" d="{_path(points)}"/>')
        parts.append(said(points[0, 0] + 8, points[0, 1] + 8, str(one.number), "small", "start"))
    if len(crowns) > 1:
        parts.append(f'<path class="topline" d="{_path(np.array(crowns))}"/>')
    together = np.concatenate(corners)
    low, high = together.min(axis=0) - 20.0, together.max(axis=0) + np.array([50.0, 20.0])
    words = f"{len(rows)} sections of the back so far, seen from behind and above"
    return picture((*low.tolist(), *(high - low).tolist()), words, parts, "growing-picture")
