"""A scan of a back: a mesh and its marks, set to gravity and to the back's own midline, cut into sections."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.back.joined import JoinedPieces
from saddlebench.engine.back.landmarks import NOT_MARKED, Landmarks, Mark
from saddlebench.engine.back.readings import BackReadings, SectionPoints
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.scan_midline import AXIS_DEPTH_MM, Midline, outlines_along
from saddlebench.engine.back.scan_sections import BackOutline, Faces
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.errors import NotMeasured, Problem, is_known
from saddlebench.engine.frames import FloatArray, Pose
from saddlebench.engine.scan.level import LevelBy


class ScanMark(StrEnum):
    """Landmarks that are set as points on a mesh."""

    SHOULDER = "shoulder mark"
    WITHERS = "withers"
    LOWEST = "lowest point"
    LAST_RIB = "last-rib mark"
    SHOULDER_NEAR = "shoulder edge, near"
    SHOULDER_OFF = "shoulder edge, off"
    GIRTH_GROOVE = "girth groove"


SUGGESTIBLE = (ScanMark.WITHERS, ScanMark.LOWEST)
"""Marks that the shape alone can propose; the others must be felt."""
ON_TOP = (ScanMark.WITHERS, ScanMark.LOWEST)
"""Marks that lie on the dorsal midline; the shoulder and last-rib marks may lie on the horse's side."""
LEVEL_SD_DEG: Mapping[LevelBy | None, float] = {LevelBy.GROUND: 1.0, LevelBy.BODY: 1.5}
"""How far off level a ground is of which nobody said that it is level: paved yards fall by 0.7 to 1.4° for
water to run off, grass by more (from memory). A body without ground is found level within 1.5° (bench)."""
_AROUND_MM = 80.0
"""How far round the sections the pieces of a scan are kept."""
NEUTRAL_SCAN = Scan(name="scan, errors assumed", point_sd_mm=3.0)
"""3–10 mm is a planning guess for a living back, which moves and has hair from memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanOfBack:
    """One piece of mesh as it came, in mm, with gravity, heading and marks in the mesh's own axes."""

    name: str
    """What to call it where something is wrong: the file's name."""
    vertices_instrument: FloatArray
    """(n, 3) float, instrument frame [mm]."""
    faces: Faces
    """(m, 3) int, vertex indices; their winding is not used."""
    up: FloatArray
    """(3,) float, instrument frame [1], against gravity."""
    forward: FloatArray
    """(3,) float, instrument frame [1], to the head; good to some 20°."""
    marks: Mapping[ScanMark, FloatArray]
    """(3,) float each, instrument frame [mm]; the shoulder and last-rib marks are always there."""
    suggest: frozenset[ScanMark] = frozenset()
    """Marks to be proposed from the shape."""
    proposed: frozenset[ScanMark] = frozenset()
    """Marks that were proposed from the shape when the scan was looked at, and that nobody felt for."""
    spine_strip_width_mm: Mark | NotMeasured = NOT_MARKED
    instrument: Scan = NEUTRAL_SCAN
    remarks: tuple[Problem, ...] = ()
    """What was found, mended or left out while reading."""
    level_by: LevelBy | None = None
    """What said which way is up, where a look at the scan did; None: a person."""
    joined: JoinedPieces | None = None
    """Its pieces, instrument frame, where it was merged from several scans."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignedScan:
    """A scan in the back frame, with its topline and its landmarks."""

    scan: ScanOfBack
    scan_to_back: Pose
    vertices_back: FloatArray
    """(n, 3) float, back frame [mm]."""
    faces: Faces
    """(m, 3) int: the faces near the back."""
    midline: Midline
    topline_s_mm: FloatArray
    """(k,) float, distances behind the shoulder mark, increasing [mm]."""
    topline_z_mm: FloatArray
    """(k,) float, back frame [mm]."""
    landmarks: Landmarks
    suggested: frozenset[ScanMark] = frozenset()
    """Landmarks that were proposed from the shape, not marked on the horse."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingSettings:
    """Where and how finely a scan is cut."""

    along_mm: float = 35.0
    """Between sections, where no list of distances is given [mm]."""
    beyond_mm: float = 60.0
    """Before the withers and behind the last rib [mm]."""
    across_mm: float = 15.0
    """Between points of a section near the top; somewhat more where the flank falls away [mm]."""
    widest: float = np.deg2rad(93.0)
    """Outermost angle from vertical about the axis of the outline [rad]."""
    lowest_mm: float = 300.0
    """How far below the topline a section is followed [mm]."""
    fewest_points: int = 8
    """A section with fewer points is left out, and that is said."""


STANDARD_CUTS = CuttingSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class CutSection:
    """One section of a scan: its outline, and what a reading of it is."""

    distance_mm: float
    axis_z_mm: float
    outline: BackOutline
    facet_sag_mm: float
    yz: FloatArray
    """(k, 2) float, back frame [mm]: the points kept, right to left, as (y, z)."""


def default_distances(landmarks: Landmarks, settings: CuttingSettings = STANDARD_CUTS) -> FloatArray:
    """Return even distances (k,) float behind the shoulder mark [mm], from withers to last rib and beyond."""
    withers, last_rib = landmarks.withers, landmarks.last_rib
    start = withers.value_mm if is_known(withers) else -100.0
    stop = last_rib.value_mm if is_known(last_rib) else 500.0
    start, stop = start - settings.beyond_mm, stop + settings.beyond_mm
    return np.linspace(start, stop, max(2, round((stop - start) / settings.along_mm) + 1))


def cut_scan(
    aligned: AlignedScan, distances_mm: FloatArray | None = None, settings: CuttingSettings = STANDARD_CUTS
) -> tuple[CutSection, ...]:
    """Cut a scan across at distances behind the shoulder mark, each section trimmed to what is star-shaped.

    Parameters
    ----------
    aligned : AlignedScan
    distances_mm : (k,) float, behind the shoulder mark [mm]; None for the default ones
    settings : CuttingSettings
    """
    if distances_mm is None:
        distances_mm = default_distances(aligned.landmarks, settings)
    step = settings.across_mm / AXIS_DEPTH_MM
    side = step * np.arange(1, int(settings.widest / step) + 1)
    phi = np.concatenate([-side[::-1], [0.0], side])
    tops = np.stack(
        [-aligned.topline_s_mm, np.zeros_like(aligned.topline_s_mm), aligned.topline_z_mm], axis=1
    )
    distances = np.sort(np.asarray(distances_mm, dtype=float))
    outlines, axes, sag = outlines_along(aligned.vertices_back, aligned.faces, -distances, tops, phi)
    sections = []
    for k, outline in enumerate(outlines):
        yz = outline.yz(0.0, float(axes[k]))
        kept = yz[yz[:, 1] > axes[k] + AXIS_DEPTH_MM - settings.lowest_mm]
        sections.append(
            CutSection(
                distance_mm=float(distances[k]),
                axis_z_mm=float(axes[k]),
                outline=outline,
                facet_sag_mm=float(sag[k]),
                yz=kept,
            )
        )
    return tuple(sections)


def readings_from_scan(
    aligned: AlignedScan, distances_mm: FloatArray | None = None, settings: CuttingSettings = STANDARD_CUTS
) -> BackReadings:
    """Return a scan's sections at distances_mm (k,) float [mm] as readings, from the front; none empty."""
    sections = cut_scan(aligned, distances_mm, settings)
    kept = [section for section in sections if len(section.yz) >= settings.fewest_points]
    return BackReadings(
        stations=tuple(_section_points(number, section) for number, section in enumerate(kept, start=1))
    )


def _section_points(number: int, section: CutSection) -> SectionPoints:
    y, z = section.yz.T
    out = np.where(np.abs(y) < 1e-9, 0.0, np.abs(y))
    left, right = np.flatnonzero(y >= -1e-9), np.flatnonzero(y < -1e-9)[::-1]
    return SectionPoints(
        number=number,
        distance_mm=section.distance_mm,
        left=tuple((float(out[i]), float(z[i])) for i in left),
        right=tuple((float(out[i]), float(z[i])) for i in right),
    )


def instrument_of(aligned: AlignedScan, sections: tuple[CutSection, ...]) -> Scan:
    """Return the scan's instrument with the coarseness of its own facets added to the noise."""
    scan = aligned.scan.instrument
    sag = float(np.sqrt(np.mean([section.facet_sag_mm**2 for section in sections]))) if sections else 0.0
    return replace(
        scan, point_sd_mm=float(np.hypot(scan.point_sd_mm, sag)), joined=_joined(aligned, sections)
    )


def _joined(aligned: AlignedScan, sections: tuple[CutSection, ...]) -> JoinedPieces | None:
    """Return the scan's pieces in the back frame, as far as the sections reach."""
    joined, s = aligned.scan.joined, [section.distance_mm for section in sections]
    if joined is None or not s:
        return None
    low, high = np.array([-max(s), -600.0, -500.0]), np.array([-min(s), 600.0, 300.0])
    return joined.placed(aligned.scan_to_back).within(low - _AROUND_MM, high + _AROUND_MM)


def record_from_scan(
    aligned: AlignedScan,
    *,
    label: str,
    measured_on: dt.date,
    distances_mm: FloatArray | None = None,
    settings: CuttingSettings = STANDARD_CUTS,
) -> BackRecord:
    """Return the back record of a scan: its sections are its readings.

    Parameters
    ----------
    aligned : AlignedScan
    label, measured_on : what the record is called, and the day of the scan
    distances_mm : (k,) float, behind the shoulder mark [mm]; None for the default ones
    settings : CuttingSettings
    """
    sections = cut_scan(aligned, distances_mm, settings)
    return BackRecord(
        label=label,
        measured_on=measured_on,
        instrument=instrument_of(aligned, sections),
        readings=readings_from_scan(aligned, distances_mm, settings),
        # How well the scan's own axes hold gravity is its registration error; a floor's fall comes on top.
        stance=Stance(sd_deg=LEVEL_SD_DEG.get(aligned.scan.level_by, 0.0)),
        landmarks=aligned.landmarks,
    )


def points_from_scan(
    aligned: AlignedScan,
    distances_mm: FloatArray | None = None,
    settings: CuttingSettings = STANDARD_CUTS,
) -> MeasuredPoints:
    """Return the points of a scan's sections in the back frame, with the scan's errors.

    Parameters
    ----------
    aligned : AlignedScan
    distances_mm : (k,) float, behind the shoulder mark [mm]; None for the default ones
    settings : CuttingSettings

    Raises
    ------
    InputProblemsError
        When what was cut is no usable set of sections.
    """
    day_does_not_enter = dt.date.min
    record = record_from_scan(
        aligned,
        label=aligned.scan.name,
        measured_on=day_does_not_enter,
        distances_mm=distances_mm,
        settings=settings,
    )
    return measure_points(record)
