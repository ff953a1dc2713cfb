"""Curves traced across an upturned saddle become sections in its frame: levelled, set at height, compared.

A curve laid across both panels spans the channel. Where the panels' inner edges are is marked on it, and so
is the middle. Its level is not on the paper: a rule laid across both panels touches them where a rule laid
under the tracing does, and how that rule leant was read at each section with a level. Without that, each
section lies level on its rule: neither the twist nor which panel stands out more can then be told.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin, sqrt, tan

import numpy as np

from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import REAR, WAIST
from saddlebench.engine.saddle.sections import UndersideSection, sections_of
from saddlebench.engine.saddle.shape_error import SaddleError

FEWEST_LEANS = 3
_SPRUNG = 0.4
"""Of how far a curve's end springs, so much on average over a panel's face: it grows outwards."""
_COMPARED = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveAcross:
    """One curve, in its own tracing's frame: the middle at 0, its paper's level."""

    behind_mm: float
    """Distance behind the front edge of the panels."""
    near: FloatArray
    """(k, 2) float, out from the middle and up [mm], from the panel's inner edge outwards."""
    off: FloatArray
    """(m, 2) float: the same of the off panel."""
    edges_are_marked: bool = True
    """Whether strokes on the tracing say where the inner edges are; else a width that was typed does."""
    lean: float | None = None
    """Of a rule laid across both panels, saddle upside down, near side higher counts up [rad]; None: not
    read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TracingErrors:
    """Standard deviations of what a tracing is made of (judgement, unless photo or instrument state them)."""

    point_mm: float = 0.6
    """Of a point: pen, paper, photo."""
    spring_mm: float = 3.0
    """How far each end of the curve springs when it is lifted."""
    scale: float = 0.005
    """Of the printed sheet's size [1]."""
    edge_mm: float = 1.5
    """Of a stroke where a panel's inner edge is: the edge itself is round."""
    middle_mm: float = 1.0
    lean: float = radians(0.5)
    """Of a level read on a rule across two panels [rad]."""
    height_mm: float = 1.0
    """Of the gap between a rod laid along a panel and its inner edge."""
    untold_twist_mm: float = 5.0
    """Of near rear against off rear where no rule's lean was read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionTold:
    """What one section says."""

    behind_mm: float
    channel_mm: float
    channel_sd_mm: float
    near_width_mm: float
    """Of the near panel's face, along it."""
    off_width_mm: float
    width_sd_mm: float
    """Of either."""
    near_stands_out_mm: float | Undetermined
    """Near panel against off panel across their faces, on average: positive where near stands out more."""
    stands_out_sd_mm: float

    @property
    def is_uneven(self) -> bool:
        """Whether one panel surely stands out more than the other."""
        out = self.near_stands_out_mm
        return not isinstance(out, Undetermined) and abs(out) >= max(2.0, 2.0 * self.stands_out_sd_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Twist:
    """How far the rear is turned against the front, about the saddle's length; by tree or by flock."""

    angle: float
    """Positive: near side up at the rear, saddle as it sits [rad]."""
    sd: float

    @property
    def is_told(self) -> bool:
        """Whether it is more than its error makes."""
        return abs(self.angle) > 3.0 * self.sd


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedUnderside:
    """The underside that the curves make."""

    sections: tuple[UndersideSection, ...]
    """From front to rear, saddle frame."""
    told: tuple[SectionTold, ...]
    twist: Twist | Undetermined
    heights_measured: bool
    """Whether a rod along a panel said how high the sections lie; else the saddle's numbers do."""
    edges_are_marked: bool
    """Whether strokes said all inner edges."""
    off_numbers_mm: float
    """How far the faces lie off the saddle's numbers, root mean square."""
    error: SaddleError


NO_LEANS = Undetermined(
    "no rule’s lean was read at the sections: their level against each other is not known"
)


def rule_angle(near: FloatArray, off: FloatArray) -> float:
    """Return how a rule lies that touches both panels from below [rad], near side up counts up.

    Parameters
    ----------
    near, off : (k, 2) float, (m, 2) float, out from the middle and up, saddle as it sits [mm]
    """
    (yn, zn), (yo, zo) = near.T[:, :, None], off.T[:, None, :]
    # Of all lines through a point of either side, the one that is lowest at the middle has none below it.
    at_middle = (zn * yo + zo * yn) / (yn + yo)
    i, j = np.unravel_index(int(np.argmin(at_middle)), at_middle.shape)
    return float(np.arctan2(near[i, 1] - off[j, 1], near[i, 0] + off[j, 0]))


def underside_across(
    curves: Sequence[CurveAcross],
    numbers: PanelledNumbers,
    pattern: SaddleModel,
    errors: TracingErrors,
    gaps_mm: Sequence[float] | None = None,
) -> TracedUnderside:
    """Return the underside that curves across it make.

    Parameters
    ----------
    curves : in any order, all at different places
    numbers : the saddle by its numbers
    pattern : the model that those numbers make
    errors : how sure the tracings are
    gaps_mm : at each curve, how far the near panel's inner edge lies from a straight rod laid along it [mm];
        None: the numbers say how high the sections lie
    """
    order = np.argsort([one.behind_mm for one in curves])
    ordered = [curves[k] for k in order]
    behind = np.array([one.behind_mm for one in ordered])
    turns, twist = _turns(ordered, behind, numbers, errors)
    levelled = [_levelled(one, turn) for one, turn in zip(ordered, turns, strict=True)]
    gaps = None if gaps_mm is None else np.asarray(gaps_mm, float)[order]
    lifts = _lifts(levelled, behind, numbers, pattern, gaps)
    up = np.column_stack([np.zeros(len(lifts)), lifts])
    moved = [(near + by, off + by) for (near, off), by in zip(levelled, up, strict=True)]
    sections = tuple(
        UndersideSection(
            behind_mm=float(place), left=np.round(near, 2), right=np.round(off * np.array([-1.0, 1.0]), 2)
        )
        for place, (near, off) in zip(behind, moved, strict=True)
    )
    return TracedUnderside(
        sections=sections,
        told=tuple(_told(one, *sides, errors) for one, sides in zip(ordered, moved, strict=True)),
        twist=twist,
        heights_measured=gaps is not None,
        edges_are_marked=all(one.edges_are_marked for one in ordered),
        off_numbers_mm=_off_numbers(sections, pattern),
        error=tracing_error(ordered, twist, errors, heights_measured=gaps is not None),
    )


def tracing_error(
    curves: Sequence[CurveAcross],
    twist: Twist | Undetermined,
    errors: TracingErrors,
    *,
    heights_measured: bool,
) -> SaddleError:
    """Return how well the saddle's shape is known after tracings of its underside.

    What a curve across the panels does not show stays as by tape: the tree's width at its points, the arch
    and the channel's roof, front and rear against the seat.
    """
    tape = SaddleError()
    reach = float(np.mean([0.5 * (one.near[-1, 0] + one.off[-1, 0]) for one in curves]))
    face = float(np.mean([0.5 * (np.ptp(one.near[:, 0]) + np.ptp(one.off[:, 0])) for one in curves]))
    channel = float(np.mean([one.near[0, 0] + one.off[0, 0] for one in curves]))
    # A curve that opens evenly has its ends off by the square of their distance: over the face, this slope.
    slope = errors.spring_mm * (1.0 - ((reach - face) / reach) ** 2) / face
    inner = errors.edge_mm if all(one.edges_are_marked for one in curves) else tape.channel_mm / sqrt(2.0)
    return SaddleError(
        arch_width_mm=tape.arch_width_mm,
        front_height_mm=hypot(tape.front_height_mm, errors.point_mm),
        rear_height_mm=hypot(tape.rear_height_mm, errors.point_mm),
        rocker_mm=hypot(errors.height_mm if heights_measured else tape.rocker_mm, errors.point_mm),
        face_angle=hypot(slope, sqrt(2.0) * errors.point_mm / face),
        twist_mm=errors.untold_twist_mm
        if isinstance(twist, Undetermined)
        else max(errors.point_mm, 2.0 * reach * twist.sd),
        channel_mm=hypot(sqrt(2.0) * inner, errors.scale * channel),
        roof_mm=tape.roof_mm,
    )


def _turns(
    curves: Sequence[CurveAcross], behind: FloatArray, numbers: PanelledNumbers, errors: TracingErrors
) -> tuple[FloatArray, Twist | Undetermined]:
    """Return by how much each curve is turned, (n,) float [rad], and the twist."""
    own = np.array([rule_angle(one.near, one.off) for one in curves])
    read = np.array([one.lean is not None for one in curves])
    if read.sum() < FEWEST_LEANS:
        return -own, NO_LEANS
    # Upside down, near side higher, is near side lower as it sits.
    lies = -np.array([0.0 if one.lean is None else one.lean for one in curves])
    slope, level = np.polyfit(behind[read], lies[read], 1)
    front, rear = numbers.tree.behind_mm, REAR * numbers.panel.length_mm
    lies = np.where(read, lies, level + slope * behind) - (level + slope * front)
    spread = float(((behind[read] - behind[read].mean()) ** 2).sum())
    twist = Twist(
        angle=float(slope * (rear - front)), sd=float(errors.lean * (rear - front) / np.sqrt(spread))
    )
    return lies - own, twist


def _levelled(curve: CurveAcross, turn: float) -> tuple[FloatArray, FloatArray]:
    """Return both sides outwards, (k, 2) float each, after a turn [rad] about the middle, near side up."""
    sides = []
    for line, sign in ((curve.near, 1.0), (curve.off, -1.0)):
        y, z = sign * line[:, 0], line[:, 1]
        sides.append(np.column_stack([sign * (y * cos(turn) - z * sin(turn)), y * sin(turn) + z * cos(turn)]))
    return sides[0], sides[1]


def _lifts(
    levelled: Sequence[tuple[FloatArray, FloatArray]],
    behind: FloatArray,
    numbers: PanelledNumbers,
    pattern: SaddleModel,
    gaps: FloatArray | None,
) -> FloatArray:
    """Return by how much each section is raised, (n,) float [mm]."""
    sides = [(one.left, one.right * np.array([-1.0, 1.0])) for one in sections_of(pattern, behind.tolist())]
    wanted = np.array([[_at_inner(line, side[0, 0]) for line, side in zip(pair, both, strict=True)]
                       for pair, both in zip(sides, levelled, strict=True)])  # fmt: skip
    inner = np.array([[near[0, 1], off[0, 1]] for near, off in levelled])
    if gaps is None:
        return np.asarray((wanted - inner).mean(axis=1))
    # The rod tells the rocker; how the seat is meant to lie is taken from the numbers, at waist and rear.
    places = np.array([WAIST, REAR]) * numbers.panel.length_mm
    off_line = np.interp(places, behind, wanted[:, 0]) - np.interp(places, behind, gaps)
    slope = (off_line[1] - off_line[0]) / (places[1] - places[0])
    return np.asarray(gaps + off_line[0] + slope * (behind - places[0]) - inner[:, 0])


def _at_inner(line: FloatArray, out: float) -> float:
    """Return a face's height at a distance from the middle; beside it, as its edge lies on."""
    at = line[:2] if out < line[0, 0] else line
    if out >= line[0, 0]:
        return float(np.interp(out, at[:, 0], at[:, 1]))
    slope = (line[3, 1] - line[0, 1]) / (line[3, 0] - line[0, 0])
    return float(line[0, 1] + slope * (out - line[0, 0]))


def _told(curve: CurveAcross, near: FloatArray, off: FloatArray, errors: TracingErrors) -> SectionTold:
    widths = [float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in (near, off)]
    channel = float(near[0, 0] + off[0, 0])
    edge = errors.edge_mm if curve.edges_are_marked else SaddleError().channel_mm / sqrt(2.0)
    out = np.linspace(max(near[0, 0], off[0, 0]), min(near[:, 0].max(), off[:, 0].max()), _COMPARED)
    apart = np.interp(out, off[:, 0], off[:, 1]) - np.interp(out, near[:, 0], near[:, 1])
    falls = float(
        np.arctan2(near[0, 1] - near[-1, 1] + off[0, 1] - off[-1, 1], np.ptp(near[:, 0]) + np.ptp(off[:, 0]))
    )
    told: float | Undetermined = NO_LEANS
    if curve.lean is not None:
        told = float(apart.mean()) * cos(falls)
    sd = sqrt(
        (2.0 * float(out.mean()) * errors.lean) ** 2
        + (2.0 * tan(falls) * errors.middle_mm) ** 2
        + 2.0 * (errors.point_mm**2 + (_SPRUNG * errors.spring_mm) ** 2)
    )
    return SectionTold(
        behind_mm=curve.behind_mm,
        channel_mm=channel,
        channel_sd_mm=hypot(sqrt(2.0) * edge, errors.scale * channel),
        near_width_mm=widths[0],
        off_width_mm=widths[1],
        width_sd_mm=hypot(edge, sqrt(2.0) * errors.point_mm),
        near_stands_out_mm=told,
        stands_out_sd_mm=sd * cos(falls),
    )


def _off_numbers(sections: Sequence[UndersideSection], pattern: SaddleModel) -> float:
    """Return how far traced faces lie off those of the numbers, root mean square [mm]."""
    off: list[FloatArray] = []
    for one, like in zip(sections, sections_of(pattern, [each.behind_mm for each in sections]), strict=True):
        for line, other in ((one.left, like.left), (one.right, like.right)):
            if len(other) > 1:
                y, z = np.abs(line[:, 0]), line[:, 1]
                shared = (y >= np.abs(other[:, 0]).min()) & (y <= np.abs(other[:, 0]).max())
                off.append(z[shared] - np.interp(y[shared], np.abs(other[:, 0]), other[:, 1]))
    every = np.concatenate(off) if off else np.zeros(1)
    return float(np.sqrt((every**2).mean())) if len(every) else 0.0
