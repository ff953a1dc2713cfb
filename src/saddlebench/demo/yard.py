"""The invented yard: horses, riders and saddles that do not exist, chosen so that each shows something."""

from dataclasses import dataclass, replace

from saddlebench.demo import saddles, shapes
from saddlebench.demo.cutting import panelled_for, side_saddle_for
from saddlebench.demo.shapes import BackShape
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.numbers import BarsNumbers, CutBackNumbers, SaddleNumbers
from saddlebench.engine.saddle.record import SaddleRecord

USUAL_STATIONS_MM = (-140.0, -80.0, -20.0, 40.0, 110.0, 190.0, 280.0, 370.0, 450.0, 530.0, 600.0)
SCANNED = "scan"
"""Stands for "by phone scan" where a horse's instrument is named."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedHorse:
    """One horse of the yard, how it was measured, and the saddle it came in."""

    name: str
    story: str
    shape: BackShape
    instrument: str
    """Name of an instrument that comes with the program, or `SCANNED`."""
    saddle: SaddleRecord
    horse_kg: float
    rider_kg: float
    stations_mm: tuple[float, ...] = USUAL_STATIONS_MM
    pitch_deg: float = 0.0
    roll_deg: float = 0.0

    @property
    def slug(self) -> str:
        """The name as a folder is called."""
        return self.name.lower()


def _record(numbers: SaddleNumbers, notes: str) -> SaddleRecord:
    pads = (saddles.FELT_UNDER_BARS,) if isinstance(numbers, BarsNumbers) else (saddles.EVERYDAY_NUMNAH,)
    return SaddleRecord(
        label=numbers.label,
        numbers=numbers,
        alterable=usual_alterations(numbers, "bent steel"),
        pads=pads,
        notes=f"An invented saddle. {notes}",
    )


def _shorter(stations: tuple[float, ...], scale: float) -> tuple[float, ...]:
    return tuple(round(s * scale) for s in stations)


YARD = (
    InventedHorse(
        name="Bramble",
        story="All-round gelding, 1.60 m; the saddle was made for a back like this. Six-monthly check.",
        shape=shapes.PLAIN,
        instrument="chain-12x30",
        saddle=_record(saddles.ALL_ROUND, "Made for this back."),
        horse_kg=540.0,
        rider_kg=70.0,
    ),
    InventedHorse(
        name="Kestrel",
        story="Lean eventer with high withers and hollows behind them; the saddle has come down in front.",
        shape=shapes.HIGH_WITHERS,
        instrument="comb-41x10",
        saddle=_record(
            saddles.wider(
                panelled_for(shapes.HIGH_WITHERS, "Rowan (invented)"), 26.0, "Rowan (invented), wide for her"
            ),
            "Bought for another horse; more than one size wide.",
        ),
        horse_kg=510.0,
        rider_kg=64.0,
        roll_deg=1.5,
    ),
    InventedHorse(
        name="Dumpling",
        story="Wide, flat-withered cob; the saddle sits up in front and the owner feels tipped back.",
        shape=shapes.WIDE_COB,
        instrument="curve-mm",
        saddle=_record(saddles.NARROW_FOR_A_COB, "Two sizes narrow."),
        horse_kg=580.0,
        rider_kg=82.0,
    ),
    InventedHorse(
        name="Heather",
        story="Native pony of 1.32 m whose back muscle stands above the spine; shown in a cut-back saddle.",
        shape=shapes.GUTTERED_NATIVE.of_height(1320.0),
        instrument="chain-12x30",
        saddle=_record(
            CutBackNumbers(
                base=panelled_for(
                    shapes.GUTTERED_NATIVE.of_height(1320.0), "Sedge (invented), cut-back", length_mm=380.0
                )
            ),
            "Flat seat, cut back over the withers.",
        ),
        horse_kg=330.0,
        rider_kg=45.0,
        stations_mm=_shorter(USUAL_STATIONS_MM, 0.82),
    ),
    InventedHorse(
        name="Sable",
        story="A-shaped trail horse, ridden in a saddle on bars over a thick felt pad.",
        shape=shapes.A_SHAPED,
        instrument="comb-24x15-foot",
        saddle=_record(saddles.FLAT_BARS, "Bars cut for a rounder back."),
        horse_kg=470.0,
        rider_kg=78.0,
    ),
    InventedHorse(
        name="Otter",
        story="Old schoolmaster with a sway back; the panels are straight.",
        shape=shapes.SWAY,
        instrument="curve-mm",
        saddle=_record(saddles.STRAIGHT_ON_A_DIP, "Made for a level back."),
        horse_kg=520.0,
        rider_kg=68.0,
    ),
    InventedHorse(
        name="Flint",
        story="Roach-backed youngster; the curved panels rock on the rise.",
        shape=shapes.ROACH,
        instrument="chain-8-uneven",
        saddle=_record(saddles.CURVED_ON_A_RISE, "Panels curved for a dipped back."),
        horse_kg=500.0,
        rider_kg=60.0,
        pitch_deg=-2.0,
    ),
    InventedHorse(
        name="Tansy",
        story="Croup-high four-year-old, scanned with a phone; growing.",
        shape=shapes.CROUP_HIGH,
        instrument=SCANNED,
        saddle=_record(
            replace(saddles.TOO_LONG, label="Elder (invented), long"), "Too long for her, perhaps."
        ),
        horse_kg=480.0,
        rider_kg=58.0,
    ),
    InventedHorse(
        name="Pippin",
        story="Short-coupled mare ridden side-saddle.",
        shape=shapes.SHORT_COUPLED,
        instrument="comb-41x10",
        saddle=_record(
            side_saddle_for(shapes.SHORT_COUPLED, "Maple (invented), side-saddle"), "Lent for a display."
        ),
        horse_kg=490.0,
        rider_kg=62.0,
        stations_mm=(-140.0, -80.0, -20.0, 40.0, 110.0, 190.0, 280.0, 360.0, 430.0, 490.0),
    ),
    InventedHorse(
        name="Juno",
        story="Warmblood with the bigger left shoulder; the flock is lumpy and gone under the near front.",
        shape=shapes.LEFT_SHOULDER,
        instrument="chain-12x30",
        saddle=_record(saddles.FLOCK_GONE_IN_FRONT, "Not reflocked for years."),
        horse_kg=610.0,
        rider_kg=76.0,
    ),
    InventedHorse(
        name="Marten",
        story="Cob type whose girth groove lies far forward, in a treeless saddle: recorded, not judged.",
        shape=shapes.FORWARD_GIRTH,
        instrument="comb-41x10",
        saddle=_record(replace(saddles.TREELESS, label="Birch (invented), treeless"), "Treeless."),
        horse_kg=540.0,
        rider_kg=74.0,
    ),
)
