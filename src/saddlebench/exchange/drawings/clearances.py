"""The saddle over the spine in a cross-section: front arch or channel, and the clearances in mm."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import Family
from saddlebench.engine.units import QUANTITIES
from saddlebench.exchange import phrases
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.dimension import horizontal_dimension, label, vertical_dimension
from saddlebench.exchange.drawings.geometry import Underside, back_height, gullet
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.vocabulary import said

IN_PLANE_MM = 30.0
"""Parts of the front arch this near to the section are drawn in it."""
LEAST_GAP_MM = 1.0


def arch_station(scene: Scene) -> float:
    """Return the distance s [mm] of the front arch, where its two ends stand."""
    ends = scene.settled.saddle_to_back.points(scene.saddle.arch_saddle[[0, -1]])
    return float(-ends[:, 0].mean())


def highest_over(scene: Scene, s_mm: float) -> float:
    """Return the height [mm] of the highest part of the saddle that is drawn in a section."""
    if abs(arch_station(scene) - s_mm) < IN_PLANE_MM:
        return float(scene.settled.saddle_to_back.points(scene.saddle.arch_saddle)[:, 2].max())
    roof = gullet(scene, s_mm)
    return -np.inf if roof is None else float(roof.z.max())


def draw_clearances(axes: Axes, scene: Scene, s_mm: float, cuts: Sequence[Underside], scale: float) -> None:
    """Draw what spans the spine at a section, with height, channel width and gaps as dimensions."""
    top = float(back_height(scene.surface, s_mm, np.zeros(1))[0])
    at_arch = abs(arch_station(scene) - s_mm) < IN_PLANE_MM
    roof_z = _draw_arch(axes, scene, s_mm) if at_arch else _draw_gullet(axes, scene, s_mm, cuts)
    if roof_z is not None:
        _spine_clearance(axes, top, roof_z, scale)
    elif at_arch:
        is_cut_back = scene.saddle.family is Family.CUT_BACK
        why = ("cut back:", "open above") if is_cut_back else ("its top lies outside", "this section")
        _below_the_crown(axes, top, said(why[0]), why[1], scale)
    if len(cuts) == 2:
        inner = (-cuts[0].y[0], -cuts[1].y[0])
        highest = max(float(cut.z.max()) for cut in cuts)
        height = max(
            highest + 22.0, roof_z + 24.0 if roof_z is not None else top + (62.0 if at_arch else 20.0)
        )
        words = f"{said('channel')} {_mm(inner[1] - inner[0])}"
        horizontal_dimension(axes, *inner, height, words, from_z=cuts[0].z[0], scale=scale)
    for cut in cuts:
        _gap_label(axes, cut, top, scale)


def _mm(value: float) -> str:
    return phrases.amount(value, QUANTITIES["length"])


def _spine_clearance(axes: Axes, top: float, roof_z: float, scale: float) -> None:
    vertical_dimension(axes, 0.0, top, roof_z)
    axes.plot([0.0, 0.0], [top, top - 46.0], color=ink.SOFT, lw=ink.HAIR_PT * 0.7, zorder=10)
    where = "over the spine" if roof_z > top else "on the spine"
    _below_the_crown(axes, top, _mm(roof_z - top), where, scale)


def _below_the_crown(axes: Axes, top: float, words: str, more: str, scale: float) -> None:
    label(axes, 0.0, top - 46.0 - 3.0 / scale, words)
    label(axes, 0.0, top - 46.0 - 6.3 / scale, said(more))


def _draw_arch(axes: Axes, scene: Scene, s_mm: float) -> float | None:
    """Draw the arch as far as it lies in the section; return its height [mm] if it spans the midline."""
    move = scene.settled.saddle_to_back
    arch = move.points(scene.saddle.arch_saddle)
    in_plane = np.abs(-arch[:, 0] - s_mm) < IN_PLANE_MM
    shown = np.where(in_plane[:, None], arch, np.nan)
    axes.plot(-shown[:, 1], shown[:, 2], color=ink.INK, lw=3.0, zorder=9, solid_capstyle="round")
    for point in scene.saddle.points or ():
        end = point.end_saddle
        ends = move.points(np.array([end, end + point.upward_saddle * point.length_mm]))
        axes.plot(-ends[:, 1], ends[:, 2], color=ink.INK, lw=4.5, zorder=9, solid_capstyle="round")
    return _height_at_midline(arch) if in_plane[np.argmin(np.abs(arch[:, 1]))] else None


def _height_at_midline(arch: FloatArray) -> float:
    order = np.argsort(arch[:, 1])
    return float(np.interp(0.0, arch[order, 1], arch[order, 2]))


def _draw_gullet(axes: Axes, scene: Scene, s_mm: float, cuts: Sequence[Underside]) -> float | None:
    roof = gullet(scene, s_mm)
    if roof is None or len(cuts) != 2:
        return None
    axes.plot(-roof.y, roof.z, color=ink.INK, lw=ink.LINE_PT, zorder=6)
    for cut, y, z in zip(cuts, roof.y, roof.z, strict=True):
        axes.plot([-y, -cut.y[0]], [z, cut.z[0]], color=ink.INK, lw=ink.LINE_PT, zorder=6)
    return float(np.interp(0.0, roof.y[::-1], roof.z[::-1]))


def _gap_label(axes: Axes, cut: Underside, top: float, scale: float) -> None:
    """Write the largest gap of one panel in the free corner on its own side, a line leading to its place."""
    worst = int(np.argmax(cut.gap_mm))
    if cut.gap_mm[worst] < LEAST_GAP_MM:
        return
    left, right = axes.get_xlim()
    is_near = cut.y.mean() > 0.0
    corner = (left + 1.0 / scale, top + 18.0) if is_near else (right - 1.0 / scale, top + 18.0)
    axes.annotate(
        f"{said('gap')} {_mm(cut.gap_mm[worst])}",
        xy=(-cut.pad_y[worst], cut.pad_z[worst]),
        xytext=corner,
        ha="left" if is_near else "right",
        va="center",
        size=ink.TEXT_PT,
        arrowprops={"arrowstyle": "-", "color": ink.INK, "lw": ink.HAIR_PT, "shrinkA": 0, "shrinkB": 0},
        zorder=10,
    )
