"""Pictures compared as people see them: a record holds its numbers rounded, so bytes are too much to ask."""

import base64
import io
import re

import numpy as np
from numpy.typing import NDArray
from PIL import Image

_RASTER = re.compile(r'base64,([^"]+)"')
_MADE_UP = re.compile(r'(?<=")#?[a-z]+[0-9a-f]{10}(?=")|url\(#\w+\)')
_NUMBER = re.compile(r"(?<![#\w.])-?\d+(?:\.\d+)?")
LEAST_SEEN = 0.001
"""Of a point, in the coordinates of the drawing."""
LEAST_TONE = 2


def assert_looks_the_same(one: str, other: str) -> None:
    """Hold two SVG pictures against each other: the same strokes, words, places and tones."""
    first, second = (_parts(svg) for svg in (one, other))
    assert first[0] == second[0]
    np.testing.assert_allclose(first[1], second[1], rtol=0.0, atol=LEAST_SEEN)
    assert len(first[2]) == len(second[2])
    for left, right in zip(first[2], second[2], strict=True):
        assert left.shape == right.shape
        assert np.abs(left - right).max() <= LEAST_TONE


def _parts(svg: str) -> tuple[str, NDArray[np.float64], list[NDArray[np.int64]]]:
    words = _MADE_UP.sub("", _RASTER.sub("", svg))
    rasters = [
        np.asarray(Image.open(io.BytesIO(base64.b64decode(held))).convert("RGBA")).astype(np.int64)
        for held in _RASTER.findall(svg)
    ]
    return _NUMBER.sub("#", words), np.array([float(held) for held in _NUMBER.findall(words)]), rasters
