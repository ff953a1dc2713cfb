"""Angles on a photo of the horse: topline, shoulder, points; with how sure they are.

A photo shows an angle truly only where its plane faces the camera. Seen aside by ψ, lengths along the turn
shrink
by cos ψ; how well the camera was square to the plane is stated, not known, and its error is carried.
"""

from dataclasses import dataclass

import numpy as np

from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.frames import FloatArray

CLICK_SD_PX = 3.0
"""Of a place pointed at on a photo (judgement)."""
ASIDE_SD_DEG = 8.0
"""How far a camera held by hand stands aside of square (judgement)."""
LEVEL_SD_DEG = 1.0
"""Of a camera held level by hand where no level line is marked (judgement)."""
SHORTEST_PX = 30.0
_TRIES = 4000


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoAngle:
    """An angle and its standard deviation."""

    deg: float
    sd_deg: float
    against: str
    """What it is measured against, in words."""


def angle_on_photo(
    line: FloatArray,
    level: FloatArray | None = None,
    *,
    click_sd_px: float = CLICK_SD_PX,
    aside_sd_deg: float = ASIDE_SD_DEG,
    seed: int = 0,
) -> PhotoAngle:
    """Return the angle of a line against the level.

    Parameters
    ----------
    line : (2, 2) float, two places on the photo, from the upper left corner [px]
    level : (2, 2) float, a line known to be level (or, with its length's direction, the ground) [px]; None:
    the
        picture's own lower edge, as the camera was held
    click_sd_px : standard deviation of each place
    aside_sd_deg : how far the camera may have stood aside of square, about a plumb line and about a level one

    Returns
    -------
    The angle from −90 to 90°, positive where the line rises to the right

    Raises
    ------
    InputProblemsError
        If two places lie too near to each other for a direction.

    Notes
    -----
    The errors are carried by drawing them (JCGM 101:2008): places by a normal law; the camera's place aside
    stretches the picture by 1/cos ψ along either axis.
    """
    given = [line] if level is None else [line, level]
    for words, places in zip(("line", "level line"), given, strict=False):
        if np.shape(places) != (2, 2) or np.linalg.norm(np.diff(places, axis=0)) < SHORTEST_PX:
            what = f"the {words}’s two places are nearer to each other than {SHORTEST_PX:.0f} dots"
            raise input_problem(
                what,
                "Mark them as far apart as the picture allows.",
                Where(field=words),
            )
    rng = np.random.default_rng(seed)
    aside = 1.0 / np.cos(np.radians(aside_sd_deg) * rng.standard_normal((_TRIES, 2)))
    tries = _directions(line, aside, click_sd_px, rng)
    if level is None:
        tries = tries - np.radians(LEVEL_SD_DEG) * rng.standard_normal(_TRIES)
        truth = _direction(line)
    else:
        tries = tries - _directions(level, aside, click_sd_px, rng)
        truth = _direction(line) - _direction(level)
    off = _folded(tries - truth)
    return PhotoAngle(
        deg=float(np.degrees(_folded(np.array([truth]))[0])),
        sd_deg=float(np.degrees(np.sqrt((off**2).mean()))),
        against="the level line marked" if level is not None else "the picture’s lower edge, as it was held",
    )


def _direction(places: FloatArray) -> float:
    across, down = places[1] - places[0]
    return float(np.arctan2(-down, across))


def _directions(
    places: FloatArray, aside: FloatArray, click_sd_px: float, rng: np.random.Generator
) -> FloatArray:
    """Return directions [rad], (n,) float, of tries of a line (2, 2) float [px], stretched (n, 2) float."""
    moved = places[1] - places[0] + np.sqrt(2.0) * click_sd_px * rng.standard_normal((len(aside), 2))
    stretched = moved * aside
    return np.asarray(np.arctan2(-stretched[:, 1], stretched[:, 0]), dtype=float)


def _folded(angles: FloatArray) -> FloatArray:
    """Return angles (n,) float [rad] of lines, which have no sense, from −π/2 to π/2."""
    return np.asarray((angles + 0.5 * np.pi) % np.pi - 0.5 * np.pi, dtype=float)
