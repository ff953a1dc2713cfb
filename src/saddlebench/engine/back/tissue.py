"""What lies under the skin, by region: the regions only; their stiffness is a material."""

from enum import IntEnum


class Tissue(IntEnum):
    """Regions of the back that bear differently (common practice; no published stiffness per region)."""

    BONY_WITHERS = 0
    CARTILAGE = 1
    """Over the shoulder blade's upper edge."""
    MUSCLE = 2
    """The long back muscle beside the spine."""
    OVER_RIBS = 3
    """Thin muscle over ribs, behind and outside."""
