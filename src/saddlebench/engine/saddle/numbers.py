"""The dozen numbers a fitter can measure, per family, and the model they make."""

from typing import overload

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.saddle.bars import BarsNumbers, bars_model
from saddlebench.engine.saddle.cut_back import CutBackNumbers, cut_back_model
from saddlebench.engine.saddle.model import Family, SaddleModel
from saddlebench.engine.saddle.panelled import PanelledNumbers, panelled_model
from saddlebench.engine.saddle.patch import PointCount
from saddlebench.engine.saddle.side_saddle import SideSaddleNumbers, side_saddle_model
from saddlebench.engine.saddle.unmodelled import FlexibleTreeNumbers, TreelessNumbers, why_not

__all__ = [
    "BarsNumbers",
    "CutBackNumbers",
    "FlexibleTreeNumbers",
    "PanelledNumbers",
    "RigidNumbers",
    "SaddleNumbers",
    "SideSaddleNumbers",
    "TreelessNumbers",
    "family_of",
    "model_from_numbers",
]

RigidNumbers = PanelledNumbers | CutBackNumbers | BarsNumbers | SideSaddleNumbers
"""A saddle that the rigid model covers, by its numbers."""
SaddleNumbers = RigidNumbers | TreelessNumbers | FlexibleTreeNumbers
"""A saddle of any family, by its numbers."""


@overload
def model_from_numbers(numbers: RigidNumbers, n_points: PointCount = 2000) -> SaddleModel: ...
@overload
def model_from_numbers(numbers: SaddleNumbers, n_points: PointCount = 2000) -> SaddleModel | Undetermined: ...
def model_from_numbers(numbers: SaddleNumbers, n_points: PointCount = 2000) -> SaddleModel | Undetermined:
    """Return the model of a saddle described by numbers.

    Parameters
    ----------
    numbers : the description, by family
    n_points : about how many bearing points, both sides together

    Returns
    -------
    SaddleModel, or Undetermined for a saddle that is not rigid
    """
    match numbers:
        case PanelledNumbers():
            return panelled_model(numbers, n_points)
        case CutBackNumbers():
            return cut_back_model(numbers, n_points)
        case BarsNumbers():
            return bars_model(numbers, n_points)
        case SideSaddleNumbers():
            return side_saddle_model(numbers, n_points)
        case TreelessNumbers() | FlexibleTreeNumbers():
            return why_not(family_of(numbers))


def family_of(numbers: SaddleNumbers) -> Family:
    """Return the family a description belongs to."""
    families: dict[type, Family] = {
        PanelledNumbers: Family.PANELLED,
        CutBackNumbers: Family.CUT_BACK,
        BarsNumbers: Family.BARS,
        SideSaddleNumbers: Family.SIDE_SADDLE,
        TreelessNumbers: Family.TREELESS,
        FlexibleTreeNumbers: Family.FLEXIBLE_TREE,
    }
    return families[type(numbers)]
