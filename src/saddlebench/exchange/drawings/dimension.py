"""Dimension lines, and words on a drawing."""

from matplotlib.axes import Axes

from saddlebench.exchange.drawings import ink
from saddlebench.exchange.vocabulary import said


def percent(share: float) -> str:
    """Return a share as a whole percentage, as the reader writes it."""
    return said(f"{share:.0%}")


_ARROW = {"arrowstyle": "<|-|>,head_length=0.35,head_width=0.14", "lw": ink.HAIR_PT, "color": ink.INK}
_HALO = {"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.85}


def label(
    axes: Axes,
    x: float,
    y: float,
    words: str,
    *,
    align: str = "center",
    colour: str = ink.INK,
    halo: bool = False,
) -> None:
    """Write words at a place of the axes, on white where they cross lines."""
    axes.text(
        x, y, ink.drawable(words), ha=align, va="baseline", size=ink.TEXT_PT, color=colour, zorder=12,
        bbox=_HALO if halo else None,
    )  # fmt: skip


def vertical_dimension(axes: Axes, x: float, low: float, high: float) -> None:
    """Draw a vertical dimension between two heights."""
    _arrow(axes, (x, low), (x, high))


def horizontal_dimension(
    axes: Axes, left: float, right: float, height: float, words: str, *, from_z: float, scale: float
) -> None:
    """Draw a horizontal dimension with extension lines up from `from_z`, its words above."""
    for x in (left, right):
        axes.plot([x, x], [from_z, height + 1.0 / scale], color=ink.SOFT, lw=ink.HAIR_PT * 0.7, zorder=2)
    _arrow(axes, (left, height), (right, height))
    axes.text(
        (left + right) / 2,
        height + 0.9 / scale,
        words,
        ha="center",
        va="baseline",
        size=ink.TEXT_PT,
        zorder=12,
    )


def _arrow(axes: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    axes.annotate(
        "",
        xy=end,
        xytext=start,
        arrowprops={**_ARROW, "shrinkA": 0, "shrinkB": 0, "mutation_scale": 10},
        zorder=11,
    )
