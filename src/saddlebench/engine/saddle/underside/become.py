"""What was found of an underside becomes a saddle record: sections, numbers, and how well they are known."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.check import check_numbers
from saddlebench.engine.saddle.cut_back import CutBackNumbers
from saddlebench.engine.saddle.numbers import BarsNumbers, SaddleNumbers, SideSaddleNumbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.panels import REAR, WAIST, PanelNumbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.sections import UndersideSection, section_problems, unmeasured
from saddlebench.engine.saddle.shape_error import SaddleError
from saddlebench.engine.saddle.underside.corners import CORNER_MM
from saddlebench.engine.saddle.underside.end_rows import with_ends_carried
from saddlebench.engine.saddle.underside.found import FoundUnderside
from saddlebench.engine.saddle.underside.heights import FaceGrid
from saddlebench.engine.saddle.underside.told import scan_remarks
from saddlebench.engine.saddle.zones import Filling

WIDEST_GAP_MM = 25.0
_NARROWEST, _NARROWEST_AT_ENDS = 0.4, 0.2
"""Of the usual width: less is no whole section of a panel; its rounded ends are narrower."""
_RIM_STEPS = (1, 3)
LENGTH_SD_MM = 3.0
"""Of the place of the front and of the rear edge in a noisy scan (from the bench)."""
SHAPE_FLOOR_MM = 0.5
"""Leather and wool do not lie the same twice (judgement)."""
FACE_FLOOR = 0.009
"""Half a degree [rad]."""
_MEASURED = ("length", "channel", "channel_depth", "width", "angle")


_IN_OWN_AXES = """record it by its numbers, or give its underside as sections or as a mesh in the saddle’s \
own axes (the saddle’s file takes both)"""
_BARS = """bars are not found by themselves in a scan or in tracings: the channel’s roof runs on from their \
face, and nothing says where it ends"""
_SIDE_SADDLE = """a side-saddle is not found by itself in a scan or in tracings: its axes are looked for by \
two like panels, and its panels are unequal on purpose"""
_NOT_RIGID = """a saddle of this family has no panels on a rigid tree: on a stand its underside lies \
otherwise than on a horse, and its shape there would say nothing"""
_INSTEAD: dict[type, tuple[str, str]] = {
    BarsNumbers: (_BARS, f"Measure the bars at front, middle and rear: {_IN_OWN_AXES}."),
    SideSaddleNumbers: (_SIDE_SADDLE, f"Measure near and off side each for itself: {_IN_OWN_AXES}."),
}
_OTHERWISE = (_NOT_RIGID, "Describe it by its numbers; what cannot be judged of it is said there.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ScannedSaddle:
    """A record from a scan, and what there is to say of it."""

    record: SaddleRecord
    found: FoundUnderside
    rows_left_out: tuple[float, ...]
    """Distances behind the front edge where too little was measured [mm]."""
    remarks: tuple[Problem, ...]


def panelled_of(numbers: SaddleNumbers) -> PanelledNumbers:
    """Return the numbers of the panels of a saddle whose underside can be taken from a scan.

    Raises
    ------
    InputProblemsError
        If the family has none, or is unequal by design.
    """
    match numbers:
        case PanelledNumbers():
            return numbers
        case CutBackNumbers():
            return numbers.base
    what, cure = _INSTEAD.get(type(numbers), _OTHERWISE)
    raise input_problem(what, cure, Where(field="family"))


def with_scanned(record: SaddleRecord, found: FoundUnderside, scale_sd: float = 0.005) -> ScannedSaddle:
    """Return the record with its underside, panels and error from a scan; tree, seat and straps stay.

    Parameters
    ----------
    record : the saddle by its numbers
    found : as `find_underside` returns it
    scale_sd : relative standard deviation of the scan's size

    Raises
    ------
    InputProblemsError
        If too little of the underside was measured, or what was found is no saddle.
    """
    (near, near_rows), (off, off_rows) = with_ends_carried(found.near), with_ends_carried(found.off)
    sections, left_out = sections_of_grids(near, off)
    problems = section_problems(sections)
    gaps = None if problems else unmeasured(sections)
    if gaps is not None:
        cure = "Scan the parts that are missing as well: slowly, from above and from both sides."
        problems = (Problem(what=gaps.reason, cure=cure, where=Where(field="scan")),)
    if problems:
        raise InputProblemsError(problems)
    base = panelled_of(record.numbers)
    panel = _panel(base.panel, base.tree.behind_mm, found)
    return ScannedSaddle(
        record=with_underside(record, panel, sections, scan_error(found, scale_sd), _MEASURED),
        found=found,
        rows_left_out=left_out,
        remarks=scan_remarks(found, sections, left_out, found.behind_mm[near_rows | off_rows]),
    )


def with_underside(
    record: SaddleRecord,
    panel: PanelNumbers,
    sections: tuple[UndersideSection, ...],
    error: SaddleError,
    measured: Sequence[str],
) -> SaddleRecord:
    """Return a record whose underside was measured as it lies: the fill is in its sections.

    Parameters
    ----------
    record : of a saddle with panels
    panel : the panels' numbers as measured
    sections : of the underside
    error : how well they are known
    measured : names of the panels' numbers that are no longer assumed

    Raises
    ------
    InputProblemsError
        If these are the numbers of no saddle.
    """
    base = panelled_of(record.numbers)
    changed = replace(base, panel=panel, filling_left=Filling(), filling_right=Filling(), lumps=())
    numbers: SaddleNumbers = (
        replace(record.numbers, base=changed) if isinstance(record.numbers, CutBackNumbers) else changed
    )
    wrong = check_numbers(numbers)
    if wrong:
        raise InputProblemsError(wrong)
    told = tuple(f"{prefix}{name}" for name in measured for prefix in ("panel.", "base.panel."))
    return replace(
        record,
        numbers=numbers,
        underside=sections,
        shape_error=error,
        assumed=tuple(name for name in record.assumed if not name.startswith(told)),
    )


def scan_error(found: FoundUnderside, scale_sd: float) -> SaddleError:
    """Return how well the saddle's shape is known after a scan of its underside.

    What a scan of the underside does not show stays as by tape: the tree's width at its points behind the
    panel, the height of the arch, and how the seat is meant to lie (height of front and rear against it).
    """
    tape = SaddleError()
    length = found.length_mm
    shape = float(np.hypot(SHAPE_FLOOR_MM, 0.25 * found.noise_mm))
    channel = float(np.hypot(found.channel_sd_mm, scale_sd * np.nanmean(found.channel_mm)))
    half = 0.5 * float(np.nanmedian(found.near.out_y_mm[:, -1] + found.off.out_y_mm[:, -1]))
    roof_seen = float(np.isfinite(found.roof_z_mm).mean()) > 0.5
    return SaddleError(
        arch_width_mm=tape.arch_width_mm,
        front_height_mm=float(np.hypot(tape.front_height_mm, shape)),
        rear_height_mm=float(np.hypot(tape.rear_height_mm, shape)),
        rocker_mm=shape,
        face_angle=float(np.hypot(FACE_FLOOR, found.noise_mm / 1000.0)),
        twist_mm=float(max(SHAPE_FLOOR_MM, 2.0 * half * found.twist_sd)),
        channel_mm=float(np.hypot(channel, LENGTH_SD_MM / length)) + 0.5,
        roof_mm=1.5 if roof_seen else tape.roof_mm,
    )


def sections_of_grids(
    near: FaceGrid, off: FaceGrid
) -> tuple[tuple[UndersideSection, ...], tuple[float, ...]]:
    """Return the sections that are measured well enough, and where others had to be left out [mm]."""
    widths = np.concatenate([grid.out_y_mm[:, -1] - grid.out_y_mm[:, 0] for grid in (near, off)])
    usual = float(np.median(widths))
    from_end = np.minimum(near.behind_mm - near.behind_mm[0], near.behind_mm[-1] - near.behind_mm)
    least = np.where(from_end < CORNER_MM, _NARROWEST_AT_ENDS, _NARROWEST) * usual
    lines = {grid.side: _lines(grid) for grid in (near, off)}
    sections, left_out = [], []
    for k, behind in enumerate(near.behind_mm):
        left, right = lines[near.side][k], lines[off.side][k]
        if left is None or right is None:
            left_out.append(float(behind))
        elif min(np.ptp(left[:, 0]), np.ptp(right[:, 0])) >= least[k]:
            sections.append(
                UndersideSection(
                    behind_mm=round(float(behind), 2), left=left, right=right * np.array([-1.0, 1.0])
                )
            )
    return tuple(sections), tuple(left_out)


def _lines(grid: FaceGrid) -> list[FloatArray | None]:
    """Return each row's points outwards, (k, 2) float, saddle frame [mm]; None: too little measured."""
    z = grid.z_mm.copy()
    y = grid.out_y_mm
    # Edges are carried on from within, by a few mm: their own points are mixed with the walls'.
    for edge, (one, other) in ((0, _RIM_STEPS), (-1, tuple(-1 - step for step in _RIM_STEPS))):
        share = (y[:, edge] - y[:, one]) / (y[:, other] - y[:, one])
        z[:, edge] = z[:, one] + share * (z[:, other] - z[:, one])
    lines: list[FloatArray | None] = []
    for row_y, row_z in zip(y, z, strict=True):
        known = np.isfinite(row_z)
        line = np.round(np.stack([row_y[known], row_z[known]], axis=1), 2)
        is_whole = (
            known[0] and known[-1] and np.linalg.norm(np.diff(line, axis=0), axis=1).max() <= WIDEST_GAP_MM
        )
        lines.append(line if is_whole else None)
    return lines


def _panel(before: PanelNumbers, points_behind: float, found: FoundUnderside) -> PanelNumbers:
    length = found.length_mm
    places = np.array([points_behind, WAIST * length, REAR * length])
    channel = [_at(found, found.channel_mm, place) for place in places]
    widths, angles = [], []
    for place in places:
        chords = [_chord(grid, place) for grid in (found.near, found.off)]
        widths.append(round(float(np.nanmean([one[0] for one in chords])), 1))
        angles.append(round(float(np.nanmean([one[1] for one in chords])), 1))
    depth = before.channel_depth_mm
    inner = 0.5 * (found.near.z_mm[:, 1] + found.off.z_mm[:, 1])
    seen = [_at(found, found.roof_z_mm - inner, place) for place in places[1:]]
    if np.isfinite(seen).all():
        depth = (round(seen[0], 1), round(seen[1], 1))
    return replace(
        before,
        length_mm=round(length, 1),
        channel_mm=(round(channel[0], 1), round(channel[1], 1), round(channel[2], 1)),
        channel_depth_mm=depth,
        width_mm=(widths[0], widths[1], widths[2]),
        angle_deg=(angles[1], angles[2]),
    )


def _at(found: FoundUnderside, values: FloatArray, place: float) -> float:
    known = np.isfinite(values)
    if known.sum() < 3:
        return float("nan")
    return float(np.interp(place, found.behind_mm[known], values[known]))


def _chord(grid: FaceGrid, place: float) -> tuple[float, float]:
    """Return width [mm] and angle below level [°] of the face near a place behind the front edge."""
    near = np.abs(grid.behind_mm - place) < 20.0
    run = grid.out_y_mm[near, -2] - grid.out_y_mm[near, 1]
    drop = grid.z_mm[near, 1] - grid.z_mm[near, -2]
    known = np.isfinite(drop)
    if not known.any():
        return float("nan"), float("nan")
    angle = float(np.arctan2(np.median(drop[known]), np.median(run[known])))
    whole = float(np.median(grid.out_y_mm[near, -1] - grid.out_y_mm[near, 0]))
    return whole / np.cos(angle), float(np.degrees(angle))
