"""A scanned underside seen from below, pommel up: outlines, channel, and how even the panels are, in mm."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Normalize

from saddlebench.engine.saddle.grid import LEFT
from saddlebench.engine.saddle.underside.become import ScannedSaddle
from saddlebench.engine.saddle.underside.evenness import Unevenness, uneven, unevenness
from saddlebench.engine.saddle.underside.heights import FaceGrid
from saddlebench.engine.saddle.zones import ZONE_ENDS
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.bench import HEAD_MM, MARGIN_MM, BenchFrame
from saddlebench.exchange.drawings.change_ink import CHANGE_MAP
from saddlebench.exchange.drawings.sheet import PHONE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.vocabulary import said

FOOT_MM = 30.0
MOST_MM = 6.0
APART_MM = 26.0


def scanned_underside(scanned: ScannedSaddle, *, width_mm: float = PHONE_WIDTH_MM) -> Drawing:
    """Return the underside as it lies on the bench: near side on the right, pommel up.

    Parameters
    ----------
    scanned : what was found
    width_mm : paper width [mm]
    """
    found = scanned.found
    half = max(float(grid.out_y_mm.max()) for grid in (found.near, found.off)) + 14.0
    along = (-found.length_mm - 22.0, 22.0)
    frame = BenchFrame(half_mm=half, along_mm=along, paper_mm=width_mm, largest=1 / 3)
    with drawing_style():
        sheet = Sheet(width_mm, HEAD_MM + frame.height_mm + FOOT_MM)
        sheet.heading(
            MARGIN_MM,
            6.0,
            said("Underside, as scanned"),
            (scanned.record.label, said("upside down, pommel away from you; mm against a smooth panel")),
        )
        axes = frame.drawn_on(sheet)
        norm = Normalize(-MOST_MM, MOST_MM)
        for grid in (found.near, found.off):
            _panel(axes, grid, norm)
            for one in _apart(unevenness(grid, found.length_mm)):
                _number(axes, grid, one)
        for end in ZONE_ENDS:
            level = [-end * found.length_mm] * 2
            axes.plot([-half, half], level, color=ink.SOFT, lw=0.4, ls=(0, (4, 4)), zorder=7)
        _channel(axes, scanned)
        _key(sheet, HEAD_MM + frame.height_mm + 6.0)
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Underside, as scanned')}: {scanned.record.label}",
        description=said(
            f"Upside down, pommel at the top, near side on the right, scale 1:{1 / frame.scale:g}. "
            "Numbers: the largest lump (+) or hollow (−) of each zone against a smooth panel, mm."
        ),
        scale=frame.scale,
    )


def _panel(axes: Axes, grid: FaceGrid, norm: Normalize) -> None:
    across = grid.side * grid.out_y_mm
    along = np.broadcast_to(-grid.behind_mm[:, None], across.shape)
    out = uneven(grid)
    axes.pcolormesh(
        across, along, np.ma.masked_invalid(out), cmap=CHANGE_MAP, norm=norm, shading="gouraud", zorder=2,
        rasterized=True,
    )  # fmt: skip
    missing = ~np.isfinite(out)
    missing[[0, -1]], missing[:, [0, -1]] = False, False
    axes.scatter(across[missing], along[missing], marker="x", s=9, lw=0.6, color=ink.INK, zorder=5)
    edge = np.concatenate(
        [
            np.stack([across[0], along[0]], 1),
            np.stack([across[:, -1], along[:, -1]], 1),
            np.stack([across[-1, ::-1], along[-1, ::-1]], 1),
            np.stack([across[::-1, 0], along[::-1, 0]], 1),
        ]
    )
    (drawn,) = axes.plot(edge[:, 0], edge[:, 1], color=ink.INK, lw=ink.LINE_PT, zorder=6)
    drawn.set_gid("panel-near" if grid.side == LEFT else "panel-off")


def _number(axes: Axes, grid: FaceGrid, one: Unevenness) -> None:
    if not np.isfinite(one.most_mm):
        return
    row = int(np.argmin(np.abs(grid.behind_mm - one.behind_mm)))
    y = grid.side * (grid.out_y_mm[row, 0] + one.across * (grid.out_y_mm[row, -1] - grid.out_y_mm[row, 0]))
    words = f"{one.most_mm:+.0f}".replace("-", "\u2212") if one.is_told else said("even")
    if not one.is_told:
        y = grid.side * 0.5 * (grid.out_y_mm[row, 0] + grid.out_y_mm[row, -1])
    axes.text(
        float(y), -one.behind_mm, words, ha="center", va="center", zorder=9,
        weight="bold" if one.is_told else "normal", size=10.0 if one.is_told else ink.TEXT_PT,
        bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 1.0, "alpha": 0.9},
    )  # fmt: skip


def _apart(zones: tuple[Unevenness, ...]) -> list[Unevenness]:
    """Return the zones whose figures do not lie over each other, the larger ones first."""
    kept: list[Unevenness] = []
    for one in sorted(zones, key=lambda zone: (not zone.is_told, -abs(zone.most_mm))):
        if all(abs(one.behind_mm - other.behind_mm) > APART_MM for other in kept):
            kept.append(one)
    return kept


def _channel(axes: Axes, scanned: ScannedSaddle) -> None:
    found = scanned.found
    for share in (0.10, 0.45, 0.90):
        row = int(np.argmin(np.abs(found.behind_mm - share * found.length_mm)))
        at = -float(found.behind_mm[row])
        ends = (-float(found.off.out_y_mm[row, 0]), float(found.near.out_y_mm[row, 0]))
        axes.annotate(
            "", (ends[0], at), (ends[1], at), arrowprops={"arrowstyle": "<->", "lw": 0.8, "color": ink.INK}
        )
        axes.text(
            0.0, at - 12.0, f"{found.channel_mm[row]:.0f}", ha="center", va="center", zorder=9, weight="bold",
            bbox={"facecolor": ink.PAPER, "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip


def _key(sheet: Sheet, top: float) -> None:
    steps = 24
    for k in range(steps):
        value = (k + 0.5) / steps
        sheet.box(MARGIN_MM + 1.6 * k, top, 1.6, 3.4, facecolor=CHANGE_MAP(value), edgecolor="none")
    sheet.text(MARGIN_MM, top + 7.4, f"\u2212{MOST_MM:g} " + said("hollow"))
    sheet.text(MARGIN_MM + 1.6 * steps, top + 7.4, f"+{MOST_MM:g} " + said("stands out, mm"), ha="center")
    sheet.text(MARGIN_MM, top + 12.4, said("× not measured; figures in the channel: its width, mm"))
