"""What may be altered on a saddle, and how far; and why nothing may where nothing may.

Limits are common practice and are changed per saddle.
"""

from dataclasses import dataclass

from saddlebench.engine.saddle.bars import BarsNumbers
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.materials import AIR, FELT_PANEL, FOAM, Material
from saddlebench.engine.saddle.numbers import SaddleNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import PanelNumbers
from saddlebench.engine.saddle.side_saddle import SideSaddleNumbers
from saddlebench.engine.saddle.zones import ByZone

COMMON_PRACTICE = "common practice"
WORKABLE_STEP_MM = 3.0
"""Changes of fill smaller than this are not workable (common practice)."""
HALVES_FROM_MM = 70.0
"""Inner and outer half of a panel are filled separately only where it is at least this wide."""
SHIMS_MM = (3.0, 5.0, 6.0, 8.0, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class NotAlterable:
    """A part that may not be altered, and why."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FillRange:
    """How much fill may be added to, and taken from, each zone of one panel."""

    add_mm: ByZone = (10.0, 6.0, 6.0, 10.0)
    take_mm: ByZone = (6.0, 4.0, 4.0, 6.0)
    step_mm: float = WORKABLE_STEP_MM
    halves_apart: tuple[bool, bool, bool, bool] = (True, True, True, True)
    """Whether inner and outer half may differ, by zone."""
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchRange:
    """How far the front arch may be set at the point ends."""

    narrower_mm: float
    wider_mm: float
    step_mm: float = 5.0
    how: str
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class Shims:
    """Shims between tree and panel, or under a pad."""

    thicknesses_mm: tuple[float, ...] = SHIMS_MM
    thickest_mm: float = 6.0
    bevel_mm: float = 40.0
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class StrapChoices:
    """Girth straps that may be used or fitted, by name; the first two are in use."""

    names: tuple[str, ...]
    may_be_added: tuple[str, ...] = ("point strap",)


@dataclass(frozen=True, slots=True, kw_only=True)
class PadChoice:
    """A pad may be added or changed."""

    thickest_mm: float = 15.0
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class Alterable:
    """What may be altered on one saddle, and how far."""

    fill_left: FillRange | NotAlterable
    fill_right: FillRange | NotAlterable
    arch: ArchRange | NotAlterable
    shims: Shims | NotAlterable
    straps: StrapChoices | NotAlterable
    pad: PadChoice | NotAlterable

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why each part that may not be altered may not be, each reason once."""
        parts = (self.fill_left, self.fill_right, self.arch, self.shims, self.straps, self.pad)
        return tuple(dict.fromkeys(part.reason for part in parts if isinstance(part, NotAlterable)))


ARCH_NOT_KNOWN = NotAlterable(
    reason="the tree's record does not say that the arch may be set; ask its builder before trying"
)
_BENT_STEEL = ArchRange(narrower_mm=15.0, wider_mm=15.0, how="bent steel, cold, once or twice in its life")
_EXCHANGEABLE = ArchRange(narrower_mm=40.0, wider_mm=40.0, step_mm=20.0, how="exchange of the arch")
ARCHES: dict[str, ArchRange | NotAlterable] = {
    "bent steel": _BENT_STEEL,
    "exchangeable": _EXCHANGEABLE,
    "moulded": NotAlterable(reason="a moulded tree is altered by its builder only"),
    "cracked or riveted": NotAlterable(
        reason="an arch that is cracked or has been riveted is never set again"
    ),
    "not known": ARCH_NOT_KNOWN,
}
"""What a tree's record may say of its arch, by the word a record uses."""


def usual_alterations(numbers: SaddleNumbers, arch: str = "not known") -> Alterable:
    """Return what common practice lets a fitter alter on a saddle of this family and fill.

    Parameters
    ----------
    numbers : the description
    arch : one of `ARCHES`

    Raises
    ------
    KeyError
        If `arch` is not one of `ARCHES`.
    """
    match numbers:
        case CutBackNumbers():
            base = numbers.base
            return _panelled(base.panel, base.panel, arch, _strap_names(base))
        case PanelledNumbers():
            return _panelled(numbers.panel, numbers.panel, arch, _strap_names(numbers))
        case SideSaddleNumbers():
            names = tuple(strap.name for strap in numbers.fittings.straps)
            return _panelled(numbers.near.panel, numbers.off.panel, arch, names)
        case BarsNumbers():
            return _BARS
        case _:
            return _NOT_RIGID


def _strap_names(numbers: PanelledNumbers) -> tuple[str, ...]:
    return tuple(strap.name for strap in numbers.fittings.straps)


def _panelled(near: PanelNumbers, off: PanelNumbers, arch: str, straps: tuple[str, ...]) -> Alterable:
    return Alterable(
        fill_left=_fill(near),
        fill_right=_fill(off),
        arch=ARCHES[arch],
        shims=Shims() if near.fill in (FOAM, FELT_PANEL) else Shims(thickest_mm=10.0),
        straps=StrapChoices(names=straps),
        pad=PadChoice(),
    )


def _fill(panel: PanelNumbers) -> FillRange | NotAlterable:
    why = _NO_FLOCKING.get(panel.fill.name)
    if why is not None:
        return why
    front, waist, rear = (width >= HALVES_FROM_MM for width in panel.width_mm)
    return FillRange(halves_apart=(front, waist, waist, rear))


def _because(fill: Material, reason: str) -> tuple[str, NotAlterable]:
    return fill.name, NotAlterable(reason=reason)


_NO_FLOCKING = dict(
    (
        _because(FOAM, "a foam panel is not flocked: shims up to 6 mm, a recut panel, or a change to wool"),
        _because(AIR, "air is set with the rider up, not in millimetres"),
        _because(FELT_PANEL, "a felt panel is not flocked: shims, or a new panel"),
    )
)
_BARS = Alterable(
    fill_left=NotAlterable(reason="bars have no flock"),
    fill_right=NotAlterable(reason="bars have no flock"),
    arch=NotAlterable(reason="the spread of the bars is changed by rebuilding the tree only"),
    shims=Shims(thickest_mm=10.0),
    straps=StrapChoices(names=("front rigging", "rear rigging"), may_be_added=()),
    pad=PadChoice(thickest_mm=30.0),
)
_NO_RULE = NotAlterable(reason="a saddle without a rigid tree is altered by its inserts, by hand and eye")
_NOT_RIGID = Alterable(
    fill_left=_NO_RULE,
    fill_right=_NO_RULE,
    arch=NotAlterable(reason="there is no rigid front arch"),
    shims=_NO_RULE,
    straps=NotAlterable(reason="where its straps may be fitted is not recorded"),
    pad=PadChoice(thickest_mm=30.0),
)
