"""A scan as it was understood: the horse from the side and from above, level, with its proposed marks."""

from collections.abc import Mapping
from io import BytesIO

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.standing import Ground
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.scan_pieces import hatched, piece_key
from saddlebench.exchange.scans.look import LETTERED, PLAN_PX, SIDE_PX, WIDTH_PX, LookedAt, frame_of
from saddlebench.exchange.vocabulary import said

_DPI = 200


def scan_picture(looked: LookedAt, moved: Mapping[ScanMark, FloatArray] | None = None) -> bytes:
    """Return the picture as PNG: side view above, seen from above below.

    Parameters
    ----------
    looked : LookedAt
    moved : (3,) float each, instrument frame, the scan's unit: marks that a person set
    """
    marks = {**looked.marks, **(moved or {})}
    left, right, top = frame_of(looked)
    placed = looked.placed(looked.outline)
    with mpl.rc_context(ink.STYLE):
        figure = Figure(figsize=(WIDTH_PX / _DPI, (SIDE_PX + PLAN_PX) / _DPI), dpi=_DPI, facecolor=ink.PAPER)
        share = PLAN_PX / (SIDE_PX + PLAN_PX)
        side = figure.add_axes((0.0, share, 1.0, 1.0 - share))
        plan = figure.add_axes((0.0, 0.0, 1.0, share))
        if looked.pieces:
            # What lies behind would show through the stripes.
            hatched(side, placed[:, [0, 2]], looked, placed[:, 1] > 0.0)
            hatched(plan, placed[:, :2] * [1.0, -1.0], looked, np.ones(len(placed), dtype=bool))
            piece_key(side, looked)
        else:
            _dots(side, placed[:, 0], placed[:, 2], placed[:, 1])
            _dots(plan, placed[:, 0], -placed[:, 1], placed[:, 2])
        span = left - right
        side.set(xlim=(left, right), ylim=(top - span * SIDE_PX / WIDTH_PX, top))
        plan.set(xlim=(left, right), ylim=np.array([-0.5, 0.5]) * span * PLAN_PX / WIDTH_PX)
        if looked.ground is not None:
            ends = np.array([left, right])
            line = _ground_at(looked.ground, looked, ends)
            side.plot(ends, line, color=ink.SOFT, linewidth=ink.LINE_PT)
            side.text(right + 0.02 * span, line[1], f"{said('ground')} ", ha="right", va="bottom")
        plan.axhline(0.0, color=ink.SOFT, linewidth=ink.HAIR_PT, dashes=(4, 3))
        side.text(
            0.02, 0.97, said("from the near side, head to the left"), transform=side.transAxes, va="top"
        )
        plan.text(0.02, 0.95, said("from above; near side below"), transform=plan.transAxes, va="top")
        _marks(side, plan, looked, marks, span)
        out = BytesIO()
        figure.savefig(out, format="png", dpi=_DPI, metadata={"Software": None})
    return out.getvalue()


def _ground_at(ground: Ground, looked: LookedAt, x: FloatArray) -> FloatArray:
    """Return the ground's height (k,) below the midline at x (k,), trunk frame, the scan's unit."""
    foot = looked.placed((ground.offset * ground.up)[None])[0]
    ahead, _, upward = looked.to_trunk @ ground.up
    return np.asarray((float((looked.to_trunk @ ground.up) @ foot) - ahead * x) / upward)


def _dots(axes: Axes, x: FloatArray, y: FloatArray, near: FloatArray) -> None:
    axes.set_axis_off()
    order = np.argsort(near)
    axes.scatter(x[order], y[order], c=near[order], cmap="cividis", s=1.6, linewidths=0, alpha=0.8)


def _marks(
    side: Axes, plan: Axes, looked: LookedAt, marks: Mapping[ScanMark, FloatArray], span: float
) -> None:
    for mark, letter in LETTERED:
        if mark not in marks:
            continue
        x, y, z = looked.placed(marks[mark][None])[0]
        up = 0.07 * span
        side.annotate(
            letter,
            (x, z),
            (x, z + up),
            ha="center",
            va="bottom",
            fontsize=ink.HEADING_PT,
            fontweight="bold",
            arrowprops={"arrowstyle": "-", "color": ink.INK, "linewidth": ink.LINE_PT},
        )
        side.plot(x, z, "o", markersize=5.0, markerfacecolor=ink.PAPER, markeredgecolor=ink.INK)
        plan.plot(x, -y, "o", markersize=5.0, markerfacecolor=ink.PAPER, markeredgecolor=ink.INK)
        plan.text(x, 0.03 * span, letter, ha="center", va="bottom", fontweight="bold")
