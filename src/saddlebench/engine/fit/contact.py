"""The saddle's underside as the kernels need it: pads on, about its own centroid, with its laws."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.fit._kernels.parts import Back, Panels
from saddlebench.engine.fit.laws import N_TISSUES, Layers, panel_stacks
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.model import BearingSurface, PadLayer, SaddleModel
from saddlebench.engine.saddle.pads import pad_thickness

N_PER_KPA_MM2 = 1e-3
NO_LAYER_KPA_MM = 1e12


@dataclass(frozen=True, slots=True, kw_only=True)
class Underside:
    """Points that may press, pads included."""

    reference_saddle: FloatArray
    """(3,) float, saddle frame [mm]: area centroid of the bearing surface."""
    points: FloatArray
    """(n, 3) float, saddle axes about the reference [mm]: the underside of the lowest pad."""
    area_n_kpa: FloatArray
    """(n,) float: force of 1 kPa on the point's area [N/kPa]."""
    stack: NDArray[np.int64]
    """(n,) row of `layers`."""
    layers: Layers
    lever_mm: float
    """Longest distance of a point from the reference [mm]."""

    def panels(self, tissue: NDArray[np.int64]) -> Panels:
        """Return the kernels' form for the tissue (n,) that lies under each point."""
        return Panels(points=self.points, area=self.area_n_kpa, law=N_TISSUES * self.stack + tissue)


def underside(saddle: SaddleModel, pads: Sequence[PadLayer]) -> Underside:
    """Return the pressing points of a saddle over its pads.

    A pad follows the panel: each point moves out along its normal by the pads' unpressed thickness, and keeps
    its area.
    """
    bearing = saddle.bearing
    thickness = pad_thickness(tuple(pads), bearing) if pads else np.zeros(bearing.zone.size)
    stacked = [pad_layers(pad) for pad in pads]
    layers, stack = panel_stacks(bearing.firmness, bearing.zone, saddle.panel, stacked)
    weights = bearing.area_mm2 / np.sum(bearing.area_mm2)
    reference = weights @ bearing.points_saddle
    points = bearing.points_saddle + thickness[:, None] * bearing.normals_saddle - reference
    return Underside(
        reference_saddle=read_only(reference),
        points=read_only(points),
        area_n_kpa=read_only(N_PER_KPA_MM2 * bearing.area_mm2),
        stack=stack,
        layers=layers,
        lever_mm=float(np.max(np.linalg.norm(points, axis=1))),
    )


def pad_layers(pad: PadLayer) -> Layers:
    """Return a pad's layer in each zone: `k = E/h` and `δ₀ ∝ h`; its material is that of its mean thickness.

    Where there is no pad, the layer is so stiff that it drops out.
    """
    thickness = np.array(pad.thickness_mm)
    present = thickness > 0.0
    part = np.where(present, thickness, 1.0) / np.mean(thickness[present]) if present.any() else thickness
    stiffness = np.where(
        present, pad.material.stiffness_kpa_mm / np.where(present, part, 1.0), NO_LAYER_KPA_MM
    )
    hardening = np.where(present, pad.material.hardening_mm * np.where(present, part, 1.0), np.inf)
    return Layers(stiffness_kpa_mm=stiffness[:, None], hardening_mm=hardening[:, None])


def thinned(under: Underside, bearing: BearingSurface, n_points: int) -> Underside:
    """Return about `n_points` of the points, in rows and columns, with each side's area kept.

    Both sides are thinned alike, so that a symmetric saddle stays symmetric to rounding.
    """
    keep = under.area_n_kpa.size / n_points
    n_columns = int(bearing.column.max()) + 1
    per_column = max(1, round(np.sqrt(keep) * 0.75)) if n_columns > 3 else 1
    per_row = max(1, round(keep / per_column))
    chosen = (bearing.row % per_row == per_row // 2) & (bearing.column % per_column == per_column // 2)
    if not chosen.any():
        return under
    area = under.area_n_kpa[chosen].copy()
    side = bearing.side[chosen]
    for each in (-1, 1):
        if (side == each).any():
            area[side == each] *= np.sum(under.area_n_kpa[bearing.side == each]) / np.sum(area[side == each])
    return Underside(
        reference_saddle=under.reference_saddle,
        points=read_only(under.points[chosen]),
        area_n_kpa=read_only(area),
        stack=under.stack[chosen],
        layers=under.layers,
        lever_mm=under.lever_mm,
    )


def kernel_back(surface: BackSurface, continuation_mm: float) -> Back:
    """Return a surface as the kernels need it."""
    grid = surface.grid
    # one array type for the kernels, whoever made the spline: a writable one would be compiled for anew
    flat = np.ascontiguousarray(surface.spline.coefficients, dtype=np.float64).reshape(-1)
    flat.flags.writeable = False
    return Back(
        flat=flat,
        row=2 * (grid.n_phi + 2),
        n_s=grid.n_s - 1,
        n_phi=grid.n_phi - 1,
        s0=float(grid.s0_mm),
        per_ds=1.0 / float(grid.ds_mm),
        phi0=float(grid.phi0),
        per_dphi=1.0 / float(grid.dphi),
        axis_z=float(grid.axis_z_mm),
        margin_mm=float(continuation_mm),
    )


def tissue_under(surface: BackSurface, points_back: FloatArray) -> NDArray[np.int64]:
    """Return the region (n,) at the node nearest to each point (n, 3) float, back frame [mm]."""
    grid = surface.grid
    s, phi, _ = grid.polar(points_back)
    i = np.clip(np.rint((s - grid.s0_mm) / grid.ds_mm).astype(int), 0, grid.n_s - 1)
    j = np.clip(np.rint((phi - grid.phi0) / grid.dphi).astype(int), 0, grid.n_phi - 1)
    return surface.tissue[i, j].astype(np.int64)


def measured_nodes(surface: BackSurface) -> NDArray[np.bool_]:
    """Return whether each node (n_s, n_phi) was measured, as the one array type that the kernels know."""
    nodes = np.ascontiguousarray(surface.measured).view()
    nodes.flags.writeable = False
    return nodes
