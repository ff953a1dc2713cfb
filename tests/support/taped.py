"""What a fitter reads with a tape and an angle, the whole of the taking done over: the horse is a function.

Written without the engine's own error model: every hand is laid wrong in its own way, then the exact geometry
is read, so that coverage is of what happens and not of what the model says.
"""

from collections.abc import Sequence
from datetime import date

import numpy as np

from saddlebench.engine.back.backwards import SectionAt
from saddlebench.engine.back.instruments import TapeAndHand
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.outline import half_outlines
from saddlebench.engine.back.readings import BackReadings, StationReadings, ToplineHeights
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.back.tape import card_fall, out_at
from saddlebench.engine.errors import NotMeasured
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import DEGREE


def taped(
    section_at: SectionAt,
    tape: TapeAndHand,
    distances_mm: Sequence[float],
    landmarks: Landmarks,
    rng: np.random.Generator,
) -> BackRecord:
    """Return a back as one careful fitter took it; heights are the tape's, from the floor to the midline."""
    stations = tuple(
        _taken(section_at, tape, number, distance, rng)
        for number, distance in enumerate(distances_mm, start=1)
    )
    places = sorted({*distances_mm, 0.0})
    tops = [half_outlines(_known(section_at(place)))[2] for place in places]
    heights = np.round(np.array(tops) + rng.normal(0.0, tape.placing.height_mm, len(tops)))
    return BackRecord(
        label="invented",
        measured_on=date(2026, 5, 4),
        instrument=tape,
        readings=BackReadings(
            stations=stations,
            topline=ToplineHeights(distance_mm=tuple(places), height_mm=tuple(heights.tolist())),
        ),
        landmarks=landmarks,
    )


def _taken(
    section_at: SectionAt, tape: TapeAndHand, number: int, distance_mm: float, rng: np.random.Generator
) -> StationReadings:
    placing = tape.placing
    outline = _known(section_at(distance_mm + rng.normal(0.0, placing.along_mm)))
    beside = np.array([rng.normal(0.0, placing.midline_mm), half_outlines(outline)[2]])
    lean = rng.normal(0.0, placing.tilt_deg) * DEGREE
    turn = np.array([[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]])
    halves = half_outlines((outline - beside) @ turn)[:2]
    widths = [_width(tape, halves, depth, rng) for depth in tape.width_depths_mm]
    angles = [_angle(tape, half, rng) for half in halves]
    return StationReadings(
        number=number, distance_mm=distance_mm, left=angles[0], right=angles[1], widths=tuple(widths)
    )


def _width(
    tape: TapeAndHand, halves: tuple[FloatArray, FloatArray], depth_mm: float, rng: np.random.Generator
) -> float | None:
    """Each hand lies at a depth of its own, and presses in or stands off."""
    outs = [out_at(half, max(5.0, depth_mm + rng.normal(0.0, tape.depth_sd_mm))) for half in halves]
    if None in outs:
        return None
    pressed = rng.normal(0.0, tape.placing.contact_mm, 2).sum()
    return tape.width.nearest(sum(outs) + pressed + rng.normal(0.0, tape.width_sd_mm))


def _angle(tape: TapeAndHand, half: FloatArray, rng: np.random.Generator) -> tuple[float, ...]:
    """The card hangs from where that hand lay, not from the depth itself."""
    depth = max(5.0, tape.width_depths_mm[0] + rng.normal(0.0, tape.depth_sd_mm))
    fall = card_fall(half, depth, tape.card_mm)
    return () if fall is None else (tape.angle.nearest(fall + rng.normal(0.0, tape.angle_sd_deg)),)


def _known(outline: FloatArray | NotMeasured) -> FloatArray:
    assert not isinstance(outline, NotMeasured)
    return outline
