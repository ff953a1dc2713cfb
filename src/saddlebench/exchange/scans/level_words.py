"""What a look at a scan says about level: what it was taken from, and how the ground falls against it."""

import numpy as np

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.scan.level import AGREE_DEG, LevelBy, axis_near
from saddlebench.engine.scan.standing import Ground


def level_words(
    level_by: LevelBy, up: FloatArray, ground: Ground | None, falls_deg: tuple[float, float]
) -> list[tuple[str, str]]:
    """Return what is level and why, and what to do, as pairs of sentences without a place.

    Parameters
    ----------
    level_by : what said which way is up
    up : (3,) float, instrument frame [1]
    ground : None where none was seen
    falls_deg : of the ground against level, to the near side and to the tail [°]
    """
    if level_by is LevelBy.AXIS:
        return _by_axis(up, ground, falls_deg)
    if level_by is LevelBy.LEVEL_GROUND:
        return _on_level_ground(up)
    if level_by is LevelBy.BODY:
        return [
            (
                "no ground is seen: which way is up is taken from how the body would stand",
                "State which way is up, or scan the ground round the hooves, too.",
            )
        ]
    axis = axis_near(up)
    if axis is not None:
        what = (
            f"level is the ground’s; the scan’s own axis {_name(axis)} lies {_apart_deg(axis, up):.1f}° off "
            "upright by it; how far the ground falls is not known, and the back’s error allows for 1°"
        )
        return [(what, "If the ground fell and the scanner feels which way is up, take level from the axis.")]
    what = (
        "level is the ground’s: the scan’s own axes do not tell which way is up; how far the ground "
        "falls is not known, and the back’s error allows for 1°"
    )
    return [(what, "If the ground was level there, say so; on a slope, scan again where it is level.")]


def _by_axis(up: FloatArray, ground: Ground | None, falls_deg: tuple[float, float]) -> list[tuple[str, str]]:
    axis = _name(up)
    if ground is None:
        return [
            (
                f"no ground is seen: which way is up is taken from the scan’s own axis, {axis}",
                "Nothing to do if the scanner feels which way is up, as phones do; else state it.",
            )
        ]
    apart = _apart_deg(ground.up, up)
    if apart < AGREE_DEG:
        return []
    side, tail = falls_deg
    towards = "near" if side > 0.0 else "off"
    end = "towards the tail" if tail > 0.0 else "towards the head"
    what = (
        f"the ground and the scan’s own axis {axis} differ by {apart:.1f}°: level is taken from the axis, by "
        f"which the ground falls {abs(side):.1f}° to the {towards} side and {abs(tail):.1f}° {end}"
    )
    cure = "Nothing to do on sloping ground. If it was level there, say so, and look at the scan again."
    return [(what, cure)]


def _on_level_ground(up: FloatArray) -> list[tuple[str, str]]:
    axis = axis_near(up)
    if axis is None or _apart_deg(axis, up) < AGREE_DEG:
        return []
    what = (
        f"level is the ground’s, as stated; the scan’s own axis {_name(axis)} lies "
        f"{_apart_deg(axis, up):.1f}° off it"
    )
    return [(what, "Nothing to do if the ground was level; else have level taken from the axis.")]


def _name(axis: FloatArray) -> str:
    """Return which of the scan's own axes it is, with its sign."""
    k = int(np.argmax(np.abs(axis)))
    return f"{'+' if axis[k] > 0.0 else '-'}{'xyz'[k]}"


def _apart_deg(one: FloatArray, other: FloatArray) -> float:
    return float(np.degrees(np.arccos(np.clip(one @ other, -1.0, 1.0))))
