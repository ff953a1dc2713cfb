"""Compression laws of tissue, fill and pads: `p = kδ(1 + (δ/δ₀)²)`, with sources and spread."""

from dataclasses import dataclass
from math import inf


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
