"""Instruments as data: what is read off them, their geometry, and the errors they state of themselves.

Angles are in degrees and lengths in mm here, as people state them. A joint's angle is positive where it bends
the next link down towards the back. Every count (links, pins, marks) is the instrument's own.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from saddlebench.engine.back.joined import JoinedPieces
from saddlebench.engine.errors import InputProblemsError, Problem, Where

MAX_LENGTH_MM = 3000.0
"""No part of an instrument for a horse's back is longer than a horse."""
MAX_PARTS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A dial or rule: how much one unit of a reading is, and which readings it can show."""

    per_division: float = 1.0
    """Degrees (a joint) or mm (a pin) in one unit of the reading."""
    lowest: float
    """Lowest reading, in its own unit."""
    highest: float
    """Highest reading, in its own unit."""
    step: float
    """The smallest step that is read off, in the reading's own unit."""

    @property
    def rounding_sd(self) -> float:
        """Standard deviation of reading to the nearest step, in degrees or mm.

        A rectangle of width one step: JCGM 100:2008, F.2.2.1.
        """
        return abs(self.per_division) * self.step / math.sqrt(12.0)

    def shows(self, reading: float) -> bool:
        """Tell whether the scale reaches a reading."""
        slack = 1e-9 * max(1.0, abs(self.highest - self.lowest))
        return self.lowest - slack <= reading <= self.highest + slack

    def nearest(self, amount: float) -> float:
        """Return the reading, on the scale and in whole steps, closest to an amount in degrees or mm."""
        first = math.ceil(self.lowest / self.step - 1e-9)
        last = math.floor(self.highest / self.step + 1e-9)
        steps = round(amount / self.per_division / self.step)
        return round(min(max(steps, first), last) * self.step, 9)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """How well an instrument is put on a back: standard deviations, the same for every family."""

    along_mm: float = 3.0
    """Of a station's place along the back [mm]."""
    midline_mm: float = 1.0
    """Of the instrument's middle beside the dorsal midline [mm]."""
    tilt_deg: float = 1.0
    """Of leaning to one side, per station [°]."""
    lean_deg: float = 1.0
    """Of leaning forward or back out of the station's plane, per station [°]."""
    contact_mm: float = 1.0
    """Of how hard each point presses into coat and skin [mm]."""
    height_mm: float = 2.0
    """Of a height of the topline typed for a distance [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainArm:
    """Rigid links, joint to joint, outward from the midline (or back along the topline).

    **Contact**: one pad per link touches the back and nothing else does; a pad is fixed to its link,
    `pad_along_mm` from the inner joint and `pad_below_mm` under the link's line. The common chain touches at
    its joints: the pad lies at the outer end. What lies between two pads is not claimed to be measured.
    """

    link_mm: tuple[float, ...]
    """Length of every link, joint to joint [mm]; joint 1 is the inner end of link 1."""
    first_joint_out_mm: float = 0.0
    """From the midline (or the start mark) to joint 1, outward (or back) [mm]."""
    first_joint_up_mm: float = 0.0
    """Joint 1 above the skin at the midline (or the start mark) [mm]."""
    pad_along_mm: tuple[float, ...]
    """Of every link: inner joint to pad, along the link [mm]."""
    pad_below_mm: tuple[float, ...]
    """Of every link: its line to the pad's tip, towards the back [mm]."""
    zero_deg: tuple[float, ...]
    """Of every joint: its angle when the dial shows 0 [°]."""
    scale: Scale
    """Of a joint: degrees in one unit of the reading, range, step."""
    joint_sd_deg: tuple[float, ...]
    """Of every joint: standard deviation of one reading beyond the rounding [°]."""
    zero_sd_deg: float
    """Standard deviation of every joint's zero, the same error at every station [°]."""

    @property
    def n_links(self) -> int:
        """Number of links, and of joints."""
        return len(self.link_mm)


def even_arm(
    n_links: int,
    link_mm: float,
    scale: Scale,
    *,
    joint_sd_deg: float = 0.5,
    zero_sd_deg: float = 0.3,
    first_joint_out_mm: float = 0.0,
    first_joint_up_mm: float = 0.0,
) -> ChainArm:
    """Return an arm of equal links that touches the back at its joints."""
    return ChainArm(
        link_mm=(link_mm,) * n_links,
        first_joint_out_mm=first_joint_out_mm,
        first_joint_up_mm=first_joint_up_mm,
        pad_along_mm=(link_mm,) * n_links,
        pad_below_mm=(0.0,) * n_links,
        zero_deg=(0.0,) * n_links,
        scale=scale,
        joint_sd_deg=(joint_sd_deg,) * n_links,
        zero_sd_deg=zero_sd_deg,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ToplineChain:
    """A chain laid back along the topline: its first link is read against a level, the others at joints."""

    arm: ChainArm
    """Its joint 1 is the first link's level: `zero_deg[0]` and `joint_sd_deg[0]` are the level's."""
    level_step_deg: float = 0.5
    """The smallest step read off the level [°]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JointedChain:
    """Two arms of links that start beside the midline and are laid down over the ribs."""

    name: str
    left: ChainArm
    right: ChainArm
    topline: ToplineChain | None = None
    placing: Placing = Placing()

    def __post_init__(self) -> None:
        problems = _arm_problems(self.left, "left") + _arm_problems(self.right, "right")
        if self.topline is not None:
            problems += _arm_problems(self.topline.arm, "topline")
            problems += _out_of(self.topline.level_step_deg, "level_step_deg", 1e-6, 10.0)
        _refuse(self.name, problems + _placing_problems(self.placing))


@dataclass(frozen=True, slots=True, kw_only=True)
class PinComb:
    """A bar with sliding pins at a fixed pitch, held across the back; a reading is a pin's depth below it.

    Pins are counted from 1 at the horse's left. With `offset_mm` unset, the comb's height is taken from its
    own pin (or the two pins) over the midline.
    """

    name: str
    pitch_mm: float
    n_pins: int
    midline_pin: float
    """The pin over the midline; 12.5 when the midline lies halfway between pins 12 and 13."""
    scale: Scale
    """Of a pin: mm in one unit of the reading, range, step."""
    pin_sd_mm: float = 0.5
    """Standard deviation of one reading beyond the rounding [mm]."""
    zero_sd_mm: float = 0.2
    """Standard deviation of every pin's zero, the same error at every station [mm]."""
    offset_mm: float | None = None
    """The bar's zero above the skin at the midline, when the comb stands on a foot of its own [mm]."""
    offset_sd_mm: float = 0.5
    """Standard deviation of that offset, per station [mm]."""
    placing: Placing = Placing()

    def __post_init__(self) -> None:
        problems = _out_of(self.pitch_mm, "pitch_mm", 0.1, MAX_LENGTH_MM)
        problems += _out_of(self.n_pins, "n_pins", 3, MAX_PARTS)
        problems += _out_of(self.midline_pin, "midline_pin", 1, self.n_pins)
        problems += _out_of(self.pin_sd_mm, "pin_sd_mm", 0.0, 100.0)
        problems += _out_of(self.zero_sd_mm, "zero_sd_mm", 0.0, 100.0)
        problems += _out_of(self.offset_sd_mm, "offset_sd_mm", 0.0, 100.0)
        if self.offset_mm is not None:
            problems += _out_of(self.offset_mm, "offset_mm", -MAX_LENGTH_MM, MAX_LENGTH_MM)
        if abs(2 * self.midline_pin - round(2 * self.midline_pin)) > 1e-9:
            problems.append(_problem("midline_pin", "must be a pin, or halfway between two"))
        _refuse(self.name, problems + _scale_problems(self.scale, "scale") + _placing_problems(self.placing))

    def across_mm(self, pin: float) -> float:
        """Return where a pin stands across the back, positive left of the midline [mm]."""
        return (self.midline_pin - pin) * self.pitch_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedCurve:
    """A flexible curve bent to the back, lifted, and traced on paper; a reading is a point of the tracing."""

    name: str
    mm_per_unit: float = 1.0
    """Millimetres on the horse for one unit on the sheet."""
    scale_sd: float = 0.0
    """Relative standard deviation of that scale, the same error at every station."""
    spring_back_sd_mm: float = 3.0
    """Standard deviation of how far each end springs when the curve is lifted [mm]."""
    point_sd_mm: float = 1.0
    """Standard deviation of pencil and rule, each point, beyond the rounding [mm]."""
    step: float = 1.0
    """The smallest step read off the sheet, in its own unit."""
    placing: Placing = Placing()

    def __post_init__(self) -> None:
        problems = _out_of(self.mm_per_unit, "mm_per_unit", 1e-3, 1e3)
        problems += _out_of(self.scale_sd, "scale_sd", 0.0, 0.5)
        problems += _out_of(self.spring_back_sd_mm, "spring_back_sd_mm", 0.0, 100.0)
        problems += _out_of(self.point_sd_mm, "point_sd_mm", 0.0, 100.0)
        problems += _out_of(self.step, "step", 1e-6, 1e6)
        _refuse(self.name, problems + _placing_problems(self.placing))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """A mesh or cloud of the back, cut into sections after gravity, heading and marks are set."""

    name: str
    point_sd_mm: float = 1.0
    """Standard deviation of the surface's own noise [mm]."""
    smoothing_mm: float = 5.0
    """Width over which the scanner smooths: finer shape than this is not to be believed [mm]."""
    registration_sd_mm: float = 1.0
    """Of each shift when the scan is set to the marks, the same error at every point [mm]."""
    registration_sd_deg: float = 0.5
    """Of each turn when the scan is set to gravity and heading, the same error at every point [°]."""
    scale_sd: float = 0.0
    """Relative standard deviation of the scan's size, the same error at every point [1]."""
    joined: JoinedPieces | None = None
    """Its pieces, back frame, where it was merged from several scans."""
    placing: Placing = Placing(
        along_mm=0.0, midline_mm=0.0, tilt_deg=0.0, lean_deg=0.0, contact_mm=0.0, height_mm=0.0
    )

    def __post_init__(self) -> None:
        problems = _out_of(self.point_sd_mm, "point_sd_mm", 0.0, 100.0)
        problems += _out_of(self.smoothing_mm, "smoothing_mm", 0.0, 200.0)
        problems += _out_of(self.registration_sd_mm, "registration_sd_mm", 0.0, 100.0)
        problems += _out_of(self.registration_sd_deg, "registration_sd_deg", 0.0, 45.0)
        problems += _out_of(self.scale_sd, "scale_sd", 0.0, 0.5)
        _refuse(self.name, problems + _placing_problems(self.placing))


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeAndHand:
    """A tape and an angle: widths across the back at stated depths, and how steep each side falls.

    Both hands (or two boards) lie upright against the sides at a stated depth below the midline, and the tape
    is read across between them. A phone or a folded card is laid on each side, its upper edge at the first of
    those places, and its fall against level is read. The deviations are assumptions, from memory.
    """

    name: str
    width_depths_mm: tuple[float, ...] = (30.0, 150.0)
    """Below the skin at the midline, rising: at which a width is taken [mm]."""
    width: Scale = Scale(lowest=20.0, highest=900.0, step=5.0)
    """Of a width: mm in one unit of the reading, range, step."""
    width_sd_mm: float = 8.0
    """Standard deviation of one width beyond the rounding [mm]."""
    depth_sd_mm: float = 6.0
    """Standard deviation of the depth at which a hand lies, each side [mm]."""
    sides_sd_mm: float = 12.0
    """A width does not tell the sides apart: how far its middle may stand beside the midline, the same error
    at every station [mm]."""
    card_mm: float = 100.0
    """Length of the card or phone, downwards along the side [mm]."""
    angle: Scale = Scale(lowest=0.0, highest=95.0, step=1.0)
    """Of the card's fall: degrees below level in one unit of the reading, range, step."""
    angle_sd_deg: float = 5.0
    """Standard deviation of one angle beyond the rounding [°]."""
    placing: Placing = Placing(
        along_mm=10.0, midline_mm=5.0, tilt_deg=2.0, lean_deg=2.0, contact_mm=4.0, height_mm=8.0
    )

    def __post_init__(self) -> None:
        problems = _out_of(len(self.width_depths_mm), "number of depths", 1, 12)
        for i, depth in enumerate(self.width_depths_mm, start=1):
            problems += _out_of(depth, f"width_depths_mm, value {i},", 5.0, 400.0)
        if any(b - a < 10.0 for a, b in pairwise(self.width_depths_mm)):
            problems.append(_problem("width_depths_mm", "must rise by at least 10 mm from each to the next"))
        for name in ("width_sd_mm", "depth_sd_mm", "sides_sd_mm"):
            problems += _out_of(getattr(self, name), name, 0.0, 100.0)
        problems += _out_of(self.card_mm, "card_mm", 30.0, 300.0)
        problems += _out_of(self.angle_sd_deg, "angle_sd_deg", 0.0, 45.0)
        problems += _scale_problems(self.width, "width") + _scale_problems(self.angle, "angle")
        _refuse(self.name, problems + _placing_problems(self.placing))


Instrument = JointedChain | PinComb | TracedCurve | Scan | TapeAndHand


def holds_shape(instrument: Instrument) -> bool:
    """Tell whether an instrument can be set to readings and then shows the back that they are of."""
    return not isinstance(instrument, Scan | TapeAndHand)


def only_rounds(instrument: Instrument) -> bool:
    """Tell whether sections are wrong by the rounding of their readings alone.

    A comb that takes its height from its own pin does not: every reading then carries that pin's rounding.
    """
    placing = instrument.placing
    if any((placing.along_mm, placing.midline_mm, placing.tilt_deg, placing.lean_deg, placing.contact_mm)):
        return False
    match instrument:
        case JointedChain():
            return not any(
                sd
                for arm in (instrument.left, instrument.right)
                for sd in (*arm.joint_sd_deg, arm.zero_sd_deg)
            )
        case PinComb():
            own = (instrument.pin_sd_mm, instrument.zero_sd_mm, instrument.offset_sd_mm)
            return instrument.offset_mm is not None and not any(own)
        case TracedCurve():
            return not any((instrument.point_sd_mm, instrument.spring_back_sd_mm))
        case Scan() | TapeAndHand():
            return False


def _problem(field: str, what: str) -> Problem:
    return Problem(what=f"{field} {what}", cure="Correct the instrument's description.")


def _out_of(value: float, field: str, lowest: float, highest: float) -> list[Problem]:
    if math.isfinite(value) and lowest <= value <= highest:
        return []
    return [_problem(field, f"is {value:g}; it must be a number between {lowest:g} and {highest:g}")]


def _scale_problems(scale: Scale, field: str) -> list[Problem]:
    problems = _out_of(abs(scale.per_division), f"{field}.per_division", 1e-6, 1e3)
    problems += _out_of(scale.lowest, f"{field}.lowest", -1e6, 1e6)
    problems += _out_of(scale.highest, f"{field}.highest", -1e6, 1e6)
    problems += _out_of(scale.step, f"{field}.step", 1e-6, 1e6)
    if not problems and not scale.highest - scale.lowest >= scale.step:
        problems.append(_problem(f"{field}.highest", "must lie at least one step above the lowest reading"))
    return problems


def _placing_problems(placing: Placing) -> list[Problem]:
    limits = {"along_mm": 200.0, "midline_mm": 100.0, "tilt_deg": 45.0, "lean_deg": 45.0}
    limits |= {"contact_mm": 100.0, "height_mm": 100.0}
    return [
        problem
        for name, highest in limits.items()
        for problem in _out_of(getattr(placing, name), f"placing.{name}", 0.0, highest)
    ]


def _arm_problems(arm: ChainArm, field: str) -> list[Problem]:
    problems = _out_of(arm.n_links, f"{field}: number of links", 1, MAX_PARTS)
    rows = {
        "link_mm": (arm.link_mm, 0.1, MAX_LENGTH_MM),
        "pad_along_mm": (arm.pad_along_mm, 0.1, MAX_LENGTH_MM),
        "pad_below_mm": (arm.pad_below_mm, -MAX_LENGTH_MM, MAX_LENGTH_MM),
        "zero_deg": (arm.zero_deg, -180.0, 180.0),
        "joint_sd_deg": (arm.joint_sd_deg, 0.0, 45.0),
    }
    for name, (values, lowest, highest) in rows.items():
        if len(values) != arm.n_links:
            problems.append(_problem(f"{field}.{name}", f"has {len(values)} values for {arm.n_links} links"))
        for i, value in enumerate(values, start=1):
            problems += _out_of(value, f"{field}.{name}, value {i},", lowest, highest)
    problems += _out_of(arm.first_joint_out_mm, f"{field}.first_joint_out_mm", -MAX_LENGTH_MM, MAX_LENGTH_MM)
    problems += _out_of(arm.first_joint_up_mm, f"{field}.first_joint_up_mm", -MAX_LENGTH_MM, MAX_LENGTH_MM)
    problems += _out_of(arm.zero_sd_deg, f"{field}.zero_sd_deg", 0.0, 45.0)
    return problems + _scale_problems(arm.scale, f"{field}.scale")


def _refuse(name: str, problems: list[Problem]) -> None:
    if not name.strip():
        problems = [*problems, _problem("name", "is empty")]
    if problems:
        where = Where(field=name.strip()[:80])
        raise InputProblemsError(
            [Problem(what=p.what, cure=p.cure, where=where, weight=p.weight) for p in problems]
        )
