"""Numbers that say which horse it is."""

from saddlebench.practice.identity.microchip import Microchip, read_microchip
from saddlebench.practice.identity.ueln import Ueln, compose_ueln, read_ueln

__all__ = ["Microchip", "Ueln", "compose_ueln", "read_microchip", "read_ueln"]
