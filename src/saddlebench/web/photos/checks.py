"""What a look at a picture finds: too dark, too blurred, too small, horizon off (limits: common practice)."""

from typing import Final

import numpy as np
import numpy.typing as npt
from PIL import Image

Grey = npt.NDArray[np.float64]

_LOOKED_AT_PX: Final = 900
SMALLEST_SIDE_PX: Final = 1000
"""Below this an A5 print shows its dots, and a millimetre on a back is less than one of them."""
DARKEST_MEAN: Final = 50.0
DARKEST_BRIGHT: Final = 120.0
"""The brightest twentieth of a picture that is dark throughout stays below this."""
LEAST_SHARPNESS: Final = 4.0
MOST_TILT_DEG: Final = 3.0
_TILT_RANGE_DEG: Final = 15.0
_TILT_BIN_DEG: Final = 0.5
_LEAST_PEAK: Final = 3.0
_SMOOTHINGS: Final = 5
_PEAK_BINS: Final = 11
"""The stairs of one edge spread it over some degrees; its middle is its lean."""


def flaws_of(image: Image.Image) -> tuple[str, ...]:
    """Return what is wrong with a picture, by the names that are kept with it."""
    grey = _grey(image)
    found = []
    if is_dark(grey):
        found.append("dark")
    if is_blurred(grey):
        found.append("blurred")
    if max(image.size) < SMALLEST_SIDE_PX:
        found.append("small")
    tilt = tilt_deg(grey)
    if tilt is not None and abs(tilt) > MOST_TILT_DEG:
        found.append("horizon")
    return tuple(found)


def _grey(image: Image.Image) -> Grey:
    scale = min(1.0, _LOOKED_AT_PX / max(image.size))
    size = (max(8, round(image.width * scale)), max(8, round(image.height * scale)))
    return np.asarray(image.convert("L").resize(size, Image.Resampling.BOX), dtype=np.float64)


def is_dark(grey: Grey) -> bool:
    """Tell whether a picture is dark throughout; a black horse in daylight is not."""
    return bool(grey.mean() < DARKEST_MEAN and np.percentile(grey, 95) < DARKEST_BRIGHT)


def is_blurred(grey: Grey) -> bool:
    """Tell whether a picture has no sharp edge anywhere: by its strongest second differences."""
    inner = grey[1:-1, 1:-1]
    second = grey[:-2, 1:-1] + grey[2:, 1:-1] + grey[1:-1, :-2] + grey[1:-1, 2:] - 4 * inner
    contrast = float(np.percentile(grey, 98) - np.percentile(grey, 2))
    if contrast < 8:
        return False
    # The sharpest hundredth counts: a horse before a blurred hedge is a good picture.
    return bool(np.percentile(np.abs(second), 99) / contrast * 100 < LEAST_SHARPNESS)


def tilt_deg(grey: Grey) -> float | None:
    """Return by how much level or upright edges lean, positive clockwise; None where none stand out.

    Edges within 15° of level are counted by strength in half degrees; a peak that stands well above the
    others is taken for the horizon, a rail, a wall.
    """
    across, down = _slopes(_smoothed(grey))
    strength = np.hypot(across, down)
    strong = strength > max(4.0, float(np.percentile(strength, 90)))
    # An edge runs at right angles to its slope; level edges slope down or up, uprights to a side.
    angle = np.degrees(np.arctan2(-across[strong], down[strong]))
    lean = (angle + 45.0) % 90.0 - 45.0
    near = np.abs(lean) <= _TILT_RANGE_DEG
    bins = int(2 * _TILT_RANGE_DEG / _TILT_BIN_DEG)
    counted, edges = np.histogram(
        lean[near], bins=bins, range=(-_TILT_RANGE_DEG, _TILT_RANGE_DEG), weights=strength[strong][near]
    )
    smooth = np.convolve(counted, np.ones(_PEAK_BINS) / _PEAK_BINS, mode="same")
    best = int(np.argmax(smooth))
    if smooth[best] <= _LEAST_PEAK * max(float(np.median(smooth)), 1e-9) or not near.sum() > 200:
        return None
    within = slice(max(0, best - _PEAK_BINS // 2), best + _PEAK_BINS // 2 + 1)
    middles = (edges[:-1] + edges[1:]) / 2
    return float(np.average(middles[within], weights=counted[within]))


def _smoothed(grey: Grey) -> Grey:
    """Smooth over some dots each way: the stairs of a sharp edge would all be level or upright."""
    for _ in range(_SMOOTHINGS):
        grey = (grey[:-2] + 2 * grey[1:-1] + grey[2:]) / 4
        grey = (grey[:, :-2] + 2 * grey[:, 1:-1] + grey[:, 2:]) / 4
    return grey


def _slopes(grey: Grey) -> tuple[Grey, Grey]:
    across = grey[1:-1, 2:] - grey[1:-1, :-2]
    down = grey[2:, 1:-1] - grey[:-2, 1:-1]
    return across, down
