"""An invented stock of any size: ranges in widths and seats, some reflocked by hand. No saddle exists."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from saddlebench.demo.cutting import bars_for, panelled_for, side_saddle_for
from saddlebench.demo.made_to_measure import made_to_measure
from saddlebench.demo.saddles import EVERYDAY_NUMNAH, FELT_UNDER_BARS, FLEXIBLE, ONE_SIZE_MM, TREELESS
from saddlebench.demo.shapes import BACK_SHAPES, WIDE_COB, BackShape
from saddlebench.demo.yard import YARD
from saddlebench.engine.choose import Candidate
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.saddle.alterable import ARCHES, usual_alterations
from saddlebench.engine.saddle.fittings import Fittings, SeatNumbers
from saddlebench.engine.saddle.materials import FOAM
from saddlebench.engine.saddle.numbers import (
    BarsNumbers,
    CutBackNumbers,
    FlexibleTreeNumbers,
    PanelledNumbers,
    SaddleNumbers,
    TreelessNumbers,
)
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.zones import Filling

FOR_THE_COB = (
    "Bittern 17½ (invented), cut for a wide flat back",
    "Bittern 17 (invented), cut for a wide flat back",
)
"""The two saddles that were made for the yard's wide cob."""
_NAMES = (
    "Curlew",
    "Plover",
    "Dunlin",
    "Godwit",
    "Lapwing",
    "Heron",
    "Teal",
    "Wigeon",
    "Pintail",
    "Gadwall",
    "Merlin",
    "Hobby",
    "Harrier",
    "Osprey",
    "Petrel",
    "Fulmar",
    "Gannet",
    "Shearwater",
    "Skua",
    "Kittiwake",
    "Redstart",
    "Wheatear",
    "Whinchat",
    "Stonechat",
    "Fieldfare",
    "Redwing",
    "Twite",
    "Linnet",
    "Siskin",
    "Brambling",
    "Serin",
    "Bunting",
    "Pipit",
    "Wagtail",
    "Dipper",
    "Wryneck",
)
_SEATS_IN = (16.0, 16.5, 17.0, 17.5, 18.0)
_SIZES = (-2, -1, 0, 1, 2)
_DISCIPLINES = ("general", "jumping", "dressage", "showing")
_FLAPS_MM = {"general": 400.0, "jumping": 370.0, "dressage": 430.0, "showing": 420.0}
_ARCHES = tuple(ARCHES)
_ARCH_SHARES = (0.45, 0.15, 0.2, 0.02, 0.18)
_CONDITIONS = ("new", "as new", "good", "worn", "to be overhauled")


@dataclass(frozen=True, slots=True, kw_only=True)
class StockedSaddle:
    """One invented saddle and what a shop knows of it."""

    candidate: Candidate
    discipline: str
    condition: str
    price: float
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Range:
    name: str
    pattern: BackShape
    discipline: str
    front_mm: float
    rear_mm: float
    angle_deg: float
    channel_mm: float


def invented_stock(count: int = 10_000, seed: int = 7) -> tuple[StockedSaddle, ...]:
    """Return an invented stock; two of it were made for the yard's wide cob.

    Parameters
    ----------
    count : how many saddles
    seed : the same seed gives the same stock
    """
    rng = np.random.default_rng(seed)
    ranges = tuple(_ranges(rng))
    made = [_one(ranges, rng, number) for number in range(1, count - 1)]
    special = [_for_the_cob(label, seat, number) for label, seat, number in _specials(count)]
    places = rng.permutation(count)
    everything = [*made, *special]
    return tuple(everything[k] for k in places)


def _specials(count: int) -> Iterator[tuple[str, float, int]]:
    yield FOR_THE_COB[0], 17.5, count - 1
    yield FOR_THE_COB[1], 17.0, count


def _ranges(rng: np.random.Generator) -> Iterator[_Range]:
    patterns = [shape for shape in BACK_SHAPES.values() if shape is not WIDE_COB]
    for k, name in enumerate(_NAMES):
        yield _Range(
            name=name,
            pattern=patterns[k % len(patterns)],
            discipline=_DISCIPLINES[k % len(_DISCIPLINES)],
            front_mm=float(np.round(rng.normal(0.0, 6.0))),
            rear_mm=float(np.round(rng.normal(0.0, 8.0))),
            angle_deg=float(np.round(rng.normal(0.0, 3.0))),
            channel_mm=float(np.round(rng.uniform(-8.0, 12.0))),
        )


def _one(ranges: tuple[_Range, ...], rng: np.random.Generator, number: int) -> StockedSaddle:
    chosen = ranges[int(rng.integers(len(ranges)))]
    seat, size = float(rng.choice(_SEATS_IN)), int(rng.choice(_SIZES, p=(0.1, 0.22, 0.36, 0.22, 0.1)))
    arch = _ARCHES[int(rng.choice(len(_ARCHES), p=_ARCH_SHARES))]
    label = f"{chosen.name} {seat:g} in, {_size_words(size)} (invented)"
    kind = float(rng.uniform())
    numbers: SaddleNumbers
    if kind < 0.03:
        numbers, arch = _bars(chosen), "not known"
    elif kind < 0.035:
        numbers = replace(side_saddle_for(chosen.pattern, label), label=label)
    elif kind < 0.045:
        numbers, arch = replace(TREELESS, label=label), "not known"
    elif kind < 0.05:
        numbers, arch = replace(FLEXIBLE, label=label), "not known"
    else:
        base = replace(_base(chosen, seat, size), label=label)
        numbers = _flocked(base, rng) if rng.uniform() < 0.35 else base
        if kind > 0.96:
            numbers = CutBackNumbers(base=numbers)
    return _stocked(numbers, arch, number, seat, chosen.discipline, rng)


def _size_words(size: int) -> str:
    return {-2: "extra narrow", -1: "narrow", 0: "medium", 1: "wide", 2: "extra wide"}[size]


@cache
def _base(chosen: _Range, seat_in: float, size: int) -> PanelledNumbers:
    """Return the numbers that all saddles of one range, seat and width share."""
    length = 430.0 + 20.0 * (seat_in - 17.5)
    cut = panelled_for(chosen.pattern, chosen.name, length_mm=length)
    panel = cut.panel
    channel = tuple(one + chosen.channel_mm for one in panel.channel_mm)
    return replace(
        cut,
        tree=replace(
            cut.tree,
            width_mm=cut.tree.width_mm + size * ONE_SIZE_MM,
            rise_mm=cut.tree.rise_mm + chosen.front_mm,
        ),
        panel=replace(
            panel,
            channel_mm=(channel[0], channel[1], channel[2]),
            rear_rise_mm=panel.rear_rise_mm + chosen.rear_mm,
            angle_deg=(panel.angle_deg[0] + chosen.angle_deg, panel.angle_deg[1] + chosen.angle_deg),
            fill=FOAM if chosen.discipline == "jumping" else panel.fill,
        ),
        fittings=_fittings(seat_in, length),
    )


def _fittings(seat_in: float, length_mm: float) -> Fittings:
    return Fittings(seat=SeatNumbers(size_in=seat_in, rear_behind_mm=length_mm + 10.0))


def _flocked(numbers: PanelledNumbers, rng: np.random.Generator) -> PanelledNumbers:
    """Return the saddle with fill moved by hand, in steps that a saddler works in."""

    def _side() -> Filling:
        front, waist, seat, rear = (3.0 * float(rng.integers(-1, 3)) for _ in range(4))
        return Filling.even((front, waist, seat, rear))

    left = _side()
    return replace(numbers, filling_left=left, filling_right=left if rng.uniform() < 0.7 else _side())


@cache
def _bars(chosen: _Range) -> BarsNumbers:
    return bars_for(chosen.pattern, f"{chosen.name} on bars (invented)")


def _for_the_cob(label: str, seat_in: float, number: int) -> StockedSaddle:
    numbers = _made_for_the_cob(label, seat_in)
    return _stocked(numbers, "bent steel", number, seat_in, "general", np.random.default_rng(number))


@cache
def _made_for_the_cob(label: str, seat_in: float) -> PanelledNumbers:
    rider = next(one.rider_kg for one in YARD if one.shape is WIDE_COB)
    return made_to_measure(
        WIDE_COB, label, seat_in=seat_in, rider=Rider(mass_kg=rider), pads=(EVERYDAY_NUMNAH,)
    )


def _stocked(
    numbers: SaddleNumbers,
    arch: str,
    number: int,
    seat_in: float,
    discipline: str,
    rng: np.random.Generator,
) -> StockedSaddle:
    pads = (FELT_UNDER_BARS,) if isinstance(numbers, BarsNumbers) else (EVERYDAY_NUMNAH,)
    soft = isinstance(numbers, TreelessNumbers | FlexibleTreeNumbers)
    record = SaddleRecord(
        label=numbers.label,
        numbers=numbers,
        alterable=usual_alterations(numbers, "not known" if soft else arch),
        pads=pads,
        serial=f"INV-{number:05d}",
        notes="An invented saddle.",
    )
    return StockedSaddle(
        candidate=Candidate(
            key=record.serial,
            record=record,
            seat_in=seat_in,
            flap_mm=_FLAPS_MM[discipline] + 10.0 * float(rng.integers(-2, 3)),
        ),
        discipline=discipline,
        condition=str(rng.choice(_CONDITIONS)),
        price=float(50 * rng.integers(6, 60)),
        place=f"rack {int(rng.integers(1, 40))}",
    )
