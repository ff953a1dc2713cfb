"""The dozen numbers a fitter can measure, per family, and the model they make."""

from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.panelled import PanelledNumbers, panelled_model

__all__ = ["PanelledNumbers", "SaddleNumbers", "model_from_numbers"]

SaddleNumbers = PanelledNumbers
"""A saddle of any family by its numbers."""


def model_from_numbers(numbers: SaddleNumbers, n_points: int = 2000) -> SaddleModel:
    """Return the model of a saddle described by numbers.

    Parameters
    ----------
    numbers : the description, by family
    n_points : about how many bearing points, both sides together

    Returns
    -------
    SaddleModel
    """
    return panelled_model(numbers, n_points)
