"""Colours of a change: blue for less, orange for fuller, even steps of lightness either way.

Both arms run over the same CIELAB lightness and chroma, so that equal changes look equally strong; blue and
orange stay apart for every common kind of colour blindness, and a sign stands beside every patch.
"""

import numpy as np
from matplotlib.colors import ListedColormap

from saddlebench.engine.frames import FloatArray

_LIGHTEST, _DARKEST, _CHROMA = 96.0, 46.0, 48.0
_LESS_HUE, _FULLER_HUE = np.deg2rad(262.0), np.deg2rad(58.0)
_WHITE = np.array([0.95047, 1.0, 1.08883])
_TO_SRGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


def srgb_of_lab(lab: FloatArray) -> FloatArray:
    """Return sRGB (n, 3) of CIELAB (n, 3), D65, clipped to what a screen shows (IEC 61966-2-1).

    Parameters
    ----------
    lab : (n, 3) float, any frame, L*, a*, b* [1]
    """
    y = (lab[:, 0] + 16.0) / 116.0
    f = np.stack([y + lab[:, 1] / 500.0, y, y - lab[:, 2] / 200.0], axis=1)
    xyz = np.where(f > 6.0 / 29.0, f**3, 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0)) * _WHITE
    linear = np.clip(xyz @ _TO_SRGB.T, 0.0, 1.0)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1.0 / 2.4) - 0.055)


def change_lab(n: int) -> FloatArray:
    """Return CIELAB (n, 3) from least to fullest, the middle nearly white."""
    share = np.linspace(-1.0, 1.0, n)
    strength = np.abs(share)
    hue = np.where(share < 0.0, _LESS_HUE, _FULLER_HUE)
    lightness = _LIGHTEST + (_DARKEST - _LIGHTEST) * strength
    return np.stack([lightness, _CHROMA * strength * np.cos(hue), _CHROMA * strength * np.sin(hue)], axis=1)


CHANGE_MAP = ListedColormap(srgb_of_lab(change_lab(257)), name="change")
