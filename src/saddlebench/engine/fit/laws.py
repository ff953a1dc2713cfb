"""Compression of tissue, pads and panel in series at equal pressure: the potential, pressure and slope."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Self

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.fit._kernels.laws import tabulate
from saddlebench.engine.fit._kernels.parts import Laws
from saddlebench.engine.fit.settings import Factors, FitMaterials
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.materials import Material

TABLE_INTERVALS = 40
TABLE_END_KPA = 120.0
"""Beyond this a hardening law goes on with its last slope; no saddle bears harder over an area."""
N_TISSUES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Layers in series, one stack in each row; a linear layer has an infinite δ₀."""

    stiffness_kpa_mm: FloatArray
    """(m, l) float [kPa/mm]."""
    hardening_mm: FloatArray
    """(m, l) float, δ₀ [mm]."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "stiffness_kpa_mm", read_only(self.stiffness_kpa_mm))
        object.__setattr__(self, "hardening_mm", read_only(self.hardening_mm))

    @classmethod
    def of(cls, *materials: Material) -> Self:
        """Return one stack of whole layers."""
        return cls(
            stiffness_kpa_mm=np.array([[one.stiffness_kpa_mm for one in materials]]),
            hardening_mm=np.array([[one.hardening_mm for one in materials]]),
        )

    def over_tissues(self, materials: FitMaterials, factors: Factors) -> "Layers":
        """Return every stack over every tissue, row `4·stack + tissue`, with a draw's factors put in.

        The first column of a stack is the panel, the others are pads from the saddle down.
        """
        m, n_layers = self.stiffness_kpa_mm.shape
        pads = (*factors.pads, *([1.0] * n_layers))[: n_layers - 1]
        stiffness = np.zeros((m, N_TISSUES, n_layers + 1))
        hardening = np.zeros_like(stiffness)
        stiffness[:, :, :n_layers] = (self.stiffness_kpa_mm * np.array([factors.panel, *pads]))[:, None, :]
        hardening[:, :, :n_layers] = self.hardening_mm[:, None, :]
        stiffness[:, :, n_layers] = [
            one.stiffness_kpa_mm * factor
            for one, factor in zip(materials.tissue, factors.tissue, strict=True)
        ]
        hardening[:, :, n_layers] = [one.hardening_mm for one in materials.tissue]
        return Layers(
            stiffness_kpa_mm=stiffness.reshape(-1, n_layers + 1),
            hardening_mm=hardening.reshape(-1, n_layers + 1),
        )


def tabulated(layers: Layers, used: NDArray[np.int64] | None = None) -> Laws:
    """Return the laws of the stacks: exact where all layers are linear, else p as C¹ cubics of δ.

    Of hardening stacks only those `used` (rows, any number of times) are tabulated, all if not given.

    ψ is the cubics' exact integral, so energy, pressure and slope agree to rounding. The nodes are found by
    Newton on Σ δ_j(p) = δ; one layer's δ_j(p) is the real root of δ³ + δ₀²δ − pδ₀²/k = 0.
    """
    m = layers.stiffness_kpa_mm.shape[0]
    is_linear = bool(np.all(np.isinf(layers.hardening_mm)))
    end = np.zeros((m, 4))
    if is_linear:
        table = np.zeros((1, 1, 5))
        end[:, 3] = 1.0 / np.sum(1.0 / layers.stiffness_kpa_mm, axis=1)
    else:
        table = np.zeros((m, TABLE_INTERVALS, 5))
        hardening = np.where(layers.hardening_mm == inf, 1e12, layers.hardening_mm)
        wanted = np.full(m, used is None)
        if used is not None:
            wanted[used] = True
        tabulate(layers.stiffness_kpa_mm, hardening, wanted, TABLE_END_KPA, end, table)
    return Laws(end=end, table=table)


def panel_stacks(
    firmness: FloatArray, zone: NDArray[np.int8], panel: Material, pads: Sequence[Layers]
) -> tuple[Layers, NDArray[np.int64]]:
    """Return the distinct stacks of panel and pads, and which of them each point has.

    Firmness is kept exactly where all is linear, else to ± 2 %, so that tables stay few.

    Parameters
    ----------
    firmness : (n,) float, saddle frame [1], panel's stiffness over its material's
    zone : (n,) `Zone`
    panel : the panel's fill
    pads : from the saddle down, each (4, 1): its layer in each zone

    Returns
    -------
    Layers
        (m, 1 + number of pads).
    stack : (n,) int
    """
    hardening = np.array([panel.hardening_mm, *(value for pad in pads for value in pad.hardening_mm.ravel())])
    step = 1e-9 if np.all(np.isinf(hardening)) else 0.04
    key = 8.0 * np.round(np.log(firmness) / step) + (zone if pads else 0.0)
    _, first, stack = np.unique(key, return_index=True, return_inverse=True)
    zones = zone[first]
    own = np.full(first.size, panel.hardening_mm)
    layers = Layers(
        stiffness_kpa_mm=np.column_stack(
            [panel.stiffness_kpa_mm * firmness[first], *(pad.stiffness_kpa_mm[zones] for pad in pads)]
        ),
        hardening_mm=np.column_stack([own, *(pad.hardening_mm[zones] for pad in pads)]),
    )
    return layers, np.asarray(stack, dtype=np.int64).ravel()
