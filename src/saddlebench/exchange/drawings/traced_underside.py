"""A traced underside: where its sections lie, seen from below, and each section with near over off, in mm."""

import numpy as np
from matplotlib.axes import Axes

from saddlebench.engine.saddle.sections import UndersideSection
from saddlebench.engine.saddle.underside.across import TracedUnderside
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.bench import HEAD_MM, MARGIN_MM, BenchFrame
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.vocabulary import said

ROW_MM, FOOT_MM = 36.0, 8.0
IN_A_ROW = 2
_BESIDE_MM = 14.0


def traced_underside(traced: TracedUnderside, label: str, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the underside as it lies on the bench, near side on the right, and below it its sections.

    Parameters
    ----------
    traced : what the tracings say
    label : the saddle's
    width_mm : paper width [mm]
    """
    sections = traced.sections
    half = max(float(np.abs(line[:, 0]).max()) for one in sections for line in (one.left, one.right)) + 14.0
    along = (-sections[-1].behind_mm - 30.0, 20.0)
    frame = BenchFrame(half_mm=half, along_mm=along, paper_mm=width_mm, largest=1 / 3)
    rows = -(-len(sections) // IN_A_ROW)
    with drawing_style():
        sheet = Sheet(width_mm, HEAD_MM + frame.height_mm + 12.0 + rows * ROW_MM + FOOT_MM)
        what = said("upside down, pommel away; the channel’s width in mm")
        sheet.heading(MARGIN_MM, 6.0, said("Underside, as traced"), (label, what))
        axes = frame.drawn_on(sheet)
        _from_below(axes, traced)
        top = HEAD_MM + frame.height_mm + 10.0
        sheet.text(MARGIN_MM, top - 3.0, said("Each section: near whole line, off broken line, laid over it"))
        wide = (width_mm - 2 * MARGIN_MM) / IN_A_ROW
        for k, one in enumerate(sections):
            _section(sheet, one, MARGIN_MM + wide * (k % IN_A_ROW), top + ROW_MM * (k // IN_A_ROW), wide)
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Underside, as traced')}: {label}",
        description=said(
            f"Upside down, pommel at the top, near side on the right, scale 1:{1 / frame.scale:g}; below it "
            "each section with the near panel's line over the off panel's."
        ),
        scale=frame.scale,
    )


def _from_below(axes: Axes, traced: TracedUnderside) -> None:
    sections, told = traced.sections, traced.told
    along = [-one.behind_mm for one in sections]
    # Upside down and pommel away, near lies on the right: as the saddle's y counts.
    for name, lines in (
        ("near", [one.left[:, 0] for one in sections]),
        ("off", [one.right[:, 0] for one in sections]),
    ):
        for at, line in zip(along, lines, strict=True):
            axes.plot([line[0], line[-1]], [at, at], color=ink.BACK_LINE, lw=ink.LINE_PT, zorder=4)
        (edge,) = axes.plot(
            [*(line[0] for line in lines), *(line[-1] for line in lines[::-1]), lines[0][0]],
            [*along, *along[::-1], along[0]],
            color=ink.INK, lw=ink.LINE_PT, zorder=3,
        )  # fmt: skip
        edge.set_gid(f"panel-{name}")
        axes.fill(*edge.get_data(), color=ink.PANEL_FILL, zorder=2)
    for at, one in zip(along, told, strict=True):
        axes.text(
            0.0, at, f"{one.channel_mm:.0f}", ha="center", va="center", zorder=9, weight="bold",
            bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip


def _section(sheet: Sheet, one: UndersideSection, left: float, top: float, wide: float) -> None:
    lines = (one.left, one.right * (-1.0, 1.0))
    low = min(float(line[:, 1].min()) for line in lines)
    high = max(float(line[:, 1].max()) for line in lines)
    reach = max(float(line[:, 0].max()) for line in lines)
    scale = min((wide - 4.0) / (reach + _BESIDE_MM), (ROW_MM - 10.0) / (high - low + 10.0))
    axes = sheet.scaled_axes(
        left, top + 5.0, wide - 3.0, ROW_MM - 8.0, scale=scale, centre=(0.5 * reach, 0.5 * (low + high))
    )
    axes.plot(lines[0][:, 0], lines[0][:, 1], color=ink.INK, lw=ink.LINE_PT)
    axes.plot(lines[1][:, 0], lines[1][:, 1], color=ink.LOAD, lw=ink.LINE_PT, ls=(0, (4, 2)))
    axes.axvline(0.0, color=ink.HAIR, lw=ink.HAIR_PT)
    sheet.text(left, top + 3.5, said(f"{one.behind_mm:.0f} mm behind the front edge"))
