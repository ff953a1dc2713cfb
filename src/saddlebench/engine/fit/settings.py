"""What settling takes as given besides back and saddle: materials, where it is put, when it is done."""

from dataclasses import dataclass, field
from math import pi

from saddlebench.engine.back.tissue import Tissue
from saddlebench.engine.saddle.materials import REGIONAL_LN_SD, TISSUE_BY_REGION, Material

_NO_HORSE = "assumption: no horse-specific value is published"


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """Friction and shear between panel, pad, coat and skin: regularised Coulomb."""

    coefficient: float = 0.35
    """μ, between 0.25 and 0.5."""
    coefficient_ln_sd: float = 0.2
    shear_kpa_mm: float = 0.3
    """Shear stiffness of tissue and panel together before it slips [kPa/mm]."""
    shear_ln_sd: float = 0.5
    source: str = _NO_HORSE


@dataclass(frozen=True, slots=True, kw_only=True)
class GirthElastic:
    """The girth: done up to a tension, elastic from then on, never multiplied by the gait."""

    tension_n: float = 120.0
    """Tension with the saddle girthed and nobody up [N]."""
    tension_sd_n: float = 30.0
    stiffness_n_mm: float = 3.0
    """Of the whole girth, both straps and both sides [N/mm]."""
    stiffness_ln_sd: float = 0.7
    half_length_mm: float = 650.0
    """From strap anchor to breastbone along one side; sets how far the pull leans to the girth groove."""
    source: str = (
        "tension within 59–177 N as set in Wright (2010) Comp Exerc Physiol 7:141–148; stiffness and length: "
        "assumptions"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FitMaterials:
    """What yields under the saddle apart from its own panel and pads."""

    tissue: tuple[Material, Material, Material, Material] = TISSUE_BY_REGION
    """In the order of `Tissue`."""
    tissue_regional_ln_sd: float = REGIONAL_LN_SD
    """How much regions differ from each other beyond their common spread."""
    grip: Grip = field(default_factory=Grip)
    girth: GirthElastic = field(default_factory=GirthElastic)

    def of(self, region: Tissue) -> Material:
        """Return the material of a region."""
        return self.tissue[region]


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """One draw of what is little known, as factors on the stated values; the nominal draw is all ones."""

    tissue: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)
    panel: float = 1.0
    pads: tuple[float, ...] = ()
    """One for each pad, from the saddle down; missing ones are 1."""
    friction: float = 1.0
    shear: float = 1.0
    girth_stiffness: float = 1.0
    girth_tension: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Where the saddle is put before it is girthed; held while it finds its height, pitch and roll."""

    origin_s_mm: float
    """Distance of the panels' front edge behind the shoulder mark [mm]."""
    sideways_mm: float = 0.0
    yaw: float = 0.0
    """Turned about the vertical, positive to the left [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettleSettings:
    """When a step counts as done, and when a saddle counts as gone."""

    placing: Placing | None = None
    """None: where it is usually put (see `place.usual_place`)."""
    force_tolerance: float = 1e-6
    """Unbalanced force over the load."""
    box_mm: float = 60.0
    """How far a saddle may slide along or across; sinking in does not count."""
    box_angle: float = 12.0 * pi / 180.0
    unmeasured_share: float = 0.005
    """Share of the load on surface that was not measured beyond which nothing is judged."""
    continuation_mm: float = 60.0
    """How far the surface is continued beyond its grid, for iterations only."""
    groove_reach_mm: float = 10.0
    """Straps nearer than this to the girth groove hang in it: the saddle works nowhere else."""
    coarse_points: int = 250
    """Points of the first, quick pass that finds where to start; 0 leaves it out."""
    both_positions: bool = True
    """Whether to solve where the saddle works to as well as where it is put."""
