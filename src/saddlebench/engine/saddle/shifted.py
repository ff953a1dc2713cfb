"""Parts that a model takes over from a description by numbers when its underside was measured otherwise."""

from dataclasses import replace

import numpy as np

from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.bars import BarsNumbers
from saddlebench.engine.saddle.bearing import Support
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import RigidNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers, panel_sides
from saddlebench.engine.saddle.side_saddle import SideSaddleNumbers, saddle_sides


def supports_of(numbers: RigidNumbers) -> tuple[Support, Support]:
    """Return how firm the two sides are, left and right."""
    match numbers:
        case BarsNumbers():
            held = Support(length_mm=numbers.bar.length_mm, footprint=None)
            return held, held
        case CutBackNumbers():
            near, off = panel_sides(numbers.base)
        case PanelledNumbers():
            near, off = panel_sides(numbers)
        case SideSaddleNumbers():
            near, off = saddle_sides(numbers)
    return near.support, off.support


def shifted_up(model: SaddleModel, by_mm: float) -> SaddleModel:
    """Return the model with all but its bearing surface moved up."""
    up = np.array([0.0, 0.0, by_mm])

    def _moved(point: FloatArray) -> FloatArray:
        return read_only(point + up)

    points = model.points
    return replace(
        model,
        arch_saddle=_moved(model.arch_saddle),
        points=None
        if points is None
        else (
            replace(points[0], end_saddle=_moved(points[0].end_saddle)),
            replace(points[1], end_saddle=_moved(points[1].end_saddle)),
        ),
        channel=replace(model.channel, roof_z_mm=read_only(model.channel.roof_z_mm + by_mm)),
        straps=tuple(
            replace(strap, left_saddle=_moved(strap.left_saddle), right_saddle=_moved(strap.right_saddle))
            for strap in model.straps
        ),
        seat=replace(
            model.seat,
            z_mm=read_only(model.seat.z_mm + by_mm),
            stirrup_bar_left=_moved(model.seat.stirrup_bar_left),
            stirrup_bar_right=_moved(model.seat.stirrup_bar_right),
        ),
        centre_of_mass_saddle=_moved(model.centre_of_mass_saddle),
    )
