"""What a fitter would have read at an invented horse: the instrument run backwards, errors added."""

from dataclasses import replace
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from saddlebench.demo.shapes import BackShape
from saddlebench.demo.standing import tilted_sections
from saddlebench.engine.back.backwards import readings_of, sections_of_radius
from saddlebench.engine.back.instruments import (
    ChainArm,
    Instrument,
    JointedChain,
    PinComb,
    Scale,
    Scan,
    TapeAndHand,
    TracedCurve,
)
from saddlebench.engine.back.readings import (
    BackReadings,
    Reading,
    Section,
    SectionPoints,
    StationReadings,
    Topline,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.stance import LEVEL, Stance
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray

REACH = np.deg2rad(96.0)
"""How far round the barrel the invented fitter's instruments reach."""


def measured_at(
    shape: BackShape,
    instrument: Instrument,
    distances_mm: tuple[float, ...],
    rng: np.random.Generator,
    *,
    stance: Stance = LEVEL,
) -> BackReadings:
    """Return readings of an invented back as somebody would have taken them.

    Every reading carries an error of the size that the instrument states, then is read to a whole step of its
    scale. The first section is measured again last. With a stance, the readings are those of an instrument
    that hung so far out of level.
    """
    phi = np.linspace(-REACH, REACH, 641)
    is_level = stance.pitch_deg == stance.roll_deg == 0.0
    section_at = (
        sections_of_radius(shape.radius, shape.axis_z_mm, phi)
        if is_level
        else tilted_sections(shape, stance, phi)
    )
    exact = readings_of(section_at, instrument, distances_mm)
    again = replace(exact.stations[0], repeat=1)
    return BackReadings(
        stations=tuple(_misread(section, instrument, rng) for section in (*exact.stations, again)),
        topline=_misread_topline(exact.topline, instrument, rng),
    )


def _misread(section: Section, instrument: Instrument, rng: np.random.Generator) -> Section:
    match instrument, section:
        case JointedChain(), StationReadings():
            return replace(
                section,
                left=_misread_arm(section.left, instrument.left, rng),
                right=_misread_arm(section.right, instrument.right, rng),
            )
        case PinComb(), StationReadings():
            return replace(
                section,
                left=_misread_all(section.left, instrument.scale, instrument.pin_sd_mm, rng),
                right=_misread_all(section.right, instrument.scale, instrument.pin_sd_mm, rng),
                middle=_misread_all((section.middle,), instrument.scale, instrument.pin_sd_mm, rng)[0],
            )
        case TapeAndHand(), StationReadings():
            return replace(
                section,
                left=_misread_all(section.left, instrument.angle, instrument.angle_sd_deg, rng),
                right=_misread_all(section.right, instrument.angle, instrument.angle_sd_deg, rng),
                widths=_misread_all(section.widths, instrument.width, instrument.width_sd_mm, rng),
            )
        case TracedCurve() | Scan(), SectionPoints():
            sd = instrument.point_sd_mm
            return replace(section, left=_moved(section.left, sd, rng), right=_moved(section.right, sd, rng))
        case _:
            msg = f"{type(section).__name__} are no readings of a {type(instrument).__name__}"
            raise TypeError(msg)


def _misread_arm(
    readings: tuple[Reading, ...], arm: ChainArm, rng: np.random.Generator
) -> tuple[Reading, ...]:
    return tuple(
        _misread_one(reading, arm.scale, sd, rng)
        for reading, sd in zip(readings, arm.joint_sd_deg, strict=False)
    )


def _misread_all(
    readings: tuple[Reading, ...], scale: Scale, sd: float, rng: np.random.Generator
) -> tuple[Reading, ...]:
    return tuple(_misread_one(reading, scale, sd, rng) for reading in readings)


def _misread_one(reading: Reading, scale: Scale, sd: float, rng: np.random.Generator) -> Reading:
    if reading is None:
        return None
    return scale.nearest(reading * scale.per_division + float(rng.normal(0.0, sd)))


def _moved(
    points: tuple[tuple[float, float], ...], sd_mm: float, rng: np.random.Generator
) -> tuple[tuple[float, float], ...]:
    """Return points moved by the pencil, to a tenth of a millimetre; the midline's own point stays."""
    errors = rng.normal(0.0, sd_mm, (len(points), 2))
    moved = [(round(a + da, 1), round(b + db, 1)) for (a, b), (da, db) in zip(points, errors, strict=True)]
    return tuple([points[0], *moved[1:]] if points else moved)


def _misread_topline(topline: Topline, instrument: Instrument, rng: np.random.Generator) -> Topline:
    match topline:
        case ToplineHeights():
            heights = np.array(topline.height_mm) + rng.normal(0.0, 1.5, len(topline.height_mm))
            return replace(topline, height_mm=tuple(float(h) for h in np.round(heights)))
        case ToplineJoints():
            chain = instrument.topline if isinstance(instrument, JointedChain) else None
            return (
                topline
                if chain is None
                else replace(topline, joints=_misread_arm(topline.joints, chain.arm, rng))
            )
        case NotMeasured():
            return topline
        case _:
            assert_never(topline)


def scanned(
    shape: BackShape, rng: np.random.Generator, *, noise_mm: float = 1.5
) -> tuple[FloatArray, NDArray[np.integer]]:
    """Return a mesh of an invented back as a phone might have scanned it.

    Returns
    -------
    vertices : (n, 3) float, back frame [mm]
    faces : (m, 3) int, wound outwards
    """
    s, phi = np.arange(-200.0, 641.0, 10.0) * shape.scale, np.arange(-REACH, REACH + 1e-9, np.deg2rad(2.0))
    radius = shape.radius(s[:, None], phi[None, :]) + rng.normal(0.0, noise_mm, (len(s), len(phi)))
    x = np.broadcast_to(-s[:, None], radius.shape)
    vertices = np.stack([x, radius * np.sin(phi), radius * np.cos(phi) + shape.axis_z_mm], axis=-1)
    corner = (np.arange(len(s) - 1)[:, None] * len(phi) + np.arange(len(phi) - 1)).ravel()
    behind, left = corner + len(phi), corner + 1
    faces = np.concatenate(
        [np.stack([corner, left, behind], axis=1), np.stack([left, behind + 1, behind], axis=1)]
    )
    return vertices.reshape(-1, 3), faces
