"""Invented saddles for the demo and the tests. None was measured, none is any maker's, none exists."""

from dataclasses import replace

from saddlebench.demo.cutting import bars_for, panelled_for, side_saddle_for
from saddlebench.demo.shapes import A_SHAPED, HIGH_WITHERS, LEFT_SHOULDER, PLAIN, ROACH, SWAY, WIDE_COB
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.fittings import POINT_STRAP, StrapNumbers
from saddlebench.engine.saddle.materials import FELT_PAD, FOAM, NUMNAH
from saddlebench.engine.saddle.model import PadCut
from saddlebench.engine.saddle.numbers import (
    BarsNumbers,
    CutBackNumbers,
    FlexibleTreeNumbers,
    PanelledNumbers,
    SaddleNumbers,
    SideSaddleNumbers,
    TreelessNumbers,
)
from saddlebench.engine.saddle.pads import pad_layer
from saddlebench.engine.saddle.panelled import OffSide
from saddlebench.engine.saddle.panels import Lump
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.unmodelled import Insert
from saddlebench.engine.saddle.zones import Filling

ONE_SIZE_MM = 20.0
"""One tree size at the point ends (Meschan et al. 2007, Vet J 173:578–584)."""

ALL_ROUND = panelled_for(PLAIN, "invented all-round saddle")
"""An ordinary all-round saddle that suits the plain back."""


def wider(numbers: PanelledNumbers, by_mm: float, label: str) -> PanelledNumbers:
    """Return the saddle with its front arch set wider at the point ends; top, depth and angle stay."""
    return replace(numbers, label=label, tree=replace(numbers.tree, width_mm=numbers.tree.width_mm + by_mm))


def bent_along(numbers: PanelledNumbers, front_mm: float, rear_mm: float, label: str) -> PanelledNumbers:
    """Return the saddle with its panels' ends higher (or lower) against the waist."""
    return replace(
        numbers,
        label=label,
        tree=replace(numbers.tree, rise_mm=numbers.tree.rise_mm + front_mm),
        panel=replace(numbers.panel, rear_rise_mm=numbers.panel.rear_rise_mm + rear_mm),
    )


TOO_NARROW = wider(ALL_ROUND, -ONE_SIZE_MM, "invented saddle, one size narrow")
TOO_WIDE = wider(ALL_ROUND, ONE_SIZE_MM, "invented saddle, one size wide")
TOO_LONG = panelled_for(PLAIN, "invented saddle, long", length_mm=590.0)
BRIDGING = bent_along(ALL_ROUND, -12.0, -18.0, "invented saddle, panels too straight")
ROCKING = bent_along(ALL_ROUND, 16.0, 22.0, "invented saddle, panels too curved")
BADLY_FLOCKED = replace(
    ALL_ROUND,
    label="invented saddle, badly flocked",
    lumps=(
        Lump(on_left=True, behind_mm=75.0, across=0.55, height_mm=-9.0, radius_mm=40.0),
        Lump(on_left=True, behind_mm=290.0, across=0.45, height_mm=6.0, radius_mm=18.0),
        Lump(on_left=False, behind_mm=230.0, across=0.5, height_mm=6.0, radius_mm=18.0),
        Lump(on_left=False, behind_mm=345.0, across=0.6, height_mm=5.0, radius_mm=18.0),
    ),
)
THIN_IN_FRONT = replace(
    ALL_ROUND,
    label="invented saddle, flat in front",
    filling_left=Filling.even((-6.0, -2.0, 0.0, 4.0)),
    filling_right=Filling.even((-6.0, -2.0, 0.0, 4.0)),
)
TWISTED = replace(
    ALL_ROUND,
    label="invented saddle, twisted tree",
    off_side=OffSide(point_out_mm=5.0, panel_drop_mm=9.0),
    fittings=replace(
        ALL_ROUND.fittings, stirrups=replace(ALL_ROUND.fittings.stirrups, off_further_back_mm=7.0)
    ),
)
FOAM_DRESSAGE = replace(
    panelled_for(PLAIN, "invented dressage saddle, foam panels", length_mm=445.0),
    fittings=replace(
        ALL_ROUND.fittings,
        seat=replace(ALL_ROUND.fittings.seat, rear_behind_mm=450.0, cantle_rise_mm=95.0),
        straps=(POINT_STRAP, StrapNumbers(name="rear strap", behind_mm=240.0)),
    ),
)
FOAM_DRESSAGE = replace(FOAM_DRESSAGE, panel=replace(FOAM_DRESSAGE.panel, fill=FOAM))
CUT_BACK: CutBackNumbers = CutBackNumbers(
    base=panelled_for(HIGH_WITHERS, "invented cut-back show saddle", length_mm=440.0)
)
BARS: BarsNumbers = bars_for(PLAIN, "invented trail saddle on bars")
SIDE_SADDLE: SideSaddleNumbers = side_saddle_for(PLAIN, "invented side-saddle")
TREELESS = TreelessNumbers(
    label="invented treeless saddle",
    length_mm=450.0,
    width_mm=130.0,
    channel_mm=60.0,
    inserts=(Insert(name="foam insert", thickness_mm=20.0, length_mm=420.0, width_mm=110.0),),
)
FLEXIBLE = FlexibleTreeNumbers(
    label="invented saddle with a flexible tree",
    length_mm=430.0,
    width_mm=110.0,
    channel_mm=70.0,
    bends="the rails bend along their length; the front arch is stiff",
)

_FOR_A_COB = panelled_for(WIDE_COB, "Alder (invented), narrow for him")
NARROW_FOR_A_COB = wider(
    replace(_FOR_A_COB, panel=replace(_FOR_A_COB.panel, channel_mm=(80.0, 80.0, 82.0))),
    -2.0 * ONE_SIZE_MM,
    _FOR_A_COB.label,
)
_FOR_A_SWAY = panelled_for(SWAY, "Hawthorn (invented), straight panels")
STRAIGHT_ON_A_DIP = wider(
    bent_along(
        replace(_FOR_A_SWAY, panel=replace(_FOR_A_SWAY.panel, channel_depth_mm=(56.0, 66.0))),
        -44.0,
        -44.0,
        _FOR_A_SWAY.label,
    ),
    -16.0,
    _FOR_A_SWAY.label,
)
"""The channel is deep, so that it is the panels that fail and not the roof of the channel."""
CURVED_ON_A_RISE = bent_along(
    wider(panelled_for(ROACH, "Willow (invented)"), -22.0, "Willow (invented)"),
    28.0,
    42.0,
    "Willow (invented), curved panels",
)
"""Its arch is narrow, so that it is the curve that fails and not the width of the raised front."""
_FOR_A_SHOULDER = panelled_for(LEFT_SHOULDER, "Larch (invented), badly flocked")
FLOCK_GONE_IN_FRONT = replace(
    wider(_FOR_A_SHOULDER, -ONE_SIZE_MM, _FOR_A_SHOULDER.label),
    filling_left=Filling.even((-13.0, -4.0, 0.0, 0.0)),
    lumps=(
        Lump(on_left=True, behind_mm=290.0, across=0.45, height_mm=9.0, radius_mm=22.0),
        Lump(on_left=False, behind_mm=230.0, across=0.5, height_mm=9.0, radius_mm=22.0),
        Lump(on_left=False, behind_mm=345.0, across=0.6, height_mm=8.0, radius_mm=22.0),
    ),
)
_FOR_AN_A_SHAPE = bars_for(A_SHAPED, "Juniper (invented), on bars")
FLAT_BARS = replace(
    _FOR_AN_A_SHAPE,
    bar=replace(_FOR_AN_A_SHAPE.bar, angle_deg=(38.0, 33.0, 32.0)),
    fork=replace(_FOR_AN_A_SHAPE.fork, roof_mm=(78.0, 84.0)),
)

EVERYDAY_NUMNAH = pad_layer(NUMNAH, (6.0, 6.0, 6.0, 6.0))
FELT_UNDER_BARS = pad_layer(FELT_PAD, (20.0, 20.0, 20.0, 20.0))
PULLED_DOWN_NUMNAH = pad_layer(
    NUMNAH, (6.0, 6.0, 6.0, 6.0), cut=PadCut.PULLED_DOWN, name="thin quilted cotton, pulled down"
)


def _record(numbers: SaddleNumbers, arch: str = "bent steel") -> SaddleRecord:
    pads = (FELT_UNDER_BARS,) if isinstance(numbers, BarsNumbers) else ()
    return SaddleRecord(
        label=numbers.label,
        numbers=numbers,
        alterable=usual_alterations(numbers, arch),
        pads=pads,
        notes="An invented saddle.",
    )


SADDLES = tuple(
    _record(numbers)
    for numbers in (
        ALL_ROUND,
        TOO_NARROW,
        TOO_WIDE,
        TOO_LONG,
        BRIDGING,
        ROCKING,
        BADLY_FLOCKED,
        THIN_IN_FRONT,
        TWISTED,
        FOAM_DRESSAGE,
        CUT_BACK,
        BARS,
        SIDE_SADDLE,
        TREELESS,
        FLEXIBLE,
    )
)
"""Every invented saddle, as recorded."""


def saddle(label: str) -> SaddleRecord:
    """Return an invented saddle by its label.

    Raises
    ------
    KeyError
        If no invented saddle has this label.
    """
    return {record.label: record for record in SADDLES}[label]
