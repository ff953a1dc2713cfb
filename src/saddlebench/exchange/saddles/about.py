"""What every saddle file has: names, its unit of length, pads, what may be altered, a measured underside."""

from typing import Annotated, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from saddlebench.engine.saddle.alterable import (
    Alterable,
    ArchRange,
    FillRange,
    NotAlterable,
    PadChoice,
    usual_alterations,
)
from saddlebench.engine.saddle.materials import PADS
from saddlebench.engine.saddle.model import PadCut, PadLayer
from saddlebench.engine.saddle.numbers import SaddleNumbers
from saddlebench.engine.saddle.pads import pad_layer
from saddlebench.engine.saddle.record import UndersideMesh
from saddlebench.engine.saddle.sections import UndersideSection
from saddlebench.engine.saddle.zones import ByZone
from saddlebench.engine.units import Length
from saddlebench.exchange.saddles.quantities import Door, Mm, ZonesMm
from saddlebench.exchange.saddles.tables import MaterialTable, Name, Words


class PadTable(Door):
    """One layer between saddle and back."""

    made_of: Literal["felt", "fleece", "gel", "foam", "cotton"] | MaterialTable
    name: Name | None = None
    thickness_mm: ZonesMm | Mm
    cut: PadCut = PadCut.FREE

    @model_validator(mode="after")
    def _is_a_layer(self) -> Self:
        thickness = self.by_zone
        if min(thickness) < 0.0 or max(thickness) > 80.0 or not max(thickness) > 0.0:
            msg = "must be between 0 and 80 mm thick, and somewhere above 0"
            raise ValueError(msg)
        return self

    @property
    def by_zone(self) -> ByZone:
        """Thickness by zone [mm]."""
        even = self.thickness_mm
        front, waist, seat, rear = even.values if isinstance(even, ZonesMm) else (even,) * 4
        return front, waist, seat, rear

    def layer(self) -> PadLayer:
        """Return the layer as the engine takes it."""
        thickness = self.by_zone
        if isinstance(self.made_of, MaterialTable):
            material = self.made_of.material()
            return PadLayer(
                name=self.name or material.name, thickness_mm=thickness, material=material, cut=self.cut
            )
        return pad_layer(PADS[self.made_of], thickness, cut=self.cut, name=self.name or "")


class FillRangeTable(Door):
    """How much may be added to and taken from one panel, by zone."""

    add_mm: ZonesMm
    take_mm: ZonesMm


class ArchRangeTable(Door):
    """How far the front arch may be set at the point ends."""

    narrower_mm: Mm
    wider_mm: Mm
    step_mm: Mm | None = None
    how: Name


class AlterableTable(Door):
    """What may be altered; what is left out stands at common practice for the family and fill."""

    arch: (
        Literal["bent steel", "exchangeable", "moulded", "cracked or riveted", "not known"] | ArchRangeTable
    ) = "not known"
    fill_near: FillRangeTable | None = None
    fill_off: FillRangeTable | None = None
    thickest_pad_mm: Mm | None = None
    nothing_because: Name | None = None
    """Set when nothing may be altered at all, and why."""

    def alterable(self, numbers: SaddleNumbers) -> Alterable:
        """Return what may be altered on this saddle."""
        if self.nothing_because is not None:
            why = NotAlterable(reason=self.nothing_because)
            return Alterable(fill_left=why, fill_right=why, arch=why, shims=why, straps=why, pad=why)
        usual = usual_alterations(numbers, self.arch if isinstance(self.arch, str) else "not known")
        return Alterable(
            fill_left=_fill(self.fill_near, usual.fill_left),
            fill_right=_fill(self.fill_off, usual.fill_right),
            arch=ArchRange(**self.arch.given(), source="the saddle's own record")
            if isinstance(self.arch, ArchRangeTable)
            else usual.arch,
            shims=usual.shims,
            straps=usual.straps,
            pad=usual.pad if self.thickest_pad_mm is None else PadChoice(thickest_mm=self.thickest_pad_mm),
        )


def _fill(table: FillRangeTable | None, usual: FillRange | NotAlterable) -> FillRange | NotAlterable:
    if table is None or isinstance(usual, NotAlterable):
        return usual
    return FillRange(**table.given(), halves_apart=usual.halves_apart, source="the saddle's own record")


class SectionTable(Door):
    """One section across the underside: points (y, z) of each side."""

    behind_mm: Mm
    near: Annotated[tuple[tuple[Mm, Mm], ...], Field(max_length=2000)]
    off: Annotated[tuple[tuple[Mm, Mm], ...], Field(max_length=2000)]

    def section(self) -> UndersideSection:
        """Return the section as the engine takes it."""
        return UndersideSection(
            behind_mm=self.behind_mm,
            left=np.array(self.near, float).reshape(-1, 2),
            right=np.array(self.off, float).reshape(-1, 2),
        )


class MeshTable(Door):
    """A mesh of the underside alone, in its own stated unit."""

    unit: Length
    vertices: Annotated[tuple[tuple[float, float, float], ...], Field(min_length=3)]
    faces: Annotated[tuple[tuple[int, int, int], ...], Field(min_length=1)]

    def mesh(self) -> UndersideMesh:
        """Return the mesh as the engine takes it."""
        return UndersideMesh(
            vertices_saddle=np.array(self.vertices, float), faces=np.array(self.faces, int), unit=self.unit
        )


class UndersideTable(Door):
    """A measured underside: sections here, sections in a table beside this file, or a mesh."""

    sections: Annotated[tuple[SectionTable, ...], Field(max_length=200)] | None = None
    sections_file: Name | None = None
    mesh: MeshTable | None = None


class AboutTables(Door):
    """What every saddle file has."""

    label: Name
    lengths_in: Length
    """The unit of every length that is written without its own."""
    serial: Annotated[str, Field(max_length=200)] = ""
    notes: Words = ""
    pads: Annotated[tuple[PadTable, ...], Field(max_length=10)] = ()
    alterable: AlterableTable = AlterableTable()
    underside: UndersideTable | None = None
