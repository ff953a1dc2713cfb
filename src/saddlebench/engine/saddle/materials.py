"""Compression laws of tissue, fill and pads: `p = kδ(1 + (δ/δ₀)²)`, with sources and spread.

No stiffness of a living horse's back, of wool flock or of a saddle pad has been published as far as is known:
every row says what it rests on, and its spread is wide on purpose.
"""

from dataclasses import dataclass
from math import inf

TISSUE_KPA_MM = 1.2
TISSUE_LN_SD = 0.45
REGIONAL_LN_SD = 0.2
"""Spread of one region's stiffness about the whole back's (assumption)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A layer that is pressed: its stiffness, how it hardens, and how little is known of it."""

    name: str
    stiffness_kpa_mm: float
    hardening_mm: float = inf
    """δ₀: compression at which the tangent has hardened fourfold; infinite for a linear law."""
    ln_sd: float = 0.0
    """Standard deviation of the stiffness's logarithm."""
    source: str
    """Citation, "common practice" or "assumption"."""


WOOL = Material(
    name="wool flock",
    stiffness_kpa_mm=1.2,
    ln_sd=0.40,
    source="assumption: no published modulus of wool flock is known",
)
FOAM = Material(
    name="foam panel",
    stiffness_kpa_mm=1.5,
    ln_sd=0.40,
    source=(
        "assumption: firmer than wool, as rear pressures are 7–12 % higher on foam "
        "(Byström et al. 2010, Equine Vet J Suppl 38, abstract)"
    ),
)
