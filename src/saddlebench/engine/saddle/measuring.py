"""How well a saddle's numbers are known, and other numbers the same tape could have read.

The errors are common practice: a tape on leather and wool, an angle gauge on a rounded face.
"""

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from saddlebench.engine.saddle.bars import BarsNumbers
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.numbers import RigidNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import PanelNumbers
from saddlebench.engine.saddle.side_saddle import SideNumbers, SideSaddleNumbers

_Values = TypeVar("_Values", bound=tuple[float, ...])


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuringErrors:
    """Standard deviations of single readings on a saddle."""

    tree_width_mm: float = 2.0
    tree_angle_deg: float = 1.5
    height_mm: float = 2.0
    """Rise of the arch, rise of the panels' ends, height of the roof."""
    face_angle_deg: float = 2.0
    rounding_mm: float = 0.7
    channel_mm: float = 2.0


def drawn(
    numbers: RigidNumbers, generator: np.random.Generator, errors: MeasuringErrors | None = None
) -> RigidNumbers:
    """Return numbers that the same saddle could have given: each shaping number with a fresh error.

    Parameters
    ----------
    numbers : as measured
    generator : source of the errors; the same state gives the same numbers
    errors : how well each is known

    Returns
    -------
    Numbers of the same family; fittings, fill and differences between the sides stay
    """
    sd = errors or MeasuringErrors()
    match numbers:
        case CutBackNumbers():
            return replace(numbers, base=_panelled(numbers.base, generator, sd))
        case PanelledNumbers():
            return _panelled(numbers, generator, sd)
        case SideSaddleNumbers():
            return replace(
                numbers,
                rise_mm=numbers.rise_mm + float(generator.normal(0.0, sd.height_mm)),
                near=_side(numbers.near, generator, sd),
                off=_side(numbers.off, generator, sd),
            )
        case BarsNumbers():
            return _bars(numbers, generator, sd)


def _more(values: _Values, generator: np.random.Generator, sd: float) -> _Values:
    """Return values that share one error, as readings of one tape or gauge on one saddle mostly do."""
    error = float(generator.normal(0.0, sd))
    return type(values)(value + error for value in values)


def _panelled(
    numbers: PanelledNumbers, generator: np.random.Generator, sd: MeasuringErrors
) -> PanelledNumbers:
    tree = numbers.tree
    return replace(
        numbers,
        tree=replace(
            tree,
            width_mm=tree.width_mm + float(generator.normal(0.0, sd.tree_width_mm)),
            angle_deg=tree.angle_deg + float(generator.normal(0.0, sd.tree_angle_deg)),
            rise_mm=tree.rise_mm + float(generator.normal(0.0, sd.height_mm)),
        ),
        panel=_panel(numbers.panel, generator, sd),
    )


def _panel(panel: PanelNumbers, generator: np.random.Generator, sd: MeasuringErrors) -> PanelNumbers:
    return replace(
        panel,
        channel_mm=_more(panel.channel_mm, generator, sd.channel_mm),
        channel_depth_mm=_more(panel.channel_depth_mm, generator, sd.height_mm),
        angle_deg=_more(panel.angle_deg, generator, sd.face_angle_deg),
        rear_rise_mm=panel.rear_rise_mm + float(generator.normal(0.0, sd.height_mm)),
        rounding_mm=panel.rounding_mm + float(generator.normal(0.0, sd.rounding_mm)),
    )


def _side(side: SideNumbers, generator: np.random.Generator, sd: MeasuringErrors) -> SideNumbers:
    return replace(
        side,
        half_width_mm=side.half_width_mm + float(generator.normal(0.0, 0.5 * sd.tree_width_mm)),
        half_angle_deg=side.half_angle_deg + float(generator.normal(0.0, 0.5 * sd.tree_angle_deg)),
        panel=_panel(side.panel, generator, sd),
    )


def _bars(numbers: BarsNumbers, generator: np.random.Generator, sd: MeasuringErrors) -> BarsNumbers:
    bar = numbers.bar
    front, rear = bar.rocker_mm
    return replace(
        numbers,
        bar=replace(
            bar,
            spread_mm=_more(bar.spread_mm, generator, sd.channel_mm),
            angle_deg=_more(bar.angle_deg, generator, sd.face_angle_deg),
            rocker_mm=(
                front + float(generator.normal(0.0, sd.height_mm)),
                rear + float(generator.normal(0.0, sd.height_mm)),
            ),
            crown_mm=bar.crown_mm + float(generator.normal(0.0, sd.rounding_mm)),
        ),
    )
