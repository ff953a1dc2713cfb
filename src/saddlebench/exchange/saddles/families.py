"""One document per family of saddle, each with its own tables."""

from typing import Annotated, Literal

from pydantic import Field

from saddlebench.engine.saddle.bars import BarNumbers, BarsNumbers, ForkNumbers, OffBar
from saddlebench.engine.saddle.bearing import Footprint
from saddlebench.engine.saddle.cut_back import CutBackNumbers, CutNumbers
from saddlebench.engine.saddle.fittings import Fittings, SeatNumbers
from saddlebench.engine.saddle.numbers import SaddleNumbers
from saddlebench.engine.saddle.panelled import OffSide, PanelledNumbers
from saddlebench.engine.saddle.panels import Lump
from saddlebench.engine.saddle.side_saddle import BalanceStrap, SideNumbers, SideSaddleNumbers
from saddlebench.engine.saddle.unmodelled import FlexibleTreeNumbers, Insert, TreelessNumbers
from saddlebench.exchange.saddles.about import AboutTables
from saddlebench.exchange.saddles.quantities import (
    BarDegrees,
    BarMm,
    Degrees,
    Door,
    EndsMm,
    Kilograms,
    Mm,
    Plain,
    WaistRearMm,
)
from saddlebench.exchange.saddles.tables import (
    FillingTable,
    FittedTables,
    FootprintTable,
    MaterialTable,
    Name,
    PanelTable,
    SeatTable,
    StrapTable,
    TreeTable,
    Words,
)


class OffSideTable(Door):
    """By how much the off side differs from the near side: off minus near."""

    point_out_mm: Mm | None = None
    point_angle_deg: Degrees | None = None
    panel_width_mm: Mm | None = None
    panel_angle_deg: Degrees | None = None
    panel_drop_mm: Mm | None = None


class LumpTable(Door):
    """A local rise (or dent, below zero) of one panel."""

    side: Literal["near", "off"]
    behind_mm: Mm
    across: Annotated[Plain, Field(ge=0.0, le=1.0)]
    height_mm: Annotated[Mm, Field(ge=-30.0, le=30.0)]
    radius_mm: Annotated[Mm, Field(ge=5.0, le=200.0)] | None = None

    def numbers(self) -> Lump:
        """Return the lump as the engine takes it."""
        held = self.given()
        return Lump(on_left=held.pop("side") == "near", **held)


class FillingTables(Door):
    """Fill of both sides."""

    near: FillingTable = FillingTable()
    off: FillingTable = FillingTable()


class PanelledTables(AboutTables, FittedTables):
    """A saddle with panels, by its numbers."""

    tree: TreeTable
    panel: PanelTable = PanelTable()
    off_side: OffSideTable = OffSideTable()
    filling: FillingTables = FillingTables()
    lumps: Annotated[tuple[LumpTable, ...], Field(max_length=50)] = ()

    def panelled(self) -> PanelledNumbers:
        """Return the numbers of the panelled saddle."""
        return PanelledNumbers(
            label=self.label,
            tree=self.tree.numbers(),
            panel=self.panel.numbers(),
            fittings=self.fittings(Fittings()),
            off_side=OffSide(**self.off_side.given()),
            filling_left=self.filling.near.numbers(),
            filling_right=self.filling.off.numbers(),
            lumps=tuple(lump.numbers() for lump in self.lumps),
        )


class PanelledDocument(PanelledTables):
    """A panelled saddle: jump, general, dressage, show, exercise, stock with panels."""

    family: Literal["panelled"]

    def numbers(self) -> SaddleNumbers:
        """Return the saddle's numbers."""
        return self.panelled()


class CutTable(Door):
    """The cut in the head."""

    depth_mm: Mm | None = None
    width_mm: Mm | None = None
    rear_lower_mm: Mm | None = None


class CutBackDocument(PanelledTables):
    """A cut-back flat seat."""

    family: Literal["cut-back"]
    cut: CutTable = CutTable()

    def numbers(self) -> SaddleNumbers:
        """Return the saddle's numbers."""
        return CutBackNumbers(base=self.panelled(), cut=CutNumbers(**self.cut.given()))


class BarTable(Door):
    """One bar's underside."""

    length_mm: Mm | None = None
    width_mm: BarMm | None = None
    spread_mm: BarMm | None = None
    angle_deg: BarDegrees | None = None
    rocker_mm: EndsMm | None = None
    crown_mm: Mm | None = None
    flare_mm: EndsMm | None = None
    flare_length_mm: Mm | None = None
    corner_mm: Mm | None = None
    lining: MaterialTable | None = None

    def numbers(self) -> BarNumbers:
        """Return the bar as the engine takes it."""
        held = self.given()
        return (
            BarNumbers(**held) if self.lining is None else BarNumbers(**held, lining=self.lining.material())
        )


class ForkTable(Door):
    """The front arch between the bars."""

    height_mm: Mm | None = None
    behind_mm: Mm | None = None
    roof_mm: WaistRearMm | None = None


class OffBarTable(Door):
    """By how much the off bar differs from the near bar: off minus near."""

    out_mm: Mm | None = None
    angle_deg: Degrees | None = None
    front_drop_mm: Mm | None = None
    rear_drop_mm: Mm | None = None


class BarsDocument(AboutTables, FittedTables):
    """A saddle on bars: western, endurance, trooper, Iberian."""

    family: Literal["bars"]
    bar: BarTable = BarTable()
    fork: ForkTable = ForkTable()
    off_bar: OffBarTable = OffBarTable()
    skirts_mm: EndsMm | None = None

    def numbers(self) -> SaddleNumbers:
        """Return the saddle's numbers."""
        usual = BarsNumbers(label=self.label)
        return BarsNumbers(
            label=self.label,
            bar=self.bar.numbers(),
            fork=ForkNumbers(**self.fork.given()),
            off_bar=OffBar(**self.off_bar.given()),
            skirts_mm=usual.skirts_mm
            if self.skirts_mm is None
            else (self.skirts_mm.front, self.skirts_mm.rear),
            fittings=self.fittings(usual.fittings),
        )


class SideTable(Door):
    """One side of a side-saddle's head, and the panel under it."""

    half_width_mm: Mm
    depth_mm: Mm
    half_angle_deg: Degrees
    point_mm: Mm
    panel: PanelTable = PanelTable()
    filling: FillingTable = FillingTable()

    def numbers(self) -> SideNumbers:
        """Return the side as the engine takes it."""
        return SideNumbers(**self.given(), panel=self.panel.numbers(), filling=self.filling.numbers())


class BalanceStrapTable(Door):
    """The strap from the rear of the off side."""

    behind_mm: Mm | None = None
    out_mm: Mm | None = None
    above_roof_mm: Mm | None = None


class SideSaddleDocument(AboutTables, FittedTables):
    """A side-saddle."""

    family: Literal["side-saddle"]
    near: SideTable
    off: SideTable
    rise_mm: Mm
    hoop: Plain | None = None
    behind_mm: Mm | None = None
    cover_mm: Mm | None = None
    footprint: FootprintTable = FootprintTable()
    off_waist_higher_mm: Mm | None = None
    load_off_mm: Mm | None = None
    balance_strap: BalanceStrapTable | Literal["none"] = BalanceStrapTable()

    def numbers(self) -> SaddleNumbers:
        """Return the saddle's numbers."""
        own = {
            name: value
            for name in ("rise_mm", "hoop", "behind_mm", "cover_mm", "off_waist_higher_mm", "load_off_mm")
            if (value := getattr(self, name)) is not None
        }
        strap = self.balance_strap
        near, off = self.near.numbers(), self.off.numbers()
        usual = SideSaddleNumbers(label=self.label, near=near, off=off, rise_mm=0.0)
        return SideSaddleNumbers(
            label=self.label,
            near=near,
            off=off,
            **own,
            footprint=Footprint(**self.footprint.given()),
            balance_strap=BalanceStrap(**strap.given()) if isinstance(strap, BalanceStrapTable) else None,
            fittings=self.fittings(usual.fittings),
        )


class InsertTable(Door):
    """A removable insert."""

    name: Name
    thickness_mm: Mm
    length_mm: Mm
    width_mm: Mm


class TreelessDocument(AboutTables):
    """A treeless saddle or pad saddle: recorded, not judged by the model."""

    family: Literal["treeless"]
    length_mm: Mm
    width_mm: Mm
    channel_mm: Mm | None = None
    inserts: Annotated[tuple[InsertTable, ...], Field(max_length=20)] = ()
    strap_hang_behind_mm: Mm | None = None
    straps: Annotated[tuple[StrapTable, ...], Field(max_length=8)] = ()
    seat: SeatTable = SeatTable()
    mass_kg: Kilograms | None = None

    def numbers(self) -> SaddleNumbers:
        """Return the saddle's numbers."""
        own = {
            name: value
            for name in ("length_mm", "width_mm", "channel_mm", "strap_hang_behind_mm", "mass_kg")
            if (value := getattr(self, name)) is not None
        }
        return TreelessNumbers(
            label=self.label,
            **own,
            inserts=tuple(Insert(**one.given()) for one in self.inserts),
            girth_straps=tuple(one.numbers() for one in self.straps),
            seat=SeatNumbers(**self.seat.given()),
        )


class FlexibleDocument(AboutTables):
    """A saddle with a flexible tree: recorded, not judged by the model."""

    family: Literal["flexible tree"]
    length_mm: Mm
    width_mm: Mm
    channel_mm: Mm
    bends: Words
    seat: SeatTable = SeatTable()
    mass_kg: Kilograms | None = None

    def numbers(self) -> SaddleNumbers:
        """Return the saddle's numbers."""
        own = {} if self.mass_kg is None else {"mass_kg": self.mass_kg}
        return FlexibleTreeNumbers(
            label=self.label,
            length_mm=self.length_mm,
            width_mm=self.width_mm,
            channel_mm=self.channel_mm,
            bends=self.bends,
            seat=SeatNumbers(**self.seat.given()),
            **own,
        )


SaddleDocument = Annotated[
    PanelledDocument
    | CutBackDocument
    | BarsDocument
    | SideSaddleDocument
    | TreelessDocument
    | FlexibleDocument,
    Field(discriminator="family"),
]
"""A saddle file of any family."""
