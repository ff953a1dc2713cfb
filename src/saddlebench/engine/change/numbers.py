"""Widths, heights, angles, areas and ratios on both days, read at the same places of the back.

The earlier surface stands for the back; the later one is it plus the change and the change's errors. So what
a mark's own error does to a width, and what neither record saw between stations, is in both and drops out.
"""

from collections.abc import Iterator, Mapping

import numpy as np

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.levels import (
    Answer,
    DescriptionSettings,
    DrawnBacks,
    Level,
    LevelDescription,
    describe_level,
    draw_levels,
    withers_angle_of,
    withers_width_of,
)
from saddlebench.engine.back.profiles import Backs
from saddlebench.engine.back.support import Support
from saddlebench.engine.change.band import Difference
from saddlebench.engine.change.results import NumberChange
from saddlebench.engine.change.volumes import bonferroni, is_beyond
from saddlebench.engine.errors import NotMeasured, is_known
from saddlebench.engine.frames import FloatArray

Key = tuple[str, str, str, str]
"""Place, name, side, unit."""


def numbers_of(
    difference: Difference, landmarks: Landmarks, errors_mm: FloatArray
) -> tuple[NumberChange, ...]:
    """Return every number on both days with the interval of its change.

    Parameters
    ----------
    difference : Difference
    landmarks : Landmarks
        Of the earlier record: its places are used for both.
    errors_mm : (draws, n_s, n_phi) float, back frame, errors of the difference about a true change [mm]
    """
    together = difference.laid.together
    earlier = difference.earlier_mm[None]
    later = earlier + np.concatenate([np.zeros_like(earlier), errors_mm]) + difference.radius_mm
    marks = fixed_levels(landmarks)
    before = dict(
        _answers(_backs(difference, np.repeat(earlier, 3, axis=0), together.earlier.support, marks))
    )
    after = dict(_answers(_backs(difference, later, together.later.support, marks)))
    topline = _dip(difference, landmarks, np.repeat(earlier, 3, axis=0))
    before |= {_DIP: topline}
    after |= {_DIP: _dip(difference, landmarks, later)}
    changes = {key: _change(before[key], after[key]) for key in before}
    factor = bonferroni(sum(isinstance(change, Estimate) for change in changes.values()))
    return tuple(
        NumberChange(
            place=key[0],
            name=key[1],
            side=key[2],
            unit=key[3],
            earlier=_value(before[key]),
            later=_value(after[key]),
            change=change,
            is_told=isinstance(change, Estimate) and is_beyond(change, factor),
        )
        for key, change in changes.items()
    )


def fixed_levels(landmarks: Landmarks) -> dict[Level, float | NotMeasured]:
    """Return where each level lies behind the shoulder mark, as marked [mm]."""
    drawn = draw_levels(landmarks, 1, 0)
    return {
        level: place if isinstance(place, NotMeasured) else float(place[0]) for level, place in drawn.items()
    }


def _backs(
    difference: Difference,
    radii_mm: FloatArray,
    support: Support,
    marks: Mapping[Level, float | NotMeasured],
) -> DrawnBacks:
    return DrawnBacks(
        backs=Backs.through(difference.grid, radii_mm),
        support=support,
        marks={
            level: place if isinstance(place, NotMeasured) else np.full(len(radii_mm), place)
            for level, place in marks.items()
        },
        settings=DescriptionSettings(),
    )


def _answers(drawn: DrawnBacks) -> Iterator[tuple[Key, Answer]]:
    for level in Level:
        yield from _of_level(describe_level(drawn, level))
    yield (Level.SHOULDER, "withers angle", "both", "°"), withers_angle_of(drawn)
    depth = drawn.settings.withers_width_depth_mm
    yield (Level.SHOULDER, f"width {depth:g} mm below the midline", "both", "mm"), withers_width_of(drawn)


def _of_level(held: LevelDescription) -> Iterator[tuple[Key, Answer]]:
    for depth, width in held.widths.items():
        name = f"width {depth:g} mm below the midline"
        yield (held.level, name, "both", "mm"), width.total
        yield (held.level, f"half-{name}", "left", "mm"), width.left
        yield (held.level, f"half-{name}", "right", "mm"), width.right
    yield (held.level, "ratio of widths", "both", "1"), held.width_ratio
    for half_width, height in held.heights.items():
        name = f"height {half_width:g} mm from the midline"
        yield (held.level, name, "left", "mm"), height.left
        yield (held.level, name, "right", "mm"), height.right
    yield (held.level, "area of the section", "both", "cm²"), held.area


_DIP: Key = ("topline", "depth of the dip", "both", "mm")


def _dip(difference: Difference, landmarks: Landmarks, radii_mm: FloatArray) -> Answer:
    """Return how deep the topline lies at its lowest mark below the line from withers to last rib [mm]."""
    marks = (landmarks.withers, landmarks.lowest, landmarks.last_rib)
    places = [mark.value_mm for mark in marks if isinstance(mark, Mark)]
    if len(places) < 3:
        return NotMeasured("withers, lowest point and last rib were not all marked")
    together = difference.laid.together
    for rows in (together.earlier, together.later):
        for place in places:
            gap = rows.support.missing(place, 0.0)
            if gap is not None:
                return gap
    heights = Backs.through(difference.grid, radii_mm).toplines(np.array(places))
    share = (places[1] - places[0]) / (places[2] - places[0])
    dip = (1.0 - share) * heights[:, 0] + share * heights[:, 2] - heights[:, 1]
    low, high = np.quantile(dip[1:], [0.025, 0.975])
    return Estimate(
        value=float(dip[0]), sd=float(dip[1:].std(ddof=1)), low=float(low), high=float(high), unit="mm"
    )


def _value(answer: Answer) -> float | NotMeasured:
    return answer if isinstance(answer, NotMeasured) else answer.value


def _change(before: Answer, after: Answer) -> Answer:
    if not is_known(before):
        return before
    if not is_known(after):
        return after
    return Estimate(
        value=after.value - before.value,
        sd=after.sd,
        low=after.low - before.value,
        high=after.high - before.value,
        unit=after.unit,
    )
