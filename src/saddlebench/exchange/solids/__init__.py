"""Solids of a back: whole or sliced to a bed, hollowed, with dowel holes, marks engraved; 3MF, STL, GLB."""

from saddlebench.exchange.solids.files import as_3mf, as_glb, as_stl, solid_name
from saddlebench.exchange.solids.make import (
    SolidChoices,
    SolidPiece,
    SolidReplica,
    cut_planes,
    solid_replica,
)

__all__ = [
    "SolidChoices",
    "SolidPiece",
    "SolidReplica",
    "as_3mf",
    "as_glb",
    "as_stl",
    "cut_planes",
    "solid_name",
    "solid_replica",
]
