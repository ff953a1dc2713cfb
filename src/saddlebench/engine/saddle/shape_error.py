"""How well a saddle's shape is known: the sizes of a few ways in which a measured saddle may be wrong."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleError:
    """Standard deviations of what is measured of a saddle (assumptions: tape and angle gauge)."""

    arch_width_mm: float = 3.0
    """Between the point ends."""
    front_height_mm: float = 1.5
    """Of the panels under the points, against the seat."""
    rear_height_mm: float = 2.0
    rocker_mm: float = 1.5
    """Of the panels' middle, against front and rear."""
    face_angle: float = 0.026
    """Of both panels' faces across (1.5°) [rad]."""
    twist_mm: float = 1.5
    """Near rear higher by half of it, off rear lower."""
    channel_mm: float = 3.0
    """Full width."""
    roof_mm: float = 2.0
    """Height of arch top and channel roof above the panels."""
