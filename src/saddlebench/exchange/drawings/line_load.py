"""Load along each panel: near upwards, off downwards, with thirds and the stretches that do not bear."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter

from saddlebench.engine.fit.measures.cells import Cells
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.dimension import percent
from saddlebench.exchange.drawings.geometry import BoolArray, lattice, line_load_of, saddle_reach
from saddlebench.exchange.drawings.plan import BEARS_KPA, side_shares
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.drawings.side import gaps_along
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said

HEIGHT_MM = 88.0
SIDES = ((1, "NEAR (left)"), (-1, "OFF (right)"))


def line_load(scene: Scene, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the load per length along each panel, front to the left: a diagram, not to scale across.

    Parameters
    ----------
    scene
        The back, the saddle, and how it sits.
    width_mm
        Paper width [mm].
    """
    thirds = third_shares(scene)
    with drawing_style():
        sheet = Sheet(width_mm, HEIGHT_MM)
        sheet.heading(4.0, 6.0, said("Load along the panels"), scene.subtitle)
        axes = sheet.axes(15.0, 26.0, width_mm - 19.0, HEIGHT_MM - 42.0)
        axes.set_gid("line-load")
        _draw(axes, scene, thirds)
        along = said("mm behind the shoulder mark (head to the left)")
        axes.set_xlabel(along.replace("mm", reader().length_sign, 1), size=ink.TEXT_PT, labelpad=2.5)
        axes.xaxis.set_major_formatter(FuncFormatter(_place))
        axes.set_ylabel(said("N per cm of length"), size=ink.TEXT_PT, labelpad=2.0)
        hatched = {"facecolor": ink.PAPER, "edgecolor": ink.INK, "hatch": ink.OPEN_HATCH, "lw": ink.HAIR_PT}
        sheet.box(15.0, HEIGHT_MM - 5.0, 6.0, 3.0, **hatched)
        sheet.text(23.0, HEIGHT_MM - 2.6, said("bridged: nothing bears across the panel"), color=ink.SOFT)
    near, off = side_shares(scene)
    shares = ", ".join(f"{said(name)} {percent(share)}" for name, share in zip(_THIRDS, thirds, strict=True))
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Load along the panels')}: {scene.pair}, {scene.state}",
        description=said(f"Near panel {near:.0%} of the load, off panel {off:.0%}.")
        + f" {said('By thirds')}: {shares}.",
        scale=None,
    )


def _place(at_mm: float, _index: int) -> str:
    return reader().millimetres(f"{at_mm:g}", is_place=True)


_THIRDS = ("front third", "middle third", "rear third")


def third_shares(scene: Scene) -> tuple[float, float, float]:
    """Return the shares of the load on the front, middle and rear third of the panels' length [1]."""
    load = scene.settled.pressure_kpa * scene.saddle.bearing.area_mm2
    front, middle, rear = (float(share @ load) for share in Cells.of(scene.saddle.bearing).thirds())
    total = front + middle + rear
    return (front / total, middle / total, rear / total) if total > 0.0 else (0.0, 0.0, 0.0)


def open_stretches(scene: Scene, side: int) -> list[tuple[float, float]]:
    """Return where along one panel (from, to) [mm] no point across it bears, between rows that do."""
    held = lattice(scene, side)
    s = -held.points[:, :, 0].mean(axis=1)
    bears: BoolArray = np.any(scene.settled.pressure_kpa[held.index] > BEARS_KPA, axis=1)
    if not bears.any():
        return []
    first, last = np.flatnonzero(bears)[[0, -1]]
    return gaps_along(s[first : last + 1], ~bears[first : last + 1])


def _draw(axes: Axes, scene: Scene, thirds: tuple[float, float, float]) -> None:
    front, rear = saddle_reach(scene)
    near, off = side_shares(scene)
    highest = 1.0
    for (side, name), share in zip(SIDES, (near, off), strict=True):
        s, load = line_load_of(scene, side)
        load = load * 10.0
        highest = max(highest, float(load.max()))
        axes.fill_between(s, 0.0, side * load, color=ink.LOAD, alpha=0.28, lw=0)
        axes.plot(s, side * load, color=ink.LOAD, lw=ink.LINE_PT)
        for start, end in open_stretches(scene, side):
            axes.add_patch(
                Rectangle(
                    (start, 0.5), end - start, side * 0.1, transform=axes.get_xaxis_transform(),
                    facecolor=ink.PAPER, edgecolor=ink.INK, hatch=ink.OPEN_HATCH, lw=ink.HAIR_PT,
                )
            )  # fmt: skip
        axes.text(
            1.0, 1.0 if side > 0 else 0.0, f"{said(name)}  {percent(share)}", transform=axes.transAxes,
            ha="right", va="top" if side > 0 else "bottom", size=ink.TEXT_PT, weight="bold",
            bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 1.0},
        )  # fmt: skip
    limit = highest * 1.25
    axes.set_ylim(-limit, limit)
    axes.set_xlim(front - 8.0, rear + 8.0)
    axes.axhline(0.0, color=ink.INK, lw=ink.LINE_PT * 0.7)
    _draw_thirds(axes, front, rear, thirds)
    axes.set_xticks(np.arange(np.ceil(front / 50.0) * 50.0, rear, 50.0))
    step = max(1.0, float(np.round(limit / 3.0)))
    ticks = np.arange(-3, 4) * step
    ticks = ticks[np.abs(ticks) < limit]
    axes.set_yticks(ticks, [f"{abs(value):.0f}" for value in ticks])
    axes.tick_params(labelsize=ink.TEXT_PT)
    axes.grid(visible=True, axis="y", color=ink.HAIR, lw=0.4)
    axes.set_axisbelow(True)


def _draw_thirds(axes: Axes, front: float, rear: float, thirds: tuple[float, float, float]) -> None:
    length = (rear - front) / 3.0
    for k, (name, share) in enumerate(zip(_THIRDS, thirds, strict=True)):
        if k:
            axes.axvline(front + k * length, color=ink.SOFT, lw=ink.HAIR_PT, ls=(0, (4, 2)))
        axes.text(
            front + (k + 0.5) * length, 1.03, f"{said(name)}\n{percent(share)}",
            transform=axes.get_xaxis_transform(),
            ha="center", va="bottom", size=ink.TEXT_PT, linespacing=1.25,
        )  # fmt: skip
