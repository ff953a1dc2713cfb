"""Numbers of a saddle that cannot be, or that contradict each other: said in words, with the cure.

Limits are what a tape can possibly read on a saddle for a horse or pony, not what is good.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from saddlebench.engine.errors import Problem, Where
from saddlebench.engine.saddle.bars import BarsNumbers
from saddlebench.engine.saddle.contradictions import (
    SPINE_STRIP_MM,
    bars_contradictions,
    cut_contradictions,
    panelled_contradictions,
    side_contradictions,
)
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.fittings import Fittings
from saddlebench.engine.saddle.numbers import SaddleNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import (
    PanelNumbers,
    TreeNumbers,
)
from saddlebench.engine.saddle.side_saddle import SideNumbers, SideSaddleNumbers
from saddlebench.engine.saddle.unmodelled import FlexibleTreeNumbers, TreelessNumbers
from saddlebench.engine.saddle.zones import Filling

_LONGEST_MM = 800.0
_Contradictions = Callable[[], list[Problem]]


@dataclass(frozen=True, slots=True)
class _Range:
    field: str
    value: float
    low: float
    high: float
    unit: str = "mm"


def check_numbers(numbers: SaddleNumbers) -> tuple[Problem, ...]:
    """Return everything that is impossible or contradictory in a description.

    Parameters
    ----------
    numbers : the description; problems name its fields as a saddle file does

    Returns
    -------
    Problems in the order of the fields; none if the description can be a saddle
    """
    ranges, contradictions = _rules(numbers)
    problems = [_out_of_range(one) for one in ranges if not one.low <= one.value <= one.high]
    # Contradictions are only worth telling between numbers that can be true one by one.
    return tuple(problems or contradictions())


def _rules(numbers: SaddleNumbers) -> tuple[list[_Range], _Contradictions]:
    match numbers:
        case CutBackNumbers():
            cut = numbers.cut
            own = [
                _Range("cut.depth", cut.depth_mm, 20.0, 200.0),
                _Range("cut.width", cut.width_mm, 30.0, 160.0),
                _Range("cut.rear_lower", cut.rear_lower_mm, -40.0, 60.0),
            ]
            return [*_panelled(numbers.base), *own], lambda: cut_contradictions(numbers)
        case PanelledNumbers():
            return list(_panelled(numbers)), lambda: panelled_contradictions(numbers)
        case BarsNumbers():
            return list(_bars(numbers)), lambda: bars_contradictions(numbers)
        case SideSaddleNumbers():
            return list(_side_saddle(numbers)), lambda: side_contradictions(numbers)
        case TreelessNumbers() | FlexibleTreeNumbers():
            own = [
                _Range("length", numbers.length_mm, 200.0, _LONGEST_MM),
                _Range("width", numbers.width_mm, 40.0, 300.0),
                _Range("channel", numbers.channel_mm, 0.0, 140.0),
                _Range("mass", numbers.mass_kg, 0.5, 30.0, "kg"),
            ]
            return own, list


def _out_of_range(one: _Range) -> Problem:
    cure = "Measure it again, and check its unit."
    if one.unit == "in" and one.value > one.high:
        cure = "Seat size is in inches, as saddles are sold; 44 cm is 17.5 in."
    elif one.unit == "mm" and 0.0 < one.value < one.low:
        cure = "Check its unit: it reads like centimetres or inches. If it is right, measure it again."
    elif one.value < 0.0 <= one.low:
        cure = "It cannot be below zero: measure it again."
    return Problem(
        what=f"{one.value:g} {one.unit} cannot be; a saddle has {one.low:g} to {one.high:g} {one.unit} here",
        cure=cure,
        where=Where(field=one.field),
    )


def _panelled(numbers: PanelledNumbers) -> Iterator[_Range]:
    yield from _tree(numbers.tree)
    yield from _panel(numbers.panel, "panel")
    yield from _fittings(numbers.fittings)
    yield from _filling(numbers.filling_left, "filling.near")
    yield from _filling(numbers.filling_right, "filling.off")
    off = numbers.off_side
    yield _Range("off_side.point_out", off.point_out_mm, -60.0, 60.0)
    yield _Range("off_side.point_angle", off.point_angle_deg, -20.0, 20.0, "°")
    yield _Range("off_side.panel_width", off.panel_width_mm, -60.0, 60.0)
    yield _Range("off_side.panel_angle", off.panel_angle_deg, -20.0, 20.0, "°")
    yield _Range("off_side.panel_drop", off.panel_drop_mm, -40.0, 40.0)


def _tree(tree: TreeNumbers) -> Iterator[_Range]:
    yield _Range("tree.width", tree.width_mm, 120.0, 450.0)
    yield _Range("tree.depth", tree.depth_mm, 70.0, 300.0)
    yield _Range("tree.angle", tree.angle_deg, 40.0, 140.0, "°")
    yield _Range("tree.rise", tree.rise_mm, -20.0, 160.0)
    yield from _head(tree.point_mm, tree.hoop, tree.behind_mm, tree.cover_mm, "tree.")


def _head(point_mm: float, hoop: float, behind_mm: float, cover_mm: float, part: str) -> Iterator[_Range]:
    yield _Range(f"{part}point", point_mm, 20.0, 280.0)
    yield _Range(f"{part}hoop", hoop, 0.0, 1.0, "")
    yield _Range(f"{part}behind", behind_mm, 5.0, 120.0)
    yield _Range(f"{part}cover", cover_mm, 2.0, 40.0)


def _panel(panel: PanelNumbers, part: str) -> Iterator[_Range]:
    yield _Range(f"{part}.length", panel.length_mm, 250.0, 620.0)
    for place, channel, width in zip(
        ("front", "waist", "rear"), panel.channel_mm, panel.width_mm, strict=True
    ):
        yield _Range(f"{part}.channel.{place}", channel, 10.0, 180.0)
        yield _Range(f"{part}.width.{place}", width, 35.0, 260.0)
    for place, depth, angle in zip(("waist", "rear"), panel.channel_depth_mm, panel.angle_deg, strict=True):
        yield _Range(f"{part}.channel_depth.{place}", depth, 5.0, 140.0)
        yield _Range(f"{part}.angle.{place}", angle, -10.0, 75.0, "°")
    yield _Range(f"{part}.front_flatter", panel.front_flatter_deg, -25.0, 25.0, "°")
    yield _Range(f"{part}.rear_rise", panel.rear_rise_mm, -80.0, 120.0)
    yield _Range(f"{part}.tail_sweep", panel.tail_sweep_mm, -20.0, 60.0)
    yield _Range(f"{part}.rounding", panel.rounding_mm, -15.0, 25.0)
    yield _Range(f"{part}.front_corner", panel.front_corner_mm, 0.0, 110.0)
    yield _Range(f"{part}.rear_corner", panel.rear_corner_mm, 0.0, 110.0)
    yield _Range(f"{part}.gusset", panel.gusset_mm, 0.0, 80.0)
    for zone, firm, thick in zip(_ZONES, panel.firmness, panel.thickness_mm, strict=True):
        yield _Range(f"{part}.firmness.{zone}", firm, 0.05, 20.0, "")
        yield _Range(f"{part}.thickness.{zone}", thick, 5.0, 90.0)


_ZONES = ("front", "waist", "seat", "rear")


def _filling(filling: Filling, part: str) -> Iterator[_Range]:
    for half, values in (("inner", filling.inner_mm), ("outer", filling.outer_mm)):
        for zone, value in zip(_ZONES, values, strict=True):
            yield _Range(f"{part}.{half}.{zone}", value, -25.0, 25.0)


def _fittings(fittings: Fittings) -> Iterator[_Range]:
    seat, stirrups, mass = fittings.seat, fittings.stirrups, fittings.mass
    yield _Range("seat.size", seat.size_in, 9.0, 24.0, "in")
    yield _Range("seat.lowest_behind", seat.lowest_behind_mm, 60.0, 500.0)
    yield _Range("seat.above_roof", seat.above_roof_mm, 0.0, 150.0)
    yield _Range("seat.pommel_rise", seat.pommel_rise_mm, 1.0, 250.0)
    yield _Range("seat.cantle_rise", seat.cantle_rise_mm, 1.0, 250.0)
    yield _Range("stirrups.behind", stirrups.behind_mm, 0.0, 400.0)
    yield _Range("stirrups.apart", stirrups.apart_mm, 60.0, 450.0)
    for strap in fittings.straps:
        yield _Range(f"straps.{strap.name}.behind", strap.behind_mm, -20.0, 600.0)
        yield _Range(f"straps.{strap.name}.apart", strap.apart_mm, 40.0, 600.0)
    yield _Range("mass.mass", mass.mass_kg, 0.5, 40.0, "kg")


def _bars(numbers: BarsNumbers) -> Iterator[_Range]:
    bar, fork = numbers.bar, numbers.fork
    yield _Range("bar.length", bar.length_mm, 300.0, _LONGEST_MM)
    for place, width, spread, angle in zip(
        ("front", "middle", "rear"), bar.width_mm, bar.spread_mm, bar.angle_deg, strict=True
    ):
        yield _Range(f"bar.width.{place}", width, 35.0, 220.0)
        yield _Range(f"bar.spread.{place}", spread, SPINE_STRIP_MM, 200.0)
        yield _Range(f"bar.angle.{place}", angle, -5.0, 75.0, "°")
    for place, rocker, flare in zip(("front", "rear"), bar.rocker_mm, bar.flare_mm, strict=True):
        yield _Range(f"bar.rocker.{place}", rocker, -30.0, 100.0)
        yield _Range(f"bar.flare.{place}", flare, -5.0, 60.0)
    yield _Range("bar.crown", bar.crown_mm, -10.0, 25.0)
    yield _Range("bar.flare_length", bar.flare_length_mm, 5.0, 200.0)
    yield _Range("bar.corner", bar.corner_mm, 0.0, 120.0)
    yield _Range("fork.height", fork.height_mm, 60.0, 300.0)
    yield _Range("fork.behind", fork.behind_mm, 0.0, 200.0)
    yield from _fittings(numbers.fittings)


def _side_saddle(numbers: SideSaddleNumbers) -> Iterator[_Range]:
    yield _Range("rise", numbers.rise_mm, -20.0, 160.0)
    yield from _side(numbers.near, "near")
    yield from _side(numbers.off, "off")
    yield from _head(numbers.near.point_mm, numbers.hoop, numbers.behind_mm, numbers.cover_mm, "")
    yield _Range("off_waist_higher", numbers.off_waist_higher_mm, -60.0, 60.0)
    yield _Range("load_off", numbers.load_off_mm, -80.0, 80.0)
    yield from _fittings(numbers.fittings)


def _side(side: SideNumbers, part: str) -> Iterator[_Range]:
    yield _Range(f"{part}.half_width", side.half_width_mm, 60.0, 225.0)
    yield _Range(f"{part}.depth", side.depth_mm, 70.0, 350.0)
    yield _Range(f"{part}.half_angle", side.half_angle_deg, 20.0, 70.0, "°")
    yield _Range(f"{part}.point", side.point_mm, 20.0, 330.0)
    yield from _panel(side.panel, f"{part}.panel")
    yield from _filling(side.filling, f"{part}.filling")
