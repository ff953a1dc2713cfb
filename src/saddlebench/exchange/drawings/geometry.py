"""Lines cut from a back and a saddle in place. Everything is in the back frame [mm]."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.fit.measures.cells import row_lengths
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import PadLayer, Zone
from saddlebench.exchange.drawings.scene import Scene

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Underside:
    """One panel's underside cut by a transverse plane, from its inner to its outer edge."""

    y: FloatArray
    z: FloatArray
    pad_y: FloatArray
    """(m,) float: the underside of the pads [mm]."""
    pad_z: FloatArray
    gap_mm: FloatArray
    pressure_kpa: FloatArray
    measured: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Gullet:
    """The channel cut by a transverse plane: its inner edges and its roof, near to off."""

    y: FloatArray
    z: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """A field at one panel's points, ordered by row (front to rear) and column (inner to outer)."""

    points: FloatArray
    """(rows, columns, 3) float, back frame [mm]."""
    index: NDArray[np.intp]
    """(rows, columns) int into the bearing points."""


def back_section(
    surface: BackSurface, s_mm: float, count: int = 241
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return y [mm], z [mm], each (count,) float, back frame, of the skin at `s_mm`, and whether measured."""
    grid = surface.grid
    phi = np.linspace(grid.phi[0], grid.phi[-1], count)
    radius = surface.spline.radius(np.full(count, s_mm), phi)[:, 0]
    points = grid.cartesian(np.full(count, s_mm), phi, radius)
    return points[:, 1], points[:, 2], is_measured(surface, np.full(count, s_mm), phi)


def is_measured(surface: BackSurface, s_mm: FloatArray, phi: FloatArray) -> BoolArray:
    """Return (n,) whether the grid nodes around each place (n,) [mm, rad] were measured."""
    grid = surface.grid
    row = (s_mm - grid.s0_mm) / grid.ds_mm
    column = (phi - grid.phi0) / grid.dphi
    inside = (row > -0.01) & (row < grid.n_s - 0.99) & (column > -0.01) & (column < grid.n_phi - 0.99)
    i = np.clip(np.rint(row).astype(int), 0, grid.n_s - 1)
    j = np.clip(np.rint(column).astype(int), 0, grid.n_phi - 1)
    return np.asarray(inside & surface.measured[i, j], dtype=bool)


def topline(surface: BackSurface, count: int = 200) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return s [mm] and z [mm], each (count,) float, back frame, of the midline, and whether measured."""
    s = np.linspace(surface.grid.s_mm[0], surface.grid.s_mm[-1], count)
    radius = surface.spline.radius(s, np.zeros(count))[:, 0]
    return s, radius + surface.grid.axis_z_mm, is_measured(surface, s, np.zeros(count))


def back_height(surface: BackSurface, s_mm: float, y_mm: FloatArray) -> FloatArray:
    """Return (n,) float, height [mm] of the skin in the section `s_mm` at (n,) sideways places [mm]."""
    y, z, _ = back_section(surface, s_mm)
    return np.interp(y_mm, y, z)


def pad_thickness(pads: tuple[PadLayer, ...], zone: NDArray[np.int8]) -> FloatArray:
    """Return (n,) float, the unpressed pads' thickness together [mm] at points in (n,) zones."""
    total = np.zeros(zone.size)
    for pad in pads:
        total += np.asarray(pad.thickness_mm)[zone]
    return total


def lattice(scene: Scene, side: int) -> Lattice:
    """Return the points of one side (+1 near, −1 off) by row and column.

    Raises
    ------
    ValueError
        If the side's points do not fill their rows and columns.
    """
    bearing = scene.saddle.bearing
    chosen = np.flatnonzero(bearing.side == side)
    rows, row = np.unique(bearing.row[chosen], return_inverse=True)
    columns, column = np.unique(bearing.column[chosen], return_inverse=True)
    index = np.full((rows.size, columns.size), -1, dtype=np.intp)
    index[row, column] = chosen
    if np.any(index < 0):
        msg = f"{chosen.size} points do not fill {rows.size} rows and {columns.size} columns"
        raise ValueError(msg)
    points = scene.settled.saddle_to_back.points(bearing.points_saddle[index.ravel()])
    return Lattice(points=points.reshape(*index.shape, 3), index=index)


def underside(scene: Scene, side: int, s_mm: float) -> Underside | None:
    """Return one panel's cut at `s_mm`, or None where the panel does not reach."""
    held = lattice(scene, side)
    bearing, settled = scene.saddle.bearing, scene.settled
    normals = settled.saddle_to_back.directions(bearing.normals_saddle)
    below = pad_thickness(scene.pads, bearing.zone)
    cut = []
    for column in range(held.index.shape[1]):
        index, points = held.index[:, column], held.points[:, column]
        s = -points[:, 0]
        if not s.min() <= s_mm <= s.max():
            continue
        order = np.argsort(s)
        index, points = index[order], points[order]
        pad = points + normals[index] * below[index, None]
        fields = np.column_stack(
            [
                points[:, 1:],
                pad[:, 1:],
                settled.gap_mm[index],
                settled.pressure_kpa[index],
                settled.measured[index],
            ]
        )
        cut.append([np.interp(s_mm, s[order], values) for values in fields.T])
    if len(cut) < 2:
        return None
    y, z, pad_y, pad_z, gap, pressure, measured = np.array(cut).T
    return Underside(
        y=y, z=z, pad_y=pad_y, pad_z=pad_z, gap_mm=gap, pressure_kpa=pressure, measured=measured > 0.5
    )


def gullet(scene: Scene, s_mm: float) -> Gullet | None:
    """Return the channel's roof at `s_mm`, or None beyond the channel's ends."""
    channel = scene.saddle.channel
    lines = []
    for half_width in (channel.half_width_left_mm, -channel.half_width_right_mm):
        points = scene.settled.saddle_to_back.points(
            np.column_stack([channel.x_mm, half_width, channel.roof_z_mm])
        )
        s = -points[:, 0]
        if not s.min() <= s_mm <= s.max():
            return None
        order = np.argsort(s)
        lines.append([np.interp(s_mm, s[order], points[order, axis]) for axis in (1, 2)])
    y, z = np.array(lines).T
    return Gullet(y=y, z=z)


def zone_station(scene: Scene, zone: Zone) -> float | None:
    """Return the distance s [mm] of the middle of a zone's points, or None if the saddle has none there."""
    inside = scene.saddle.bearing.zone == zone
    if not np.any(inside):
        return None
    points = scene.settled.saddle_to_back.points(scene.saddle.bearing.points_saddle[inside])
    return float(-np.median(points[:, 0]))


def saddle_reach(scene: Scene) -> tuple[float, float]:
    """Return the distances s [mm] of the panels' front and rear ends."""
    s = -scene.settled.saddle_to_back.points(scene.saddle.bearing.points_saddle)[:, 0]
    return float(s.min()), float(s.max())


def centre_of_pressure(scene: Scene) -> FloatArray | None:
    """Return (3,) float, back frame [mm], the load-weighted mean of the bearing points; None without load."""
    load = scene.settled.pressure_kpa * scene.saddle.bearing.area_mm2
    if load.sum() <= 0.0:
        return None
    points = scene.settled.saddle_to_back.points(scene.saddle.bearing.points_saddle)
    return np.asarray(load @ points / load.sum())


def line_load_of(scene: Scene, side: int) -> tuple[FloatArray, FloatArray]:
    """Return s [mm] and load per length [N/mm], each (rows,) float, along one panel, row by row.

    The load is resolved along the contact's normal; it is what presses the horse, not only its vertical part.
    """
    held = lattice(scene, side)
    s = -held.points[:, :, 0].mean(axis=1)
    force = (scene.settled.pressure_kpa * scene.saddle.bearing.area_mm2)[held.index].sum(axis=1) * 1e-3
    return s, force / row_lengths(s)
