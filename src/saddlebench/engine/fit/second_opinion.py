"""The half-space model's view of a settled saddle, where load spreads beneath the skin.

Both panels are laid flat, side by side, each as far from the midline as it is along its own underside, and
the unpressed gap of the settled saddle is pressed with the same load at the same place. What is compared is
how the load is spread, never its level alone: the half-space's modulus is hardly known.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator, RegularGridInterpolator
from scipy.spatial import cKDTree
from scipy.stats import spearmanr

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.halfspace import N_PER_KPA_MM2, ContactGrid, Substrate, press_with
from saddlebench.engine.fit.settled import Outcome, Settled
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.materials import Material
from saddlebench.engine.saddle.model import BearingSurface

POISSON = 0.45
"""Soft tissue keeps its volume, nearly (assumption)."""
HALF_SPACE_TISSUE = Material(
    name="soft tissue as a half-space, E* in kPa",
    stiffness_kpa_mm=90.0 / (1.0 - POISSON**2),
    ln_sd=0.8,
    source="muscle 20–100 kPa relaxed, 100–500 tense; no value for horses known: from memory, a wide prior",
)
"""Its `stiffness_kpa_mm` is the contact modulus E* [kPa]: a half-space has no thickness to divide by."""
CONTACT_KPA = 1.0
"""Contact is where the pressure is above this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How a pressure field lies on the panels: the same figures for both models."""

    peak_kpa: float
    """99th percentile over the contact."""
    mean_kpa: float
    contact_mm2: float
    left_share: float
    thirds: tuple[float, float, float]
    """Shares of the front, middle and rear third of the panels' length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondOpinion:
    """Two models of one settled saddle, side by side."""

    pressure_kpa: FloatArray
    """(n,) float, at the bearing points [kPa], by the half-space model."""
    first: Spread
    second: Spread
    rank_correlation: float
    """Spearman's, over points that either model holds in contact."""
    iterations: int
    residual: float


def second_opinion(
    bearing: BearingSurface,
    settled: Settled,
    substrate: Substrate,
    *,
    spacing_mm: float = 8.0,
) -> SecondOpinion | Undetermined:
    """Press the settled saddle's unpressed gap on a half-space with the load that the settle solver found.

    Parameters
    ----------
    bearing : the points that were settled
    settled : their gap and pressure
    substrate : tissue as a half-space, panel and pad as a layer that does not spread load
    spacing_mm : of the grid

    Raises
    ------
    ValueError
        When the points are not those that were settled.
    """
    if len(settled.gap_mm) != len(bearing.area_mm2):
        msg = f"{len(settled.gap_mm)} points were settled, the bearing surface has {len(bearing.area_mm2)}"
        raise ValueError(msg)
    if settled.outcome is not Outcome.SITS:
        return Undetermined(f"the saddle {settled.outcome}: there is no pressure to compare")
    load = settled.pressure_kpa * bearing.area_mm2 * N_PER_KPA_MM2
    if not load.sum() > 0.0:
        return Undetermined("nothing presses on the back: there is no pressure to compare")
    flat = laid_flat(bearing)
    grid, origin, gap = _on_grid(flat, bearing.side, settled.gap_mm, spacing_mm)
    centre = (load @ flat / load.sum()) - origin
    pressed = press_with(
        grid,
        gap,
        substrate,
        float(load.sum()),
        centre_mm=(float(centre[0]), float(centre[1])),
        tolerance=1e-4,
    )
    if isinstance(pressed, Undetermined):
        return pressed
    x = grid.dx_mm * (np.arange(grid.n_x) - 0.5 * (grid.n_x - 1)) + origin[0]
    y = grid.dy_mm * (np.arange(grid.n_y) - 0.5 * (grid.n_y - 1)) + origin[1]
    # Cells beside the panel carry nothing: they must not thin the pressure at its edge.
    at_points, on_body = (
        RegularGridInterpolator((x, y), field)(flat)
        for field in (pressed.pressure_kpa, np.isfinite(gap).astype(float))
    )
    at_points = at_points / np.maximum(on_body, 0.05)
    # Between grid and points a little load is lost or won at edges; shares are of what is there.
    at_points *= load.sum() / float(at_points @ bearing.area_mm2 * N_PER_KPA_MM2)
    either = (settled.pressure_kpa > CONTACT_KPA) | (at_points > CONTACT_KPA)
    return SecondOpinion(
        pressure_kpa=read_only(at_points),
        first=spread_of(bearing, settled.pressure_kpa),
        second=spread_of(bearing, at_points),
        rank_correlation=float(spearmanr(settled.pressure_kpa[either], at_points[either]).statistic),
        iterations=pressed.iterations,
        residual=pressed.residual,
    )


def laid_flat(bearing: BearingSurface) -> FloatArray:
    """Return the points laid flat, (n, 2) float, plane of the panels [mm]: along, and across positive left.

    Across counts from the midline plane to the panel's inner edge, then along the underside.
    """
    points = bearing.points_saddle
    flat = np.zeros((len(points), 2))
    flat[:, 0] = points[:, 0]
    for side in (1, -1):
        for row in np.unique(bearing.row[bearing.side == side]):
            line = np.flatnonzero((bearing.side == side) & (bearing.row == row))
            line = line[np.argsort(bearing.column[line])]
            steps = np.linalg.norm(np.diff(points[line, 1:], axis=0), axis=1)
            flat[line, 1] = side * (abs(points[line[0], 1]) + np.concatenate([[0.0], np.cumsum(steps)]))
    return flat


def _on_grid(
    flat: FloatArray, side: NDArray[np.int8], gap_mm: FloatArray, spacing_mm: float
) -> tuple[ContactGrid, FloatArray, FloatArray]:
    """Return a grid over both panels, where its middle lies, and the gap at its cells, infinite off them."""
    low, high = flat.min(axis=0), flat.max(axis=0)
    count = np.ceil((high - low) / spacing_mm).astype(int) + 3
    grid = ContactGrid(n_x=int(count[0]), n_y=int(count[1]), dx_mm=spacing_mm, dy_mm=spacing_mm)
    origin = 0.5 * (low + high)
    x, y = grid.centres()
    cells = np.stack([x.ravel(), y.ravel()], axis=1) + origin
    gap = np.full(len(cells), np.inf)
    for which in (1, -1):
        points = flat[side == which]
        nearest = cKDTree(points)
        # Between points of a panel no place is further from the next than about one spacing of theirs.
        own_spacing = float(np.quantile(nearest.query(points, k=3)[0][:, 2], 0.95))
        on_panel = nearest.query(cells)[0] <= max(own_spacing, 0.75 * spacing_mm)
        held = LinearNDInterpolator(points, gap_mm[side == which])(cells[on_panel])
        gap[on_panel] = np.where(np.isnan(held), np.inf, held)
    return grid, origin, gap.reshape(grid.shape)


def spread_of(bearing: BearingSurface, pressure_kpa: FloatArray) -> Spread:
    """Return how pressures (n,) float, at the bearing points [kPa], are spread over the panels."""
    load = pressure_kpa * bearing.area_mm2
    total = float(load.sum())
    touching = pressure_kpa > CONTACT_KPA
    x = bearing.points_saddle[:, 0]
    third = np.clip(3.0 * (x.max() - x) / np.ptp(x), 0.0, 2.999).astype(int)
    shares = [float(load[third == k].sum()) / total for k in range(3)]
    area = float(bearing.area_mm2[touching].sum())
    return Spread(
        peak_kpa=float(np.quantile(pressure_kpa[touching], 0.99)) if touching.any() else 0.0,
        mean_kpa=float(load[touching].sum()) / area if area > 0.0 else 0.0,
        contact_mm2=area,
        left_share=float(load[bearing.side > 0].sum()) / total,
        thirds=(shares[0], shares[1], shares[2]),
    )
