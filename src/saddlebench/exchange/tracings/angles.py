"""Angles on a photo of the horse: topline, shoulder, points; with how sure they are.

A photo shows an angle truly only where its plane faces the camera. How far the camera stood aside is not
known, but a line that is level, one that is plumb, and their lengths tell: a photo on which they are marked
is calibrated.
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
LENGTH_SD_MM = 5.0
"""Of a length known on the photo: a stick beside the horse (judgement)."""
PLUMB_SD_DEG = 0.5
"""Of a post or a door that counts as plumb, against a line that counts as level (judgement)."""
USUAL_FOCAL, FOCAL_SD = 0.8, 0.25
"""Focal length over the picture's longer side, and its relative deviation, over phones (memory)."""
_LEVEL_DEG = 0.05
SHORTEST_PX = 30.0
_TRIES, _CALIBRATED_TRIES = 4000, 120000
_FEWEST_LEFT = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known on the photo, in the plane of what is measured or beside it."""

    level: FloatArray | None = None
    """(2, 2) float, two places of a line that is level [px]; None: the picture's lower edge, as held."""
    level_mm: float | None = None
    """How far apart the two places truly are."""
    upright: FloatArray | None = None
    """(2, 2) float, two places of a line that is plumb [px]."""
    upright_mm: float | None = None


NOTHING = Known()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoAngle:
    """An angle and its standard deviation."""

    deg: float
    sd_deg: float
    against: str
    """What it is measured against, in words."""

    @property
    def way(self) -> str:
        """How the line runs on the picture, in words."""
        if abs(self.deg) < _LEVEL_DEG:
            return "level"
        return "rising to the right" if self.deg > 0.0 else "falling to the right"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tries:
    """Cameras as they may have stood."""

    turn: FloatArray
    """(n, 3, 3) float: the plane's axes right, up, out, camera's axes."""
    focal: FloatArray
    """(n,) float [px]."""
    middle: FloatArray
    """(2,) float [px]."""
    click_sd_px: float
    rng: np.random.Generator

    def along(self, places: FloatArray) -> FloatArray:
        """Return the way from the first place to the second in the plane, (n, 2) float: right, up [-].

        Parameters
        ----------
        places : (2, 2) float [px]; each is tried where it may truly have been
        """
        seen = places + self.click_sd_px * self.rng.standard_normal((len(self.focal), 2, 2))
        ray = np.ones((len(self.focal), 2, 3))
        ray[..., :2] = (seen - self.middle) / self.focal[:, None, None] * (1.0, -1.0)
        ray[..., 2] = -1.0
        normal = self.turn[:, None, :, 2]
        solid = ray * (-self.turn[:, 2, 2, None] / (normal * ray).sum(axis=2))[..., None]
        way = solid[:, 1] - solid[:, 0]
        return np.einsum("nk,nkj->nj", way, self.turn[:, :, :2])


def angle_on_photo(
    line: FloatArray,
    known: Known = NOTHING,
    *,
    size_px: tuple[int, int] | None = None,
    click_sd_px: float = CLICK_SD_PX,
    aside_sd_deg: float = ASIDE_SD_DEG,
    seed: int = 0,
) -> PhotoAngle:
    """Return the angle of a line against the level.

    Parameters
    ----------
    line : (2, 2) float, two places on the photo, from the upper left corner [px]
    known : what is level, plumb, or of a known length
    size_px : the photo's width and height; None: half as large again as all that is marked
    click_sd_px : standard deviation of each place
    aside_sd_deg : how far the camera may have stood aside of square, about a plumb line and about a level one

    Returns
    -------
    The angle from −90 to 90°, positive where the line rises to the right

    Raises
    ------
    InputProblemsError
        If two places lie too near to each other for a direction, or what is known cannot all be true.

    Notes
    -----
    The camera is a pinhole over a plumb plane, its focal length and how it stood drawn by normal laws (JCGM
    101:2008). Each draw counts by how well it shows the level and the plumb line at a right angle and both
    lengths at one scale (importance sampling; Robert & Casella, *Monte Carlo Statistical Methods*, section
    3.3; memory).
    """
    _refuse_short(line, known)
    tries = _tries(line, known, size_px, click_sd_px, aside_sd_deg, np.random.default_rng(seed))
    way = tries.along(line)
    if known.level is None:
        level = np.tile([1.0, 0.0], (len(way), 1))
        slope = np.radians(LEVEL_SD_DEG) * tries.rng.standard_normal(len(way))
    else:
        level, slope = tries.along(known.level), np.zeros(len(way))
    angles = _heading(way) - _heading(level) - slope
    weight = _weight(level, slope, known, tries)
    if float(weight.max()) < 1e-6 or float(weight.sum()) ** 2 < _FEWEST_LEFT * float((weight**2).sum()):
        raise input_problem(
            "the level line, the plumb line and their lengths cannot all be true on one photo",
            "Look where their ends are marked, and at the lengths.",
            Where(field="upright"),
        )
    mean = _mean(angles, weight)
    spread = float(np.sqrt((weight * _folded(angles - mean) ** 2).sum() / weight.sum()))
    return PhotoAngle(deg=float(np.degrees(mean)), sd_deg=float(np.degrees(spread)), against=_against(known))


def _refuse_short(line: FloatArray, known: Known) -> None:
    for words, places in (("line", line), ("level line", known.level), ("plumb line", known.upright)):
        if places is None:
            continue
        if np.shape(places) != (2, 2) or not np.linalg.norm(np.diff(places, axis=0)) >= SHORTEST_PX:
            what = f"the {words}’s two places are nearer to each other than {SHORTEST_PX:.0f} dots"
            raise input_problem(
                what,
                "Mark them as far apart as the picture allows.",
                Where(field=words),
            )


def _tries(
    line: FloatArray,
    known: Known,
    size_px: tuple[int, int] | None,
    click_sd_px: float,
    aside_sd_deg: float,
    rng: np.random.Generator,
) -> _Tries:
    every = np.vstack([one for one in (line, known.level, known.upright) if one is not None])
    low, high = every.min(axis=0), every.max(axis=0)
    middle = 0.5 * (low + high) if size_px is None else 0.5 * np.array(size_px, dtype=float)
    long = 1.5 * float((high - low).max()) if size_px is None else float(max(size_px))
    n = _TRIES if known.upright is None else _CALIBRATED_TRIES
    about_plumb, about_level = np.radians(aside_sd_deg) * rng.standard_normal((2, n))
    focal = USUAL_FOCAL * long * np.exp(FOCAL_SD * rng.standard_normal(n))
    zero, one = np.zeros(n), np.ones(n)
    cos, sin = np.cos(about_plumb), np.sin(about_plumb)
    yaw = np.stack([cos, zero, sin, zero, one, zero, -sin, zero, cos], axis=1).reshape(n, 3, 3)
    cos, sin = np.cos(about_level), np.sin(about_level)
    pitch = np.stack([one, zero, zero, zero, cos, -sin, zero, sin, cos], axis=1).reshape(n, 3, 3)
    # The level line tells how the camera was rolled; without one it was held level.
    return _Tries(turn=pitch @ yaw, focal=focal, middle=middle, click_sd_px=click_sd_px, rng=rng)


def _weight(level: FloatArray, slope: FloatArray, known: Known, tries: _Tries) -> FloatArray:
    """Return how well each try shows what is known, (n,) float."""
    if known.upright is None:
        return np.ones(len(level))
    upright = tries.along(known.upright)
    off = _folded(_heading(upright) - _heading(level) - slope - 0.5 * np.pi) / np.radians(PLUMB_SD_DEG)
    log = -0.5 * off**2
    if known.level is not None and known.level_mm is not None and known.upright_mm is not None:
        across, up = np.linalg.norm(level, axis=1), np.linalg.norm(upright, axis=1)
        sd = float(np.hypot(LENGTH_SD_MM / known.level_mm, LENGTH_SD_MM / known.upright_mm))
        ratio = np.log(up / across * known.level_mm / known.upright_mm)
        log = log - 0.5 * (ratio / sd) ** 2
    return np.asarray(np.exp(np.maximum(log, -300.0)), dtype=float)


def _against(known: Known) -> str:
    said = "the picture’s lower edge, as it was held" if known.level is None else "the level line marked"
    if known.upright is None:
        return said
    both = known.level is not None and known.level_mm is not None and known.upright_mm is not None
    return f"{said}, put right by the plumb line{' and both lengths' if both else ''}"


def _heading(ways: FloatArray) -> FloatArray:
    return np.asarray(np.arctan2(ways[:, 1], ways[:, 0]), dtype=float)


def _mean(angles: FloatArray, weight: FloatArray) -> float:
    """Return the mean of angles of lines (n,) float [rad], which have no sense, from −π/2 to π/2."""
    doubled = (weight * np.exp(2j * angles)).sum()
    return float(0.5 * np.angle(doubled))


def _folded(angles: FloatArray) -> FloatArray:
    """Return angles (n,) float [rad] of lines, which have no sense, from −π/2 to π/2."""
    return np.asarray((angles + 0.5 * np.pi) % np.pi - 0.5 * np.pi, dtype=float)
