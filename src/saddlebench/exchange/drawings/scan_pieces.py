"""Pieces of a merged scan on one drawing: each hatched its own way; what two pieces show is crossed."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.scans.look import LookedAt
from saddlebench.exchange.vocabulary import said

_HUES = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9")
"""Of Okabe and Ito's palette, for colour-blind readers; the hatching says the same."""
_WAYS_DEG = (0.0, 90.0, 45.0, 135.0, 22.5, 112.5)
_PERIOD_MM, _WIDE_MM = 64.0, 15.0


def hatched(axes: Axes, flat: FloatArray, looked: LookedAt, shown: NDArray[np.bool_]) -> None:
    """Draw the points of each piece, thinned to stripes of its own direction.

    Parameters
    ----------
    axes : where
    flat : (k, 2) float, places on the drawing, the scan's unit
    looked : LookedAt
    shown : (k,) which of the outline's points are seen from here
    """
    axes.set_axis_off()
    axes.scatter(flat[shown, 0], flat[shown, 1], color=ink.HAIR, s=0.8, linewidths=0)
    per_mm = 1.0 / looked.mm_per_unit
    piece = np.array(looked.piece_of)
    for k in range(len(looked.pieces)):
        way = np.deg2rad(_WAYS_DEG[k])
        across = flat @ np.array([-np.sin(way), np.cos(way)])
        stripe = np.mod(across, _PERIOD_MM * per_mm) < _WIDE_MM * per_mm
        own = flat[shown & stripe & (piece == k)]
        axes.scatter(own[:, 0], own[:, 1], color=_HUES[k], s=1.8, linewidths=0)


def piece_key(axes: Axes, looked: LookedAt) -> None:
    """Write which hatch is which file's, on the right below the head's end."""
    handles = [
        Line2D([], [], color=_HUES[k], linestyle="none", marker="s", markersize=5.0, label=_key(looked, k))
        for k in range(len(looked.pieces))
    ]
    axes.legend(handles=handles, loc="upper right", frameon=False, handletextpad=0.3, borderaxespad=0.4)


def _key(looked: LookedAt, k: int) -> str:
    name = looked.pieces[k].name
    short = name if len(name) <= 28 else f"{name[:12]}…{name[-13:]}"
    return f"{short} ({_told(k)})"


def _told(k: int) -> str:
    level = {0.0: "level", 90.0: "upright"}
    return said(level.get(_WAYS_DEG[k], f"{_WAYS_DEG[k]:.0f}°") + " lines")
