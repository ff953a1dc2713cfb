"""Hard limits: what rules a saddle out by a tape alone, before anything is settled.

Length, width and the rider's size, as a fitter checks them on the rack. Each limit is a number that can be
changed, and every saddle that is left out says which limit it broke and by how much.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from math import cos, radians

import numpy as np

from saddlebench.engine.back.surface import BackSurface
from saddlebench.engine.choose.candidates import Candidate, Wanted
from saddlebench.engine.choose.rider_size import SizeRules, Sizes, size_fit
from saddlebench.engine.errors import NotMeasured, Undetermined, is_known
from saddlebench.engine.fit.place import POINT_BEHIND_SHOULDER_MM
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.alterable import ArchRange
from saddlebench.engine.saddle.numbers import (
    BarsNumbers,
    CutBackNumbers,
    PanelledNumbers,
    RigidNumbers,
    SideSaddleNumbers,
)

COMMON_PRACTICE = "common practice"


class HardLimit(StrEnum):
    """What can rule a saddle out."""

    LENGTH = "too long for the back"
    TOO_NARROW = "front too narrow"
    TOO_WIDE = "front too wide"
    SEAT = "seat not the rider's size"
    FLAP = "flap not the rider's length"


@dataclass(frozen=True, slots=True, kw_only=True)
class HardLimits:
    """The limits, each changeable."""

    past_last_rib_mm: float = 40.0
    """How far panels may reach past the last-rib mark: the 20 mm that are still borderline, and the 20 mm by
    which the mark itself is off."""
    bars_past_last_rib_mm: float = 50.0
    """The same for bars: 30 mm and 20 mm."""
    width_mm: float = 30.0
    """How far the front may be off the back's width, beyond what its arch can be set: the 20 mm that are
    still borderline, and 10 mm for the roughness of this arithmetic."""
    stands_clear_mm: float = 55.0
    """Room above the withers at which widths are compared: the middle of what is usual, girthed."""
    sizes: SizeRules = field(default_factory=SizeRules)
    source: str = COMMON_PRACTICE


@dataclass(frozen=True, slots=True, kw_only=True)
class RuledOut:
    """One saddle that is not offered, and why."""

    key: str
    label: str
    limit: HardLimit
    measured: float
    allowed: float
    unit: str

    @property
    def words(self) -> str:
        """One sentence part a person reads."""
        return f"{self.limit}: {self.measured:.3g} {self.unit}, at most {self.allowed:.3g} {self.unit}"


DEFAULT_LIMITS = HardLimits()


def rear_edge_s_mm(numbers: RigidNumbers, wanted: Wanted) -> float:
    """Return how far behind the shoulder mark the rear edge lies with the saddle where it is usually put."""
    edge = shoulder_edge_s_mm(wanted)
    match numbers:
        case CutBackNumbers():
            return rear_edge_s_mm(numbers.base, wanted)
        case PanelledNumbers():
            return edge + POINT_BEHIND_SHOULDER_MM - numbers.tree.behind_mm + numbers.panel.length_mm
        case SideSaddleNumbers():
            length = max(numbers.near.panel.length_mm, numbers.off.panel.length_mm)
            return edge + POINT_BEHIND_SHOULDER_MM - numbers.behind_mm + length
        case BarsNumbers():
            return edge + numbers.bar.length_mm


def shoulder_edge_s_mm(wanted: Wanted) -> float:
    """Return the shoulder edge that lies further back; the shoulder mark where none was felt."""
    marks = (wanted.landmarks.shoulder_left, wanted.landmarks.shoulder_right)
    return max((mark.value_mm for mark in marks if is_known(mark)), default=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontSection:
    """The back's section where the points of a saddle come to lie."""

    out_mm: tuple[FloatArray, FloatArray]
    """(n,) float each, back frame [mm]: distance from the midline, left and right, rising."""
    above_midline_mm: tuple[FloatArray, FloatArray]
    """(n,) float each, back frame [mm]: height above the midline there."""

    @classmethod
    def of(cls, wanted: Wanted) -> "FrontSection":
        """Return the section a little behind the shoulder edge, where points are usually put."""
        return section_at(wanted.surface, shoulder_edge_s_mm(wanted) + POINT_BEHIND_SHOULDER_MM)

    def width_mm(self, above_midline_mm: float) -> float | NotMeasured:
        """Return the back's width at a height above (below: negative) its midline."""
        width = 0.0
        for out, height in zip(self.out_mm, self.above_midline_mm, strict=True):
            below = np.flatnonzero(height <= above_midline_mm)
            if below.size == 0 or below[0] == 0:
                return NotMeasured("the back was not measured as far down as the points reach")
            k = int(below[0])
            part = (height[k - 1] - above_midline_mm) / max(height[k - 1] - height[k], 1e-9)
            width += float(out[k - 1] + part * (out[k] - out[k - 1]))
        return width


def section_at(surface: BackSurface, s_mm: float) -> FrontSection:
    """Return a section of the back by height, at a distance behind the shoulder mark."""
    phi = surface.grid.phi
    radius = surface.spline.radius(np.full(phi.size, s_mm), phi)[:, 0]
    y, z = radius * np.sin(phi), radius * np.cos(phi)
    z = z - float(np.interp(0.0, phi, z))
    right, left = np.flatnonzero(phi <= 0.0)[::-1], np.flatnonzero(phi >= 0.0)
    return FrontSection(out_mm=(y[left], -y[right]), above_midline_mm=(z[left], z[right]))


def width_off_mm(
    numbers: RigidNumbers, front: FrontSection, pad_mm: float, limits: HardLimits = DEFAULT_LIMITS
) -> float | NotMeasured | Undetermined:
    """Return how much wider the points stand than the back, with the arch upright and clear of the withers.

    The inside width between the point ends, less the panel and pad on both inner faces, against the back's
    width at the height of the point ends: `W − 2 (cover + pad)/cos α − B(top + clear − depth)`.

    Parameters
    ----------
    numbers : the saddle
    front : the back's section under the points
    pad_mm : thickness of all pads under the front
    limits : for the room above the withers

    Returns
    -------
    float | NotMeasured | Undetermined
        Above 0: too wide. Bars have no points, and no width of this kind.
    """
    match numbers:
        case BarsNumbers():
            return Undetermined("bars have no points")
        case CutBackNumbers():
            return width_off_mm(numbers.base, front, pad_mm, limits)
        case PanelledNumbers():
            tree, out = numbers.tree, numbers.off_side.point_out_mm
            width, depth, half = tree.width_mm + out, tree.depth_mm, 0.5 * tree.angle_deg
            cover = tree.cover_mm
        case SideSaddleNumbers():
            # the off side, whose point is of ordinary length
            width, depth = 2.0 * numbers.off.half_width_mm, numbers.off.depth_mm
            half, cover = numbers.off.half_angle_deg, numbers.cover_mm
    there = front.width_mm(limits.stands_clear_mm - depth)
    if not is_known(there):
        return there
    return width - 2.0 * (cover + pad_mm) / cos(radians(half)) - there


def broken_limit(
    candidate: Candidate,
    numbers: RigidNumbers,
    wanted: Wanted,
    front: FrontSection,
    pad_mm: float = 0.0,
    limits: HardLimits = DEFAULT_LIMITS,
) -> RuledOut | None:
    """Return the first hard limit that a saddle breaks; None if it breaks none.

    A limit whose measure is missing (no last rib felt, no thigh given) rules nothing out.
    """
    return (
        _size(candidate, wanted, limits)
        or _length(candidate, numbers, wanted, limits)
        or _width(candidate, numbers, front, pad_mm, limits)
    )


def _length(
    candidate: Candidate, numbers: RigidNumbers, wanted: Wanted, limits: HardLimits
) -> RuledOut | None:
    rib = wanted.landmarks.last_rib
    if not is_known(rib):
        return None
    past = rear_edge_s_mm(numbers, wanted) - rib.value_mm
    is_bars = isinstance(numbers, BarsNumbers)
    allowed = limits.bars_past_last_rib_mm if is_bars else limits.past_last_rib_mm
    if past <= allowed:
        return None
    return _ruled_out(candidate, HardLimit.LENGTH, past, allowed, "mm past the last-rib mark")


def _width(
    candidate: Candidate, numbers: RigidNumbers, front: FrontSection, pad_mm: float, limits: HardLimits
) -> RuledOut | None:
    off = width_off_mm(numbers, front, pad_mm, limits)
    if not is_known(off):
        return None
    arch = candidate.record.alterable.arch
    wider, narrower = (arch.wider_mm, arch.narrower_mm) if isinstance(arch, ArchRange) else (0.0, 0.0)
    if -off > limits.width_mm + wider:
        return _ruled_out(candidate, HardLimit.TOO_NARROW, -off, limits.width_mm + wider, "mm")
    if off > limits.width_mm + narrower:
        return _ruled_out(candidate, HardLimit.TOO_WIDE, off, limits.width_mm + narrower, "mm")
    return None


def width_is_within(
    numbers: RigidNumbers, front: FrontSection, pad_mm: float, limits: HardLimits = DEFAULT_LIMITS
) -> bool:
    """Tell whether a front, as it is set, is within the limit of width, or cannot be told by a tape."""
    off = width_off_mm(numbers, front, pad_mm, limits)
    return not is_known(off) or abs(off) <= limits.width_mm


def _size(candidate: Candidate, wanted: Wanted, limits: HardLimits) -> RuledOut | None:
    rules = limits.sizes
    sizes = Sizes(seat_in=candidate.seat_in, flap_mm=candidate.flap_mm)
    fit = size_fit(sizes, wanted.rider_size, rules)
    if is_known(fit.seat_off_in) and abs(fit.seat_off_in) > rules.seat_most_in:
        return _ruled_out(candidate, HardLimit.SEAT, abs(fit.seat_off_in), rules.seat_most_in, "in off")
    if is_known(fit.flap_off_mm) and abs(fit.flap_off_mm) > rules.flap_reach_mm:
        return _ruled_out(candidate, HardLimit.FLAP, abs(fit.flap_off_mm), rules.flap_reach_mm, "mm off")
    return None


def _ruled_out(
    candidate: Candidate, limit: HardLimit, measured: float, allowed: float, unit: str
) -> RuledOut:
    return RuledOut(
        key=candidate.key, label=candidate.label, limit=limit, measured=measured, allowed=allowed, unit=unit
    )
