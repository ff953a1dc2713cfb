"""A rigid body pressed on a linear elastic half-space: the model that spreads load, as a second opinion.

Displacement is the convolution of pressure with Love's influence of a uniformly loaded rectangle; the contact
problem is solved by conjugate gradients with non-negative pressure.

References
----------
Love AEH (1929) Phil Trans R Soc A 228:377–420; in the form of Johnson KL (1985) Contact Mechanics, eq. 3.25.
Polonsky IA, Keer LM (1999) Wear 231:206–219 (conjugate gradients with a load constraint).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray, read_only

N_PER_KPA_MM2 = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactGrid:
    """A regular grid of rectangular cells on the flat surface of the half-space."""

    n_x: int
    n_y: int
    dx_mm: float
    dy_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Cells along x and y."""
        return self.n_x, self.n_y

    @property
    def cell_mm2(self) -> float:
        """Area of a cell."""
        return self.dx_mm * self.dy_mm

    def centres(self) -> tuple[FloatArray, FloatArray]:
        """Return x and y of the cells, each (n_x, n_y) float, plane of the grid [mm], about its middle."""
        x = self.dx_mm * (np.arange(self.n_x) - 0.5 * (self.n_x - 1))
        y = self.dy_mm * (np.arange(self.n_y) - 0.5 * (self.n_y - 1))
        grid = np.meshgrid(x, y, indexing="ij")
        return grid[0], grid[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Substrate:
    """What is pressed: an elastic half-space, and on it a layer whose springs do not spread load."""

    contact_modulus_kpa: float
    """E* = E/(1 − ν²)."""
    layer_kpa_mm: float = np.inf
    """Stiffness of the layer (panel and pad in series); infinite for none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfSpaceContact:
    """The pressed state on the grid."""

    pressure_kpa: FloatArray
    """(n_x, n_y) float, plane of the grid [kPa]."""
    displacement_mm: FloatArray
    """(n_x, n_y) float, plane of the grid [mm]: the surface gives way so far, layer included."""
    approach_mm: FloatArray
    """(n_x, n_y) float, plane of the grid [mm]: the body's rigid move towards the half-space."""
    load_n: float
    iterations: int
    residual: float
    """Largest violation of contact (gap under pressure, overlap without), over the displacement [1]."""


@dataclass(frozen=True, slots=True)
class Influence:
    """Pressure to displacement, by FFT on a grid of twice the size, so that the grid does not repeat."""

    grid: ContactGrid
    transform: NDArray[np.complex128]
    """(2 n_x, n_y + 1) complex, of the displacement under unit pressure in one cell [mm/kPa]."""
    layer_mm_per_kpa: float

    @classmethod
    def of(cls, grid: ContactGrid, substrate: Substrate) -> "Influence":
        """Return the influence of a grid's cells on each other."""
        # Distances with wrap-around: 0, 1, …, n − 1, n, −(n − 1), …, −1.
        i = fft.fftfreq(2 * grid.n_x, 1.0 / (2 * grid.n_x))
        j = fft.fftfreq(2 * grid.n_y, 1.0 / (2 * grid.n_y))
        x, y = np.meshgrid(i * grid.dx_mm, j * grid.dy_mm, indexing="ij")
        kernel = rectangle_displacement(x, y, grid.dx_mm, grid.dy_mm, substrate.contact_modulus_kpa)
        return cls(grid=grid, transform=fft.rfft2(kernel), layer_mm_per_kpa=1.0 / substrate.layer_kpa_mm)

    def displacement(self, pressure_kpa: FloatArray) -> FloatArray:
        """Return displacements (n_x, n_y) float, plane of the grid [mm], under pressures (n_x, n_y) [kPa]."""
        padded = (2 * self.grid.n_x, 2 * self.grid.n_y)
        spread = fft.irfft2(fft.rfft2(pressure_kpa, padded) * self.transform, padded)
        return spread[: self.grid.n_x, : self.grid.n_y] + self.layer_mm_per_kpa * pressure_kpa


def rectangle_displacement(
    x_mm: FloatArray, y_mm: FloatArray, dx_mm: float, dy_mm: float, contact_modulus_kpa: float
) -> FloatArray:
    """Return the normal displacement around a rectangle under unit pressure.

    Parameters
    ----------
    x_mm, y_mm : same shape float, plane of the grid [mm], from the rectangle's middle
    dx_mm, dy_mm : its sides
    contact_modulus_kpa : E*

    Returns
    -------
    float array of that shape, plane of the grid [mm/kPa]

    Notes
    -----
    `∬ dx dy / √(x² + y²)` has the antiderivative `x asinh(y/|x|) + y asinh(x/|y|)` (Johnson 1985, eq. 3.25).
    """

    def antiderivative(x: FloatArray, y: FloatArray) -> FloatArray:
        x_safe, y_safe = np.where(x == 0.0, 1.0, np.abs(x)), np.where(y == 0.0, 1.0, np.abs(y))
        return x * np.arcsinh(y / x_safe) + y * np.arcsinh(x / y_safe)

    east, west = x_mm + 0.5 * dx_mm, x_mm - 0.5 * dx_mm
    north, south = y_mm + 0.5 * dy_mm, y_mm - 0.5 * dy_mm
    area = (
        antiderivative(east, north)
        - antiderivative(west, north)
        - antiderivative(east, south)
        + antiderivative(west, south)
    )
    return area / (np.pi * contact_modulus_kpa)


def press_by(
    grid: ContactGrid,
    gap_mm: FloatArray,
    substrate: Substrate,
    approach_mm: float,
    *,
    tolerance: float = 1e-6,
    max_iterations: int = 2000,
) -> HalfSpaceContact | Undetermined:
    """Press a rigid body by a given approach.

    Parameters
    ----------
    grid : the cells
    gap_mm : (n_x, n_y) float, plane of the grid [mm]
        Gap before pressing; infinite where there is no body.
    substrate : what is pressed
    approach_mm : the body's move towards the half-space
    tolerance : largest violation of contact, over the largest displacement [1]
    max_iterations : after which it is given up
    """
    solver = _Solver(grid, gap_mm, substrate)
    return solver.run(None, approach_mm, tolerance, max_iterations)


def press_with(
    grid: ContactGrid,
    gap_mm: FloatArray,
    substrate: Substrate,
    load_n: float,
    *,
    centre_mm: tuple[float, float] | None = None,
    tolerance: float = 1e-6,
    max_iterations: int = 2000,
) -> HalfSpaceContact | Undetermined:
    """Press a rigid body with a given load.

    Parameters
    ----------
    grid : the cells
    gap_mm : (n_x, n_y) float, plane of the grid [mm]
        Gap before pressing, to any constant; infinite where there is no body.
    substrate : what is pressed
    load_n : the load
    centre_mm : where the load acts, from the grid's middle
        With it the body may tilt both ways until its moments balance; without it, it keeps level.
    tolerance : largest violation of contact, over the largest displacement [1]
    max_iterations : after which it is given up

    Raises
    ------
    ValueError
        When the load is not positive.
    """
    if not load_n > 0.0:
        msg = f"a load must be positive, got {load_n} N"
        raise ValueError(msg)
    solver = _Solver(grid, gap_mm, substrate)
    target = np.array([load_n / N_PER_KPA_MM2 / grid.cell_mm2])
    if centre_mm is not None:
        target = target * np.array([1.0, *(np.asarray(centre_mm) / solver.reach)])
    return solver.run(target, 0.0, tolerance, max_iterations)


class _Solver:
    """Conjugate gradients on the cells in contact; the set of contact changes as pressures reach zero."""

    def __init__(self, grid: ContactGrid, gap_mm: FloatArray, substrate: Substrate) -> None:
        if gap_mm.shape != grid.shape:
            msg = f"the gap has shape {gap_mm.shape}, the grid {grid.shape}"
            raise ValueError(msg)
        self.grid = grid
        self.body = np.isfinite(gap_mm)
        if not self.body.any():
            msg = "the gap is finite nowhere: there is no body"
            raise ValueError(msg)
        self.gap = np.where(self.body, gap_mm, 0.0)
        self.influence = Influence.of(grid, substrate)
        self.softest = 1.0 / float(self.influence.displacement(np.ones(grid.shape)).max())
        """A step that is surely small enough where nothing is in contact yet [kPa/mm]."""
        x, y = grid.centres()
        self.reach = np.array([grid.n_x * grid.dx_mm, grid.n_y * grid.dy_mm])
        self.rigid = np.stack([np.ones(grid.shape), x / self.reach[0], y / self.reach[1]])

    def run(
        self, target: FloatArray | None, approach: float, tolerance: float, max_iterations: int
    ) -> HalfSpaceContact | Undetermined:
        """Iterate from an even pressure; `target` (3,) float: load and moments, or None: approach held."""
        moves = self.rigid[: 0 if target is None else len(target)]
        pressure = self._start(target, approach, moves)
        search, before, keep = np.zeros(self.grid.shape), 1.0, False
        for iteration in range(max_iterations):
            displacement = self.influence.displacement(pressure)
            touching = pressure > 0.0
            rigid = _fitted(moves, displacement + self.gap - approach, touching)
            left = displacement + self.gap - approach - rigid
            violation = self._violation(left, touching, displacement)
            if violation < tolerance:
                return self._contact(pressure, displacement, rigid + approach, iteration, violation)
            size = float((left[touching] ** 2).sum())
            # Fletcher and Reeves, begun anew whenever a cell has come into contact.
            search = np.where(touching, left + (size / before if keep else 0.0) * search, 0.0)
            before = size
            answer = self.influence.displacement(search)
            answer = answer - _fitted(moves, answer, touching)
            curvature = float((answer[touching] * search[touching]).sum())
            step = float((left[touching] * search[touching]).sum()) / curvature if curvature > 0.0 else 0.0
            pressure = np.maximum(pressure - step * search, 0.0)
            overlapping = self.body & (pressure <= 0.0) & (left < 0.0)
            pressure[overlapping] -= (step or self.softest) * left[overlapping]
            keep = not overlapping.any()
            pressure = _carrying(target, moves, pressure)
        return Undetermined(f"the half-space model found no balance in {max_iterations} steps")

    def _start(self, target: FloatArray | None, approach: float, moves: FloatArray) -> FloatArray:
        if target is None:
            return np.where(self.body & (self.gap < approach), 1e-6, 0.0)
        even = np.where(self.body, float(target[0]) / self.body.sum(), 0.0)
        return _carrying(target, moves, even)

    def _violation(self, left: FloatArray, touching: NDArray[np.bool_], displacement: FloatArray) -> float:
        """Return the largest gap under pressure or overlap without, over the largest displacement."""
        overlap = max(0.0, float(-left[self.body].min()))
        if not touching.any():
            return overlap
        return max(overlap, float(np.abs(left[touching]).max())) / float(displacement.max())

    def _contact(
        self,
        pressure: FloatArray,
        displacement: FloatArray,
        approach: FloatArray,
        iterations: int,
        residual: float,
    ) -> HalfSpaceContact:
        return HalfSpaceContact(
            pressure_kpa=read_only(pressure),
            displacement_mm=read_only(displacement),
            approach_mm=read_only(approach),
            load_n=float(pressure.sum()) * self.grid.cell_mm2 * N_PER_KPA_MM2,
            iterations=iterations,
            residual=residual,
        )


def _fitted(moves: FloatArray, field: FloatArray, touching: NDArray[np.bool_]) -> FloatArray:
    """Return the rigid move that fits a field best over the cells in contact."""
    if len(moves) == 0 or not touching.any():
        return np.zeros_like(field)
    # Sums, not matrix products: a threaded library's start costs more than these.
    weighted = moves * touching
    matrix = np.einsum("aij,bij->ab", weighted, moves)
    solution = np.linalg.lstsq(matrix, np.einsum("aij,ij->a", weighted, field), rcond=None)[0]
    return np.einsum("a,aij->ij", solution, moves)


def _carrying(target: FloatArray | None, moves: FloatArray, pressure: FloatArray) -> FloatArray:
    """Return the pressure, changed in proportion to itself, that carries load and moments."""
    if target is None:
        return pressure
    for _ in range(20):
        held = moves * pressure
        sums = held.sum(axis=(1, 2))
        if np.abs(sums - target).max() <= 1e-13 * float(target[0]):
            break
        matrix = np.einsum("aij,bij->ab", held, moves)
        factor = np.linalg.lstsq(matrix, target, rcond=None)[0]
        pressure = np.maximum(pressure * np.einsum("a,aij->ij", factor, moves), 0.0)
    return pressure
