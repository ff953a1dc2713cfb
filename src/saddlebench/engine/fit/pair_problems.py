"""What makes a back and a saddle impossible to bring together, each usable by itself."""

from collections.abc import Iterator

import numpy as np

from saddlebench.engine.back.landmarks import Mark
from saddlebench.engine.errors import NotMeasured, Problem, Where
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.measures.cells import Cells
from saddlebench.engine.fit.problem import FitProblem

MOST_DRAWS = 20_000
HORSE_KG = (60.0, 1500.0)
FURTHEST_OFF_CENTRE_MM = 150.0
HIGHEST_LOAD_MM = 500.0


def pair_problems(fit: FitProblem, horse: Horse, draws: int) -> tuple[Problem, ...]:
    """Return every problem of a pair, of the horse's mass and of the number of draws."""
    if fit.saddle.bearing.area_mm2.size == 0 or not fit.surface.measured.any():
        return ()
    return (*_length(fit), *_width(fit), *_rider(fit.rider), *_numbers(horse, draws))


def _length(fit: FitProblem) -> Iterator[Problem]:
    measured = fit.surface.grid.s_mm[np.any(fit.surface.measured, axis=1)]
    length, known = Cells.of(fit.saddle.bearing).total_mm, float(np.ptp(measured))
    if length > known:
        yield Problem(
            what=f"The saddle bears over {length:.0f} mm, but only {known:.0f} mm of this back were measured",
            cure="Measure stations further forward and back, or check the saddle's length and its unit.",
            where=Where(file=fit.saddle.label),
        )


def _width(fit: FitProblem) -> Iterator[Problem]:
    strip = fit.landmarks.spine_strip_width
    channel = fit.saddle.channel
    if not isinstance(strip, Mark) or channel.x_mm.size == 0:
        return
    width = channel.half_width_left_mm + channel.half_width_right_mm
    place = int(np.argmin(width))
    if width[place] < strip.value_mm - 3.0 * strip.sd_mm:
        yield Problem(
            what=(
                f"The channel is {width[place]:.0f} mm wide {-channel.x_mm[place]:.0f} mm behind its front, "
                f"narrower than the spine strip of {strip.value_mm:.0f} mm: the saddle would sit on the spine"
            ),
            cure="Such a saddle is not tried on. Check the channel's width, the strip and their units.",
            where=Where(file=fit.saddle.label),
        )


def _rider(rider: Rider) -> Iterator[Problem]:
    if not abs(rider.off_centre_mm) <= FURTHEST_OFF_CENTRE_MM:
        yield Problem(
            what=f"The rider sits {rider.off_centre_mm:g} mm beside the middle",
            cure=f"State it in mm, at most {FURTHEST_OFF_CENTRE_MM:g} to either side.",
            where=Where(field="off centre"),
        )
    if not abs(rider.load_height_mm) <= HIGHEST_LOAD_MM:
        yield Problem(
            what=f"The rider's load acts {rider.load_height_mm:g} mm above the panels",
            cure=f"State it in mm, at most {HIGHEST_LOAD_MM:g}; 0 to 60 is usual.",
            where=Where(field="load height"),
        )


def _numbers(horse: Horse, draws: int) -> Iterator[Problem]:
    mass = horse.mass_kg
    if not isinstance(mass, NotMeasured) and not HORSE_KG[0] <= mass <= HORSE_KG[1]:
        yield Problem(
            what=f"A horse of {mass:g} kg is outside what is possible",
            cure=f"State the horse's mass in kg, {HORSE_KG[0]:g} to {HORSE_KG[1]:g}, or leave it out.",
            where=Where(field="horse mass"),
        )
    if not 0 <= draws <= MOST_DRAWS:
        yield Problem(
            what=f"{draws} tries were asked for",
            cure=f"Ask for 0 to {MOST_DRAWS}; 256 is usual.",
            where=Where(field="draws"),
        )
