"""The underside from sections, taken across it with any instrument.

A section is a polyline per side in the saddle frame. What an instrument cannot reach (tree, seat, straps,
fill) comes from a description by numbers, whose own panel shape is set aside.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Where
from saddlebench.engine.frames import FloatArray, read_only
from saddlebench.engine.saddle.bars import MIDDLE, BarsNumbers
from saddlebench.engine.saddle.bearing import bearing_surface
from saddlebench.engine.saddle.grid import LEFT, RIGHT, patch_through, side_patch
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import RigidNumbers, model_from_numbers
from saddlebench.engine.saddle.panels import WAIST
from saddlebench.engine.saddle.patch import Patch, PointCount
from saddlebench.engine.saddle.shifted import shifted_up, supports_of

COLUMNS = 17
MAX_GAP_MM = 40.0
"""Neighbouring points of a section further apart than this leave the face between them unmeasured."""
MAX_SPACING_MM = 130.0
"""Neighbouring sections further apart than this leave the panel between them unmeasured."""
NARROWEST_MM = 15.0
_LARGEST_MM = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class UndersideSection:
    """One section across the underside."""

    behind_mm: float
    """Distance behind the front edge of the panels."""
    left: FloatArray
    """(k, 2) float, saddle frame y, z [mm], y positive."""
    right: FloatArray
    """(k, 2) float, saddle frame y, z [mm], y negative."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "left", read_only(self.left))
        object.__setattr__(self, "right", read_only(self.right))


def model_from_sections(
    sections: Sequence[UndersideSection], numbers: RigidNumbers, n_points: PointCount = 2000
) -> SaddleModel | NotMeasured:
    """Return the model whose underside runs smoothly through measured sections.

    Parameters
    ----------
    sections : at least four, in any order; the first and the last are the ends of the bearing surface
    numbers : tree, channel height, fittings and fill; its heights count from the inner edge at the waist
    n_points : about how many bearing points, both sides together

    Returns
    -------
    SaddleModel, or NotMeasured where sections leave too much open

    Raises
    ------
    InputProblemsError
        With everything that is wrong with the sections.
    """
    ordered = sorted(sections, key=lambda section: section.behind_mm)
    problems = section_problems(ordered)
    if problems:
        raise InputProblemsError(problems)
    gaps = unmeasured(ordered)
    if gaps is not None:
        return gaps
    base = model_from_numbers(numbers, 250)
    left, right = _patch(ordered, LEFT), _patch(ordered, RIGHT)
    bearing = bearing_surface(left, right, n_points, supports_of(numbers))
    behind = -base.channel.x_mm
    at = np.array([section.behind_mm for section in ordered])
    inner = [np.array([abs(_outward(section, side)[0, 0]) for section in ordered]) for side in (LEFT, RIGHT)]
    lifted = shifted_up(base, _reference_z(ordered, numbers))
    return replace(
        lifted,
        bearing=bearing,
        channel=replace(
            lifted.channel,
            half_width_left_mm=read_only(np.interp(behind, at, inner[0])),
            half_width_right_mm=read_only(np.interp(behind, at, inner[1])),
        ),
    )


def sections_of(model: SaddleModel, behind_mm: Sequence[float]) -> tuple[UndersideSection, ...]:
    """Return sections of a model's underside: the instrument run backwards.

    Near rounded ends a section holds only the part of the width that reaches so far.
    """
    patches = (side_patch(model.bearing, LEFT), side_patch(model.bearing, RIGHT))
    return tuple(
        UndersideSection(
            behind_mm=place,
            left=_cut(patches[0], place),
            right=_cut(patches[1], place) * np.array([-1.0, 1.0]),
        )
        for place in behind_mm
    )


def section_problems(ordered: Sequence[UndersideSection]) -> tuple[Problem, ...]:
    """Return everything that is wrong with sections in order of distance."""
    problems: list[Problem] = []
    if len(ordered) < 4:
        problems.append(
            Problem(
                what=f"there are {len(ordered)} sections of the underside; at least four are needed",
                cure="Take sections at the front edge, under the points, at the waist and at the rear edge.",
            )
        )
    for number, section in enumerate(ordered, start=1):
        problems += _problems_of(section, number)
        if number > 1 and section.behind_mm - ordered[number - 2].behind_mm < 1.0:
            problems.append(
                Problem(
                    what=f"two sections stand {section.behind_mm:g} mm behind the front edge",
                    cure="Correct one distance, or keep only one of the two.",
                    where=Where(station=number),
                )
            )
    return tuple(problems)


def unmeasured(ordered: Sequence[UndersideSection]) -> NotMeasured | None:
    """Return which parts of the underside the sections leave open, if any."""
    places: set[int] = set()
    for number, section in enumerate(ordered, start=1):
        for side in (LEFT, RIGHT):
            steps = np.linalg.norm(np.diff(_outward(section, side), axis=0), axis=1)
            if steps.max() > MAX_GAP_MM:
                places.add(number)
        if number > 1 and section.behind_mm - ordered[number - 2].behind_mm > MAX_SPACING_MM:
            places.add(number)
    if not places:
        return None
    return NotMeasured(
        f"the underside is not measured closely enough: gaps of more than {MAX_GAP_MM:g} mm across or "
        f"{MAX_SPACING_MM:g} mm along",
        tuple(sorted(places)),
    )


def _problems_of(section: UndersideSection, number: int) -> list[Problem]:
    problems = []
    for name, side, line in (("near", LEFT, section.left), ("off", RIGHT, section.right)):
        where = Where(station=number, side=name)
        if line.ndim != 2 or line.shape[-1] != 2 or len(line) < 3:
            problems.append(
                Problem(
                    what="a section needs at least three points on each side",
                    cure="Measure this side again, or leave the whole section out.",
                    where=where,
                )
            )
        elif not np.isfinite(line).all() or np.abs(line).max() > _LARGEST_MM:
            problems.append(
                Problem(
                    what=f"a point of the section lies more than {_LARGEST_MM:g} mm from the middle",
                    cure="Check the number and its unit.",
                    where=where,
                )
            )
        elif np.linalg.norm(np.diff(line, axis=0), axis=1).sum() < NARROWEST_MM:
            problems.append(
                Problem(
                    what=f"the section is narrower than {NARROWEST_MM:g} mm",
                    cure="Measure from the channel to the outer edge of the panel; check the unit.",
                    where=where,
                )
            )
        elif side * line[:, 0].mean() <= 0.0:
            problems.append(
                Problem(
                    what=f"the {name} side of the section lies on the other side of the middle",
                    cure="Near is the horse's left, y above zero; swap the sides, or turn the sign of y.",
                    where=where,
                )
            )
    if not np.isfinite(section.behind_mm) or abs(section.behind_mm) > _LARGEST_MM:
        problems.append(
            Problem(
                what="the section's distance behind the front edge is not a length a saddle has",
                cure="Check the number and its unit.",
                where=Where(station=number),
            )
        )
    return problems


def _outward(section: UndersideSection, side: int) -> FloatArray:
    """Return one side's polyline, (k, 2) float, saddle frame [mm], from the inner edge outwards."""
    line = section.left if side == LEFT else section.right
    return line if abs(line[0, 0]) <= abs(line[-1, 0]) else line[::-1]


def _patch(ordered: Sequence[UndersideSection], side: int) -> Patch:
    behind = np.array([section.behind_mm for section in ordered])
    v = np.linspace(0.0, 1.0, COLUMNS)
    points = np.zeros((len(ordered), COLUMNS, 3))
    for row, section in enumerate(ordered):
        line = _outward(section, side)
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
        points[row, :, 0] = -section.behind_mm
        points[row, :, 1] = side * np.interp(v * along[-1], along, line[:, 0])
        points[row, :, 2] = np.interp(v * along[-1], along, line[:, 1])
    return patch_through(points, (behind - behind[0]) / (behind[-1] - behind[0]), v)


def _cut(patch: Patch, behind_mm: float) -> FloatArray:
    t, v = np.linspace(0.0, 1.0, 241), np.linspace(0.0, 1.0, 65)
    grid = patch(np.repeat(t, v.size), np.tile(v, t.size)).reshape(t.size, v.size, 3)
    line = [
        (
            np.interp(behind_mm, -grid[:, j, 0], grid[:, j, 1]),
            np.interp(behind_mm, -grid[:, j, 0], grid[:, j, 2]),
        )
        for j in range(v.size)
        if -grid[0, j, 0] <= behind_mm <= -grid[-1, j, 0]
    ]
    return np.array(line).reshape(-1, 2)


def _reference_z(ordered: Sequence[UndersideSection], numbers: RigidNumbers) -> float:
    """Return the height that the numbers count from: the inner edge at the waist, or a bar's middle."""
    length = supports_of(numbers)[0].length_mm
    if isinstance(numbers, BarsNumbers):
        place = MIDDLE * length
        heights = [float(_outward(section, LEFT)[[0, -1], 1].mean()) for section in ordered]
    else:
        place = WAIST * length
        heights = [float(_outward(section, LEFT)[0, 1]) for section in ordered]
    return float(np.interp(place, [section.behind_mm for section in ordered], heights))
