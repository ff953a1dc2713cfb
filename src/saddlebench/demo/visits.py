"""An invented horse measured on a day: it stands a bit otherwise, its mark is set anew, every reading errs.

The errors are those that the instrument states, each made where it arises: a station set beside its mark, the
instrument leaning, pins and joints misread, zeros that are off in the same way at every station of a device.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from saddlebench.demo.shapes import BackShape
from saddlebench.engine.back.backwards import readings_of
from saddlebench.engine.back.instruments import Instrument, JointedChain, PinComb, Scale
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.readings import (
    BackReadings,
    Reading,
    Section,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.back.record import BackRecord, Coat
from saddlebench.engine.change.coat import USUAL_DEPTH_MM
from saddlebench.engine.change.posture import HALF_LENGTH_MM, MIDDLE_MM, USUAL_POSTURE, Posture
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE

REACH = np.deg2rad(96.0)
REMARKED = ("withers", "lowest", "last_rib", "shoulder_left", "shoulder_right", "girth_groove")
CONTACT_STEP_MM = 25.0
WAVES = 60
Change = Callable[[FloatArray, FloatArray], FloatArray]
"""What was gained at distances (n,) [mm] and angles (n,) [rad], along the radius (n,) [mm]."""


def unchanged(s_mm: FloatArray, phi: FloatArray) -> FloatArray:
    """Return no change at all."""
    return np.zeros(np.broadcast_shapes(np.shape(s_mm), np.shape(phi)))


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitDay:
    """One day's visit."""

    day: dt.date
    coat: Coat = Coat.SUMMER
    change: Change = unchanged
    """Since the shape was as it is written."""
    stance_sd_deg: float = 0.5
    posture: Posture = USUAL_POSTURE
    share_of_coat: float = 0.5
    """How much of the coat stays under the instrument."""


def visit(
    label: str,
    shape: BackShape,
    instrument: JointedChain | PinComb,
    distances_mm: tuple[float, ...],
    on: VisitDay,
    rng: np.random.Generator,
    device: int = 0,
) -> BackRecord:
    """Return the record of a visit.

    Parameters
    ----------
    label : the horse's name
    shape : before any change
    instrument : a chain or comb
    distances_mm : stations, behind the shoulder mark as it is set that day
    on : the day
    rng : source of the day's errors
    device : number of the piece of the instrument, which has zeros of its own
    """
    remarked = float(rng.normal(0.0, _shoulder_sd(shape.landmarks)))
    section_at = _sections(shape, instrument, distances_mm, on, rng, remarked)
    exact = readings_of(section_at, instrument, distances_mm)
    readings = _misread(exact, instrument, rng, np.random.default_rng([device, 41]))
    return BackRecord(
        label=label,
        measured_on=on.day,
        instrument=instrument,
        readings=readings,
        landmarks=_felt(shape.landmarks, remarked, rng),
        coat=on.coat,
    )


def _shoulder_sd(marks: Landmarks) -> float:
    return marks.shoulder_left.sd_mm if isinstance(marks.shoulder_left, Mark) else 10.0


def _felt(marks: Landmarks, remarked: float, rng: np.random.Generator) -> Landmarks:
    """Return the marks as felt that day, counted from the shoulder mark as it was set."""
    felt = {}
    for name in REMARKED:
        mark = getattr(marks, name)
        if isinstance(mark, Mark):
            off = 0.0 if name.startswith("shoulder") else float(rng.normal(0.0, mark.sd_mm))
            felt[name] = Mark(float(np.round(mark.value_mm - remarked + off)), mark.sd_mm)
    return replace(marks, **felt)


def _sections(
    shape: BackShape,
    instrument: JointedChain | PinComb,
    distances_mm: tuple[float, ...],
    on: VisitDay,
    rng: np.random.Generator,
    remarked: float,
) -> Callable[[float], FloatArray]:
    phi = np.linspace(-REACH, REACH, 641)
    placing, posture = instrument.placing, on.posture
    pitch, roll = rng.normal(0.0, on.stance_sd_deg * DEGREE, 2)
    lift = rng.normal(0.0, posture.lift_mm)
    twist = rng.normal(0.0, posture.twist_deg * DEGREE)
    flesh = _flesh(posture, rng)
    places = {d: rng.normal(0.0, placing.along_mm) for d in distances_mm}
    leaning = {d: rng.normal(0.0, placing.tilt_deg * DEGREE) for d in distances_mm}
    beside = {d: rng.normal(0.0, placing.midline_mm) for d in distances_mm}
    depth = on.share_of_coat * USUAL_DEPTH_MM[on.coat][0]
    contact = placing.contact_mm if isinstance(instrument, JointedChain) else 0.0

    def section(distance_mm: float) -> FloatArray:
        s = distance_mm + remarked + places.get(distance_mm, 0.0)
        radius = (
            shape.radius(s, phi)
            + on.change(np.full_like(phi, s), phi)
            + flesh(np.full_like(phi, s), phi)
            + depth
        )
        radius += contact * _patchy(radius, rng)
        u = (s - MIDDLE_MM) / HALF_LENGTH_MM
        y, z = radius * np.sin(phi), radius * np.cos(phi) + shape.axis_z_mm
        top = float(np.interp(0.0, phi, z))
        angle = roll + 0.5 * u * twist + leaning.get(distance_mm, 0.0)
        y, up = y * np.cos(angle) - (z - top) * np.sin(angle), y * np.sin(angle) + (z - top) * np.cos(angle)
        height = top + up + lift * (1.0 - u**2) - s * pitch
        return np.stack([y - beside.get(distance_mm, 0.0), height], axis=1)

    return section


def _flesh(posture: Posture, rng: np.random.Generator) -> Change:
    """Return a smooth field by random waves (Rahimi & Recht, Random features, NIPS 2007)."""
    waves = rng.normal(0.0, 1.0, (WAVES, 2)) / posture.flesh_length_mm
    begins = rng.uniform(0.0, 2.0 * np.pi, WAVES)
    size = posture.flesh_mm * np.sqrt(2.0 / WAVES)

    def field(s_mm: FloatArray, phi: FloatArray) -> FloatArray:
        s, across = np.broadcast_arrays(np.asarray(s_mm, float), 250.0 * np.asarray(phi, float))
        return np.asarray(
            size * np.cos(s[..., None] * waves[:, 0] + across[..., None] * waves[:, 1] + begins).sum(axis=-1)
        )

    return field


def _patchy(radius_mm: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return unit errors that belong to places about as far apart as pads are."""
    n = int(2 * REACH * float(np.median(radius_mm)) / CONTACT_STEP_MM)
    at = np.linspace(0.0, 1.0, n)
    return np.interp(np.linspace(0.0, 1.0, len(radius_mm)), at, rng.normal(0.0, 1.2, n))


def _misread(
    exact: BackReadings,
    instrument: JointedChain | PinComb,
    rng: np.random.Generator,
    zeros: np.random.Generator,
) -> BackReadings:
    offsets = _zeros(instrument, zeros)
    stations = tuple(_station(section, instrument, offsets, rng) for section in exact.stations)
    topline = exact.topline
    if isinstance(topline, ToplineHeights):
        read = np.array(topline.height_mm) + rng.normal(
            0.0, instrument.placing.height_mm, len(topline.height_mm)
        )
        topline = replace(topline, height_mm=tuple(float(h) for h in np.round(read)))
    elif (
        isinstance(topline, ToplineJoints)
        and isinstance(instrument, JointedChain)
        and instrument.topline is not None
    ):
        arm = instrument.topline.arm
        joints = _row(topline.joints, arm.scale, arm.joint_sd_deg, np.zeros(arm.n_links), rng)
        topline = replace(topline, joints=joints)
    return BackReadings(stations=stations, topline=topline)


def _zeros(instrument: Instrument, zeros: np.random.Generator) -> dict[str, FloatArray]:
    """Return the device's own standing errors, degrees or mm, of either side."""
    if isinstance(instrument, JointedChain):
        return {
            name: zeros.normal(0.0, arm.zero_sd_deg, arm.n_links)
            for name, arm in (("left", instrument.left), ("right", instrument.right))
        }
    if isinstance(instrument, PinComb):
        return {
            name: zeros.normal(0.0, instrument.zero_sd_mm, instrument.n_pins)
            for name in ("left", "right", "middle")
        }
    msg = f"a visit is not made with a {type(instrument).__name__}"
    raise TypeError(msg)


def _station(
    section: Section,
    instrument: JointedChain | PinComb,
    offsets: dict[str, FloatArray],
    rng: np.random.Generator,
) -> Section:
    if not isinstance(section, StationReadings):
        msg = f"{type(section).__name__} are no readings of a {type(instrument).__name__}"
        raise TypeError(msg)
    if isinstance(instrument, JointedChain):
        arm, other = instrument.left, instrument.right
        return replace(
            section,
            left=_row(section.left, arm.scale, arm.joint_sd_deg, offsets["left"], rng),
            right=_row(section.right, other.scale, other.joint_sd_deg, offsets["right"], rng),
        )
    scale = instrument.scale
    sd = (float(np.hypot(instrument.pin_sd_mm, instrument.placing.contact_mm)),) * instrument.n_pins
    return replace(
        section,
        left=_row(section.left, scale, sd, offsets["left"], rng),
        right=_row(section.right, scale, sd, offsets["right"], rng),
        middle=_row((section.middle,), scale, (instrument.pin_sd_mm,), offsets["middle"], rng)[0],
    )


def _row(
    readings: tuple[Reading, ...],
    scale: Scale,
    sd: tuple[float, ...],
    zeros: FloatArray,
    rng: np.random.Generator,
) -> tuple[Reading, ...]:
    return tuple(
        None
        if reading is None
        else scale.nearest(reading * scale.per_division + float(rng.normal(0.0, one)) + float(zero))
        for reading, one, zero in zip(readings, sd, zeros, strict=False)
    )
