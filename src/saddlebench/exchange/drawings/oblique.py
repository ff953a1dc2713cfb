"""An oblique picture of the back: parallel projection, facets drawn from far to near."""

from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_rgb
from matplotlib.tri import LinearTriInterpolator, Triangulation

from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.geometry import BoolArray, is_measured, lattice
from saddlebench.exchange.drawings.plan import BEARS_KPA, PRESSURE
from saddlebench.exchange.drawings.scene import Scene

STEP_MM, STEP_RAD = 4.0, np.deg2rad(1.0)
SKIN = to_rgb("#e4d6c3")
UNSEEN = to_rgb("#f6f3ee")
BARE = to_rgb("#f4f1ea")


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A parallel projection, from the near side, above and a little behind: the head is to the left."""

    right: FloatArray
    """(3,) float, back frame [1]."""
    up: FloatArray
    towards: FloatArray
    """(3,) float, back frame [1]: from the horse to the eye."""

    @classmethod
    def from_angles(cls, behind_deg: float, above_deg: float) -> Self:
        """Return the view turned `behind_deg` from square to the near side, `above_deg` up."""
        behind, above = np.deg2rad([behind_deg, above_deg])
        towards = np.array([-np.sin(behind) * np.cos(above), np.cos(behind) * np.cos(above), np.sin(above)])
        right = np.cross(-towards, [0.0, 0.0, 1.0])
        right /= np.linalg.norm(right)
        return cls(right=right, up=np.cross(right, -towards), towards=towards)

    def flat(self, points: FloatArray) -> FloatArray:
        """Return (..., 2) float, picture plane [mm], of points (..., 3) float, back frame [mm]."""
        return np.stack([points @ self.right, points @ self.up], axis=-1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Facets:
    """Quadrilaterals with a colour each."""

    corners: FloatArray
    """(f, 4, 3) float, back frame [mm]."""
    colours: FloatArray
    """(f, 3) float, red, green, blue [1]."""


def back_facets(scene: Scene, s_range: tuple[float, float], phi_limit: float) -> Facets:
    """Return the back's skin between two distances [mm], the pressure under both panels printed on it.

    Paler where the back was not measured; almost white under a panel that does not bear.
    """
    grid = scene.surface.grid
    s = np.arange(max(s_range[0], grid.s_mm[0]), min(s_range[1], grid.s_mm[-1]), STEP_MM)
    phi = np.arange(max(-phi_limit, grid.phi[0]), min(phi_limit, grid.phi[-1]) + STEP_RAD / 2, STEP_RAD)
    on_s, on_phi = (values.ravel() for values in np.meshgrid(s, phi, indexing="ij"))
    points = grid.cartesian(on_s, on_phi, scene.surface.spline.radius(on_s, on_phi)[:, 0])
    corners = _quadrilaterals(points.reshape(s.size, phi.size, 3))
    middle_s, middle_phi, _ = grid.polar(corners.mean(axis=1))
    known = is_measured(scene.surface, middle_s, middle_phi)
    colours = np.where(known[:, None], SKIN, UNSEEN)
    for side in (1, -1):
        pressure, is_under = _pressure_at(scene, side, middle_s, middle_phi)
        colours = np.where((is_under & known)[:, None], pressure_colours(pressure), colours)
    return Facets(corners=corners, colours=colours)


def _pressure_at(scene: Scene, side: int, s_mm: FloatArray, phi: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return pressure (n,) [kPa] at places (n,), and whether the panel covers them at all."""
    held = lattice(scene, side)
    rows, columns = held.index.shape
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    triangles = np.concatenate(
        [
            np.stack([first, first + 1, first + columns], axis=1),
            np.stack([first + 1, first + columns + 1, first + columns], axis=1),
        ]
    )
    panel_s, panel_phi, _ = scene.surface.grid.polar(held.points.reshape(-1, 3))
    mesh = Triangulation(panel_s, panel_phi, triangles)
    found = LinearTriInterpolator(mesh, scene.settled.pressure_kpa[held.index].ravel())(s_mm, phi)
    return np.ma.filled(found, 0.0), ~np.ma.getmaskarray(found)


def pressure_colours(pressure_kpa: FloatArray) -> FloatArray:
    """Return (n, 3) float colours of pressures (n,) [kPa], smooth over the plan's range."""
    share = np.clip(pressure_kpa / PRESSURE.levels[-2], 0.0, 1.0)
    bears = np.clip(pressure_kpa / BEARS_KPA - 0.5, 0.0, 1.0)[:, None]
    return np.asarray(bears * PRESSURE.colours(share)[:, :3] + (1.0 - bears) * np.asarray(BARE))


def draw_facets(axes: Axes, view: View, facets: Facets) -> None:
    """Draw facets that face the eye, far ones first, shaded by a light from above the near shoulder."""
    corners = facets.corners
    normals = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    normals = np.where(normals[:, 2:] < 0.0, -normals, normals)
    facing = normals @ view.towards > 0.0
    light = np.array([0.35, 0.35, 0.87])
    shade = 0.62 + 0.40 * np.clip(normals @ (light / np.linalg.norm(light)), 0.0, 1.0)
    order = np.argsort(corners.mean(axis=1) @ view.towards)
    order = order[facing[order]]
    painted = np.clip(facets.colours * shade[:, None], 0.0, 1.0)[order]
    axes.add_collection(
        PolyCollection(
            list(view.flat(corners[order])), facecolors=painted, edgecolors=painted, linewidths=0.3,
            rasterized=True, zorder=1,
        )
    )  # fmt: skip


def draw_line(axes: Axes, view: View, points: FloatArray, **style: Any) -> None:
    """Draw a polyline of points (n, 3) float, back frame [mm]."""
    flat = view.flat(points)
    axes.plot(flat[:, 0], flat[:, 1], **{"color": ink.INK, "lw": ink.LINE_PT, "zorder": 3, **style})


def draw_on_skin(
    axes: Axes, view: View, surface: BackSurface, s_mm: FloatArray, phi: FloatArray, **style: Any
) -> None:
    """Draw a line along the skin through places (n,) [mm, rad], left out where the skin faces away."""
    grid, (s_mm, phi) = surface.grid, _denser(s_mm, phi)
    value = surface.spline.radius(s_mm, phi)
    points = grid.cartesian(s_mm, phi, value[:, 0])
    along = np.stack([-np.ones_like(phi), value[:, 1] * np.sin(phi), value[:, 1] * np.cos(phi)], axis=1)
    across = np.stack(
        [
            np.zeros_like(phi),
            value[:, 2] * np.sin(phi) + value[:, 0] * np.cos(phi),
            value[:, 2] * np.cos(phi) - value[:, 0] * np.sin(phi),
        ],
        axis=1,
    )
    facing = np.cross(across, along) @ view.towards > 0.0
    draw_line(axes, view, np.where(facing[:, None], points, np.nan), **style)


def _denser(s_mm: FloatArray, phi: FloatArray) -> tuple[FloatArray, FloatArray]:
    knots = np.arange(s_mm.size)
    fine = np.linspace(0, s_mm.size - 1, (s_mm.size - 1) * 6 + 1)
    return np.interp(fine, knots, s_mm), np.interp(fine, knots, phi)


def _quadrilaterals(points: FloatArray) -> FloatArray:
    """Return (f, 4, k) corners of the cells of a lattice (rows, columns, k)."""
    cells = np.stack([points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]], axis=2)
    return cells.reshape(-1, 4, points.shape[-1])
