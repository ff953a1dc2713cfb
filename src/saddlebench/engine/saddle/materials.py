"""Compression laws of tissue, fill and pads: `p = kδ(1 + (δ/δ₀)²)`, with sources and spread.

No stiffness of a living horse's back, of wool flock or of a saddle pad has been published as far as is known:
every row says what it rests on, and its spread is wide on purpose. A material of unit pressure and given
modulus E in a layer of thickness h has `k = E/h` where it is free to bulge.
"""

from dataclasses import dataclass
from math import inf, pi

STANDARD_GRAVITY_M_S2 = 9.80665
"""CGPM 1901."""
DISC_DIAMETER_MM = 50.0
DISC_MASS_KG = 5.0
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


@dataclass(frozen=True, slots=True, kw_only=True)
class PadStuff:
    """What a pad is made of; its stiffness follows from its thickness."""

    name: str
    modulus_kpa: float
    hardening_strain: float = inf
    ln_sd: float = 0.6
    source: str

    def layer(self, thickness_mm: float) -> Material:
        """Return the material of a layer of this thickness: `k = E/h`, `δ₀ = strain · h`."""
        return Material(
            name=self.name,
            stiffness_kpa_mm=self.modulus_kpa / thickness_mm,
            hardening_mm=self.hardening_strain * thickness_mm,
            ln_sd=self.ln_sd,
            source=self.source,
        )


_NO_HORSE = (
    "assumption: no stiffness of a horse's back is published; within E/h of relaxed muscle, "
    "20–100 kPa over 30–60 mm (range from memory)"
)


def _tissue(name: str, stiffness_kpa_mm: float) -> Material:
    return Material(name=name, stiffness_kpa_mm=stiffness_kpa_mm, ln_sd=0.45, source=_NO_HORSE)


TISSUE = _tissue("back, any region", 1.2)
TISSUE_BY_REGION = (
    _tissue("bony withers", 1.8),
    _tissue("cartilage of the shoulder blade", 1.5),
    _tissue("long back muscle", 1.2),
    _tissue("thin muscle over ribs", 1.5),
)
"""In the order of the regions of a back. That bone under thin tissue is stiffer is common sense; by how much
is an assumption."""

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
        "assumption: firmer than wool, as stride maxima at the rear are 7–12 % higher on foam "
        "(Byström et al. 2010, Equine Vet J Suppl 38, doi 10.1111/j.2042-3306.2010.00173.x, abstract)"
    ),
)
AIR = Material(
    name="air bag",
    stiffness_kpa_mm=1.0,
    ln_sd=0.50,
    source="assumption: set with the rider up; one spring per point leaves out that air flows sideways",
)
FELT_PANEL = Material(
    name="felt panel",
    stiffness_kpa_mm=8.0,
    ln_sd=0.60,
    source="assumption: felt of 0.1–1 MPa (range from memory) in a 30 mm layer",
)
BAR_LINING = Material(
    name="bar with fleece lining",
    stiffness_kpa_mm=3.0,
    hardening_mm=8.0,
    ln_sd=0.60,
    source="assumption: some 12 mm of fleece and leather on a hard bar",
)
FILLS = {"wool": WOOL, "foam": FOAM, "air": AIR, "felt": FELT_PANEL}
"""What panels are filled with, by the name a record uses."""

FELT_PAD = PadStuff(
    name="wool felt pad", modulus_kpa=300.0, source="assumption: 0.1–1 MPa at 10 % strain (from memory)"
)
FLEECE_PAD = PadStuff(
    name="wool or sheepskin pad",
    modulus_kpa=25.0,
    hardening_strain=0.5,
    source="assumption: pile goes flat by about half under a saddle (common practice)",
)
GEL_PAD = PadStuff(
    name="gel pad", modulus_kpa=100.0, source="assumption: a soft solid that is confined by its cover"
)
FOAM_PAD = PadStuff(
    name="foam pad",
    modulus_kpa=25.0,
    hardening_strain=0.6,
    source=(
        "computed: seat foam of 45 lbf at 25 % indentation under a 323 cm² plate (ASTM D3574) is 6.2 kPa at "
        "25 % strain, E = 25 kPa; plate edge left out"
    ),
)
NUMNAH = PadStuff(name="thin quilted cotton", modulus_kpa=60.0, source="assumption: 5–8 mm of quilted cotton")
PADS = {"felt": FELT_PAD, "fleece": FLEECE_PAD, "gel": GEL_PAD, "foam": FOAM_PAD, "cotton": NUMNAH}
"""What pads are made of, by the name a record uses."""


def disc_pressure_kpa(mass_kg: float = DISC_MASS_KG, diameter_mm: float = DISC_DIAMETER_MM) -> float:
    """Return the mean pressure under a loaded disc: `mg / (πd²/4)`; 5 kg on 50 mm is 25.0 kPa."""
    return 1e3 * mass_kg * STANDARD_GRAVITY_M_S2 / (0.25 * pi * diameter_mm**2)


def stiffness_from_dip(dip_mm: float, mass_kg: float = DISC_MASS_KG) -> float:
    """Return the secant stiffness [kPa/mm] of a panel that a loaded 50 mm disc dips into.

    The panel lies on its tree; what the disc's edge adds is left out, so the value is an upper bound.

    Raises
    ------
    ValueError
        If the dip is not above zero.
    """
    if not dip_mm > 0.0:
        msg = f"a dip must be above 0 mm, got {dip_mm}"
        raise ValueError(msg)
    return disc_pressure_kpa(mass_kg) / dip_mm
