"""What a flat drawing holds: strokes and words on layers, x to the right, y up, in mm."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from saddlebench.engine.frames import FloatArray


class Layer(StrEnum):
    """What a stroke is for: a cutter takes them apart by layer, a person by colour and line."""

    CUT = "CUT"
    ENGRAVE = "ENGRAVE"
    SKIN = "SKIN"
    """The back itself, drawn over the cut where both are the same line."""
    NOT_MEASURED = "NOT_MEASURED"
    TEXT = "TEXT"
    CHECK = "CHECK"
    """Bars of stated length, to check a print or a machine by."""
    SHEET = "SHEET"
    """The raw sheet's edge; not to be cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line through points (n, 2) float, drawing's plane [mm]."""

    layer: Layer
    points: FloatArray
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words at a place, their base line's middle (or start) there."""

    words: str
    at: tuple[float, float]
    height_mm: float = 4.0
    turned_deg: float = 0.0
    centred: bool = True
    layer: Layer = Layer.TEXT


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanarDrawing:
    """A flat drawing with a name, the words that explain it, and its box."""

    name: str
    """Part of a file's name: letters, digits, dashes."""
    title: str
    description: str
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    box: tuple[float, float, float, float] | None = None
    """x and y of the lower left, x and y of the upper right corner [mm]; None: about everything."""

    def bounds(self, margin_mm: float = 5.0) -> tuple[float, float, float, float]:
        """Return the drawing's box [mm]."""
        if self.box is not None:
            return self.box
        points = np.vstack([stroke.points for stroke in self.strokes])
        low, high = points.min(axis=0) - margin_mm, points.max(axis=0) + margin_mm
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def check_bars(
    left: float, low: float, length_mm: float = 100.0
) -> tuple[tuple[Stroke, ...], tuple[Label, ...]]:
    """Return two bars of a stated length at right angles, ticked at their ends, and their words."""
    strokes = []
    for along, across in (
        (np.array([1.0, 0.0]), np.array([0.0, 1.0])),
        (np.array([0.0, 1.0]), np.array([1.0, 0.0])),
    ):
        start = np.array([left, low])
        strokes.append(Stroke(layer=Layer.CHECK, points=np.stack([start, start + length_mm * along])))
        for end in (0.0, length_mm):
            at = start + end * along
            strokes.append(Stroke(layer=Layer.CHECK, points=np.stack([at - 2.0 * across, at + 2.0 * across])))
    words = f"check: {length_mm:.0f} mm"
    labels = (
        Label(words=words, at=(left + 0.5 * length_mm, low + 2.5), height_mm=3.5, layer=Layer.CHECK),
        Label(
            words=words,
            at=(left + 5.5, low + 0.5 * length_mm),
            height_mm=3.5,
            turned_deg=90.0,
            layer=Layer.CHECK,
        ),
    )
    return tuple(strokes), labels
