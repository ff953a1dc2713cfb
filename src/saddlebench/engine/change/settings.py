"""What a change study may be told, and what it assumes where it is not."""

from dataclasses import dataclass, field

from saddlebench.engine.change.posture import Posture


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangePart:
    """One way in which backs change."""

    sd_mm: float
    length_s_mm: float
    """Over which a change goes together along the back."""
    length_phi: float
    """And across, in stretched angle as the back's own [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeBelief:
    """How backs change: for laying records together, for the map's weights and for intervals of the change.

    The tests' own size never hangs on it. Assumptions: work, rest and ill-fitting tack move flesh by some
    millimetres over a hand's breadth; condition and growth move the whole back.
    """

    parts: tuple[ChangePart, ...] = (
        ChangePart(sd_mm=5.0, length_s_mm=110.0, length_phi=0.45),
        ChangePart(sd_mm=5.0, length_s_mm=350.0, length_phi=1.4),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeSettings:
    """How a study is made."""

    level: float = 0.05
    """How often an unchanged back may show a patch, by the scan; and, apart from that, by the map."""
    posture: Posture = field(default_factory=Posture)
    belief: ChangeBelief = field(default_factory=ChangeBelief)
    same_device: bool = True
    """Whether records of one instrument were made with the same piece: its standing errors then cancel."""
    same_horse: bool = False
    """Whether records under different names are of one horse all the same."""
    heave_sd_mm: float = 3.0
    """Of the skin over the spine at the shoulder mark, from which heights count, beyond its reading."""
    sideways_sd_mm: float = 1.5
    yaw_sd_deg: float = 0.3
    """Of the midline as it was found on one day."""
    disc_diameters_mm: tuple[float, ...] = (60.0, 100.0, 150.0)
    disc_spacing_mm: float = 30.0
    simulations: int = 2000
    """Of an unchanged pair, for thresholds."""
    draws: int = 256
    """Of the change, for intervals of widths, heights, angles."""
    most_patches: int = 6
    most_readings: int = 360
    """More readings of one record than this are averaged in cells."""
    seed: int = 0


USUAL_SETTINGS = ChangeSettings()
