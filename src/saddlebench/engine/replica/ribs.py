"""A replica of slotted ribs: cross-sections that stand in lengthwise members, all on one flat base.

Ribs are slotted from below, lengthwise members from above, each to half its height, and pushed together.
Sheets have square edges. Every part's edge is the lowest place of the back over its thickness, so that
nothing stands proud of the back and the higher edge of each part lies on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.back.surface import EstimatedBack
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.curves import (
    Envelope,
    SectionCurve,
    heights_at,
    lengthwise_curve,
    marks_along,
    require_measured,
    section_curve,
)

MOST_RIBS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class RibChoices:
    """What the replica is made of."""

    thickness_mm: float = 3.0
    play_mm: float = 0.2
    """A slot is this much wider than the sheet is thick [mm]."""
    spacing_mm: float = 70.0
    """Ribs stand at most this far apart [mm]."""
    beside_mm: tuple[float, ...] = (90.0,)
    """Besides the spine on the midline, members at these distances on both sides [mm]."""
    inset_mm: float = 15.0
    """How far the outermost ribs stand inside the ends of the lengthwise members [mm]."""
    base_below_mm: float = 30.0
    """The base lies this far below the lowest measured place of any rib [mm]."""

    def problems(self) -> tuple[Problem, ...]:
        """Return what is wrong with the choices."""
        limits = {
            "thickness_mm": (0.2, 40.0),
            "play_mm": (0.0, 3.0),
            "spacing_mm": (max(10.0, 2.0 * self.thickness_mm), 400.0),
            "inset_mm": (self.thickness_mm, 100.0),
            "base_below_mm": (5.0, 500.0),
        }
        found = []
        for name, (lowest, highest) in limits.items():
            value = getattr(self, name)
            if not (np.isfinite(value) and lowest <= value <= highest):
                what = f"is {value:g} mm; it must lie between {lowest:g} and {highest:g} mm"
                found.append(
                    Problem(
                        what=what, cure="Choose another value.", where=Where(field=name.removesuffix("_mm"))
                    )
                )
        return tuple(found)


class PartKind(StrEnum):
    """Which way a part stands."""

    RIB = "rib"
    LENGTHWISE = "lengthwise"


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A slot in a part, open at its upper or lower edge."""

    at_mm: float
    """Middle, along the part's own x [mm]."""
    width_mm: float
    depth_to_mm: float
    """Height at which it ends [mm]."""
    meets: str
    """Number of the part that goes in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One flat part. A rib's x goes to the off side (as from behind), a lengthwise member's to the rear."""

    number: str
    """“R3”, “L1”: engraved on it."""
    title: str
    kind: PartKind
    at_mm: float
    """A rib's distance behind the shoulder mark; a member's y, positive near [mm]."""
    outline: FloatArray
    """(n, 2) float, part's plane, closed, anticlockwise, z as in the back frame [mm]."""
    slots: tuple[Slot, ...]
    lines: tuple[FloatArray, ...]
    """(k, 2) float each, part's plane: lines to engrave (centre, marks, where measuring ended) [mm]."""
    thickness_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RibReplica:
    """All parts of a replica."""

    parts: tuple[Part, ...]
    base_mm: float
    """Height of the flat base, back frame [mm]."""
    choices: RibChoices
    steepest: float
    """Greatest rise of the back across a rib's thickness, per mm of thickness."""
    problems: tuple[Problem, ...]

    @property
    def ribs(self) -> tuple[Part, ...]:
        """The cross-sections, front to rear."""
        return tuple(part for part in self.parts if part.kind is PartKind.RIB)

    @property
    def lengthwise(self) -> tuple[Part, ...]:
        """The members along the back, near to off."""
        return tuple(part for part in self.parts if part.kind is PartKind.LENGTHWISE)


def rib_replica(
    estimated: EstimatedBack, choices: RibChoices | None = None, distances_mm: Sequence[float] | None = None
) -> RibReplica:
    """Return the parts of a slotted replica.

    Parameters
    ----------
    estimated : EstimatedBack
    choices : RibChoices, optional
    distances_mm : ribs, behind the shoulder mark; by default evenly over what was measured [mm]

    Raises
    ------
    InputProblemsError
        If a choice is out of range, or the back was not measured at a rib.
    """
    choices = choices or RibChoices()
    problems = choices.problems()
    if problems:
        raise InputProblemsError(problems)
    places = tuple(sorted(distances_mm)) if distances_mm is not None else _even_places(estimated, choices)
    require_measured(estimated, places)
    _require_room(places, choices)
    curves = [_rib_curve(estimated, s, choices.thickness_mm) for s in places]
    base = min(float(curve.points[:, 1].min()) for curve in curves) - choices.base_below_mm
    members, left_out = _member_places(curves, choices, base)
    joints = _Joints(estimated=estimated, curves=curves, members=members, choices=choices, base=base)
    ribs = [_rib(joints, k) for k in range(len(curves))]
    lengthwise = [_member(joints, j) for j in range(len(members))]
    return RibReplica(
        parts=(*lengthwise, *ribs),
        base_mm=base,
        choices=choices,
        steepest=max(curve.slope for curve in curves),
        problems=left_out,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Joints:
    """Where ribs and members cross, and how high."""

    estimated: EstimatedBack
    curves: list[SectionCurve]
    members: list[float]
    choices: RibChoices
    base: float

    def half_height(self, k: int, j: int) -> float:
        """Return the height at which the slots of rib k and member j meet [mm]."""
        top = _height_over(self.curves[k].points, self.members[j])
        return self.base + 0.5 * (top - self.base)


def _height_over(points: FloatArray, y_mm: float) -> float:
    """Return the topmost height of a section (n, 2) float, back frame [mm], over a place across."""
    y, z = points.T
    spans = np.flatnonzero((np.minimum(y[:-1], y[1:]) <= y_mm) & (y_mm <= np.maximum(y[:-1], y[1:])))
    if len(spans) == 0:
        return -np.inf
    step = y[spans + 1] - y[spans]
    share = (y_mm - y[spans]) / np.where(step == 0.0, 1.0, step)
    return float((z[spans] + share * (z[spans + 1] - z[spans])).max())


def _even_places(estimated: EstimatedBack, choices: RibChoices) -> tuple[float, ...]:
    first, last = (float(estimated.support.s_mm[i]) for i in (0, -1))
    first, last = first + choices.inset_mm, last - choices.inset_mm
    n = max(2, int(np.ceil((last - first) / choices.spacing_mm)) + 1)
    places = np.linspace(first, last, n)
    return tuple(round(float(s), 1) for s in places if estimated.support.missing(float(s), 0.0) is None)


def _require_room(places: tuple[float, ...], choices: RibChoices) -> None:
    least = 2.0 * choices.thickness_mm + choices.play_mm
    close = [k for k in range(1, len(places)) if places[k] - places[k - 1] < least]
    if close:
        what = f"ribs {close[0]} and {close[0] + 1} stand closer than {least:.1f} mm"
        raise input_problem(what, "Leave one of them out, or choose a thinner sheet.")
    if not 2 <= len(places) <= MOST_RIBS:
        what = f"{len(places)} ribs do not make a replica"
        raise input_problem(what, f"Choose between 2 and {MOST_RIBS}.")


def _rib_curve(estimated: EstimatedBack, s_mm: float, thickness_mm: float) -> SectionCurve:
    found = section_curve(estimated, s_mm, thickness_mm=thickness_mm, envelope=Envelope.LOWEST)
    if not isinstance(found, SectionCurve):
        msg = "the places were checked before"
        raise TypeError(msg)
    return found


def _member_places(
    curves: list[SectionCurve], choices: RibChoices, base: float
) -> tuple[list[float], tuple[Problem, ...]]:
    """Return the members' y, near to off, and what is said of those that not every rib can take."""
    room = 4.0 * choices.thickness_mm + 10.0
    reach_left = min(float(curve.points[:, 0].max()) for curve in curves) - room
    reach_right = min(float(-curve.points[:, 0].min()) for curve in curves) - room
    places, problems = [0.0], []
    for beside in choices.beside_mm:
        lowest = min(_height_over(curve.points, y) for curve in curves for y in (beside, -beside))
        if 0.0 < beside <= min(reach_left, reach_right) and lowest > base + 20.0:
            places += [beside, -beside]
        else:
            what = (
                f"no lengthwise members stand {beside:.0f} mm beside the midline: not every rib reaches there"
            )
            cure = (
                "The spine alone holds the ribs; glue them square, or choose members nearer to the midline."
            )
            problems.append(Problem(what=what, cure=cure, weight=Weight.WARNING))
    return sorted(places, reverse=True), tuple(problems)


def _rib(joints: _Joints, k: int) -> Part:
    curve, choices = joints.curves[k], joints.choices
    width = choices.thickness_mm + choices.play_mm
    slots = tuple(
        Slot(
            at_mm=-y,
            width_mm=width,
            depth_to_mm=joints.half_height(k, j) + 0.5 * choices.play_mm,
            meets=f"L{j + 1}",
        )
        for j, y in enumerate(joints.members)
    )
    skin = curve.points * np.array([-1.0, 1.0])
    left, right = skin[-1], skin[0]
    bottom = [[left[0], joints.base]]
    for slot in slots:
        low, high = _sides(slot)
        bottom += [[low, joints.base], [low, slot.depth_to_mm], [high, slot.depth_to_mm], [high, joints.base]]
    bottom.append([right[0], joints.base])
    outline = np.vstack([np.array(bottom), skin])
    middle = _height_over(curve.points, 0.0)
    return Part(
        number=f"R{k + 1}",
        title=f"rib {k + 1}, {abs(curve.s_mm):.0f} mm {_way(curve.s_mm)} the shoulder mark",
        kind=PartKind.RIB,
        at_mm=curve.s_mm,
        outline=outline,
        slots=slots,
        lines=(
            np.array([[0.0, middle - 12.0], [0.0, middle - 1.0]]),
            *(np.array([[end[0], end[1]], [end[0] * 0.94, end[1]]]) for end in (left, right)),
        ),
        thickness_mm=choices.thickness_mm,
    )


def _way(s_mm: float) -> str:
    return "behind" if s_mm >= 0.0 else "in front of"


def _sides(slot: Slot) -> tuple[float, float]:
    return slot.at_mm - 0.5 * slot.width_mm, slot.at_mm + 0.5 * slot.width_mm


def _member(joints: _Joints, j: int) -> Part:
    y, choices = joints.members[j], joints.choices
    curve = lengthwise_curve(
        joints.estimated, y_mm=y, thickness_mm=choices.thickness_mm, envelope=Envelope.LOWEST
    )
    width = choices.thickness_mm + choices.play_mm
    slots = tuple(
        Slot(
            at_mm=section.s_mm,
            width_mm=width,
            depth_to_mm=joints.half_height(k, j) - 0.5 * choices.play_mm,
            meets=f"R{k + 1}",
        )
        for k, section in enumerate(joints.curves)
    )
    top = _slotted(_above_gaps(curve.s_mm, curve.z_mm, curve.measured), slots)
    first, last = float(curve.s_mm[0]), float(curve.s_mm[-1])
    outline = np.vstack([[[first, joints.base], [last, joints.base]], top[::-1]])
    name = "spine" if y == 0.0 else f"member {abs(y):.0f} mm {'near (left)' if y > 0 else 'off (right)'}"
    marks = [s for _, s in marks_along(joints.estimated) if first + 2.0 < s < last - 2.0] if y == 0.0 else []
    heights = heights_at(joints.estimated.surface, np.array(marks), np.zeros(len(marks)))
    return Part(
        number=f"L{j + 1}",
        title=name,
        kind=PartKind.LENGTHWISE,
        at_mm=y,
        outline=outline,
        slots=slots,
        lines=tuple(np.array([[s, z - 12.0], [s, z - 1.0]]) for s, z in zip(marks, heights, strict=True)),
        thickness_mm=choices.thickness_mm,
    )


def _above_gaps(s_mm: FloatArray, z_mm: FloatArray, measured: NDArray[np.bool_]) -> FloatArray:
    """Return a member's upper edge (n, 2) [mm]; it drops well below the back where that was not measured."""
    known = np.asarray(measured, dtype=bool)
    low = float(z_mm[known].min()) - 25.0
    return np.stack([s_mm, np.where(known, z_mm, low)], axis=1)


def _slotted(top: FloatArray, slots: Sequence[Slot]) -> FloatArray:
    """Return an upper edge (n, 2) float, part's plane [mm], with its slots let in."""
    rest, pieces = top, []
    for slot in slots:
        low, high = _sides(slot)
        ends = np.interp([low, high], top[:, 0], top[:, 1])
        before = rest[rest[:, 0] < low - 1e-6]
        pieces.append(
            np.vstack(
                [
                    before,
                    [[low, ends[0]], [low, slot.depth_to_mm], [high, slot.depth_to_mm], [high, ends[1]]],
                ]
            )
        )
        rest = rest[rest[:, 0] > high + 1e-6]
    return np.vstack([*pieces, rest])
