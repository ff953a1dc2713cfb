"""The tables of a saddle file that several families share."""

from typing import Annotated, Any, Literal

from pydantic import Field

from saddlebench.engine.saddle.bearing import THICKNESS_MM, Footprint
from saddlebench.engine.saddle.fittings import (
    Fittings,
    MassNumbers,
    SeatNumbers,
    StirrupNumbers,
    StrapNumbers,
)
from saddlebench.engine.saddle.materials import FILLS, Material, stiffness_from_dip
from saddlebench.engine.saddle.panels import PanelNumbers, TreeNumbers
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.saddles.quantities import (
    Degrees,
    Door,
    Inches,
    Kilograms,
    Mm,
    Plain,
    Several,
    ThreeMm,
    WaistRearDegrees,
    WaistRearMm,
    ZonesMm,
    ZonesPlain,
)

Name = Annotated[str, Field(min_length=1, max_length=200)]
Words = Annotated[str, Field(max_length=10_000)]
Dip = Annotated[Mm, Field(ge=0.2, le=60.0)]
FillName = Literal["wool", "foam", "air", "felt"]


class MaterialTable(Door):
    """A material by its own numbers."""

    name: Name
    stiffness_kpa_mm: Annotated[float, Field(gt=0.0, le=1000.0, alias="stiffness_kpa_per_mm")]
    hardening_mm: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None, alias="hardening_mm"
    )
    ln_sd: Annotated[float, Field(ge=0.0, le=3.0)] = 0.0
    source: Words

    def material(self) -> Material:
        """Return the material."""
        return Material(**self.given())


class DipsMm(Several):
    """Dips by zone."""

    front: Dip
    waist: Dip
    seat: Dip
    rear: Dip


class FootprintTable(Door):
    """The part of the panels that lies under the tree."""

    front_behind_mm: Mm | None = None
    rear_before_mm: Mm | None = None
    outer_margin_mm: Mm | None = None
    beyond: Plain | None = None


class TreeTable(Door):
    """The front arch and the tree's footprint."""

    width_mm: Mm
    depth_mm: Mm
    angle_deg: Degrees
    rise_mm: Mm
    point_mm: Mm | None = None
    hoop: Plain | None = None
    behind_mm: Mm | None = None
    cover_mm: Mm | None = None
    footprint: FootprintTable = FootprintTable()

    def numbers(self) -> TreeNumbers:
        """Return the tree as the engine takes it."""
        return TreeNumbers(**self.given(), footprint=Footprint(**self.footprint.given()))


class PanelTable(Door):
    """The underside of the panels."""

    length_mm: Mm | None = None
    channel_mm: ThreeMm | None = None
    channel_depth_mm: WaistRearMm | None = None
    width_mm: ThreeMm | None = None
    angle_deg: WaistRearDegrees | None = None
    front_flatter_deg: Degrees | None = None
    rear_rise_mm: Mm | None = None
    tail_sweep_mm: Mm | None = None
    rounding_mm: Mm | None = None
    front_corner_mm: Mm | None = None
    rear_corner_mm: Mm | None = None
    fill: FillName | MaterialTable | None = None
    firmness: ZonesPlain | None = None
    disc_dip: DipsMm | None = None
    """How far a 50 mm disc with 5 kg dips in, by zone; states the firmness in another way."""
    thickness_mm: ZonesMm | None = None
    gusset_mm: Mm | None = None

    def numbers(self) -> PanelNumbers:
        """Return the panel as the engine takes it."""
        held = self.given()
        dips = held.pop("disc_dip", None)
        if isinstance(self.fill, MaterialTable):
            held["fill"] = self.fill.material()
        elif self.fill is not None:
            held["fill"] = FILLS[self.fill]
        panel = PanelNumbers(**held)
        if dips is None:
            return panel
        # The dip is taken on the panel as it is: its thickness is in it already.
        measured = [
            stiffness_from_dip(dip) / panel.fill.stiffness_kpa_mm * thickness / THICKNESS_MM
            for dip, thickness in zip(dips, panel.thickness_mm, strict=True)
        ]
        return PanelNumbers(**{**held, "firmness": tuple(measured)})


class FillingTable(Door):
    """Fill added (or taken, below zero), by zone and half of the width."""

    inner_mm: ZonesMm | None = None
    outer_mm: ZonesMm | None = None

    def numbers(self) -> Filling:
        """Return the filling as the engine takes it."""
        return Filling(**self.given())


class SeatTable(Door):
    """The seat along the midline."""

    size_in: Inches | None = None
    lowest_behind_mm: Mm | None = None
    above_roof_mm: Mm | None = None
    front_behind_mm: Mm | None = None
    rear_behind_mm: Mm | None = None
    pommel_rise_mm: Mm | None = None
    cantle_rise_mm: Mm | None = None


class StirrupTable(Door):
    """Stirrup bars or slots."""

    behind_mm: Mm | None = None
    apart_mm: Mm | None = None
    above_roof_mm: Mm | None = None
    off_further_back_mm: Mm | None = None
    off_higher_mm: Mm | None = None
    off_further_out_mm: Mm | None = None


class StrapTable(Door):
    """One pair of girth straps."""

    name: Name
    behind_mm: Mm
    apart_mm: Mm | None = None
    above_roof_mm: Mm | None = None

    def numbers(self) -> StrapNumbers:
        """Return the pair as the engine takes it."""
        return StrapNumbers(**self.given())


class MassTable(Door):
    """Mass and its centre."""

    mass_kg: Kilograms | None = None
    behind_mm: Mm | None = None
    above_roof_mm: Mm | None = None


class FittedTables(Door):
    """What is fixed to the tree, whatever the family."""

    seat: SeatTable = SeatTable()
    stirrups: StirrupTable = StirrupTable()
    straps: Annotated[tuple[StrapTable, ...], Field(max_length=8)] | None = None
    mass: MassTable = MassTable()

    def fittings(self, usual: Fittings) -> Fittings:
        """Return the fittings, with the family's usual ones where the file is silent."""
        return Fittings(
            seat=SeatNumbers(**{**_held(usual.seat), **self.seat.given()}),
            stirrups=StirrupNumbers(**{**_held(usual.stirrups), **self.stirrups.given()}),
            straps=usual.straps if self.straps is None else tuple(s.numbers() for s in self.straps),
            mass=MassNumbers(**{**_held(usual.mass), **self.mass.given()}),
        )


def _held(numbers: SeatNumbers | StirrupNumbers | MassNumbers) -> dict[str, Any]:
    return {name: getattr(numbers, name) for name in type(numbers).__slots__}
