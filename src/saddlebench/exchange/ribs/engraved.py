"""Part numbers as lines that a machine engraves: cutters' programs often leave out a drawing's words."""

import numpy as np

from saddlebench.engine.frames import FloatArray

_HIGH, _WIDE, _PITCH = 1.0, 0.6, 0.95
_A, _B, _C, _D = (0.0, 1.0), (0.6, 1.0), (0.6, 0.5), (0.6, 0.0)
_E, _F = (0.0, 0.0), (0.0, 0.5)
_SIGNS: dict[str, tuple[tuple[tuple[float, float], ...], ...]] = {
    "0": ((_A, _B, _D, _E, _A),),
    "1": (((0.1, 0.75), (0.3, 1.0), (0.3, 0.0)),),
    "2": ((_A, _B, _C, _F, _E, _D),),
    "3": ((_A, _B, _D, _E), (_F, _C)),
    "4": ((_A, _F, _C), (_B, _D)),
    "5": ((_B, _A, _F, _C, _D, _E),),
    "6": ((_B, _A, _E, _D, _C, _F),),
    "7": ((_A, _B, (0.2, 0.0)),),
    "8": ((_A, _B, _D, _E, _A), (_F, _C)),
    "9": ((_C, _F, _A, _B, _D, _E),),
    "R": ((_E, _A, _B, _C, _F), ((0.25, 0.5), _D)),
    "L": ((_A, _E, _D),),
    "a": ((_F, _C, _D, _E, (0.0, 0.25), (0.6, 0.25)),),
    "b": ((_A, _E, _D, _C, _F),),
    "c": ((_C, _F, _E, _D),),
    "d": ((_B, _D, _E, _F, _C),),
}
"""Lines of each sign on a field 0.6 wide and 1 high."""


def engraved(number: str, at: tuple[float, float], height_mm: float, quarters: int) -> tuple[FloatArray, ...]:
    """Return the lines of a part's number, its middle at a place.

    Parameters
    ----------
    number : “R3”, “L2a”; signs that there are no lines for are left out
    at : on the sheet [mm]
    height_mm : of the signs [mm]
    quarters : how many quarter turns to the left the number lies turned by

    Returns
    -------
    (n, 2) float each, sheet's plane [mm].
    """
    signs = [_SIGNS[one] for one in number if one in _SIGNS]
    middle = np.array([0.5 * (_PITCH * (len(signs) - 1) + _WIDE), 0.5 * _HIGH])
    turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarters)
    return tuple(
        (np.array(line) + np.array([_PITCH * k, 0.0]) - middle) * height_mm @ turn.T + np.array(at)
        for k, lines in enumerate(signs)
        for line in lines
    )
