"""The file of the 3-D view: what a viewer reads back is the back, the saddle, and their colours."""

import json
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from exchange.studies import study
from saddlebench.engine.errors import Undetermined
from saddlebench.exchange.drawings import Scene
from saddlebench.exchange.drawings.geometry import lattice
from saddlebench.exchange.shape_view import (
    DIFFERENCE_MM,
    MOST_TRIANGLES,
    difference_colours,
    legend_of,
    oklab_to_srgb,
    shape_view,
)

TYPES = {"float32": "<f4", "uint32": "<u4", "uint8": "u1"}


def scene() -> Scene:
    found = Scene.of_study(study())
    assert not isinstance(found, Undetermined)
    return found


def read(file: bytes) -> tuple[dict[str, object], dict[str, NDArray[np.generic]]]:
    length = int.from_bytes(file[:4], "little")
    head = json.loads(file[4 : 4 + length])
    arrays = {}
    for name, one in head["arrays"].items():
        start = 4 + length + one["offset"]
        assert start % 4 == 0, "a viewer maps arrays at multiples of four only"
        arrays[name] = np.frombuffer(file, TYPES[one["type"]], one["length"], start)
    return head, arrays


def test_triangles_lie_on_the_back_as_it_was_measured() -> None:
    head, arrays = read(shape_view(scene()))
    surface = scene().surface
    points = arrays["back.position"].astype(float).reshape(-1, 3)
    used = np.unique(arrays["back.index"])
    s, phi, radius = surface.grid.polar(points[used])
    # Positions are kept in single precision: 0.001 mm at a metre.
    assert np.abs(radius - surface.spline.radius(s, phi)[:, 0]).max() < 1e-3
    triangles = sum(array.size // 3 for name, array in arrays.items() if name.endswith(".index"))
    assert head["triangles"] == triangles
    assert 20_000 < triangles <= MOST_TRIANGLES
    assert len(shape_view(scene())) < 700_000


def test_panels_are_where_the_saddle_lies_and_never_under_the_skin() -> None:
    _, arrays = read(shape_view(scene()))
    for name, side in (("near", 1), ("off", -1)):
        shown = arrays[f"{name}.position"].astype(float).reshape(-1, 3)
        held = lattice(scene(), side).points.reshape(-1, 3)
        grid, spline = scene().surface.grid, scene().surface.spline
        s, phi, radius = grid.polar(shown)
        assert np.all(radius > spline.radius(s, phi)[:, 0])
        skin = spline.radius(*grid.polar(held)[:2])[:, 0]
        free = grid.polar(held)[2] > skin + 5.0
        assert np.abs(shown[free] - held[free]).max(initial=0.0) < 1e-3
        assert np.all(np.sign(np.median(shown[:, 1])) == side)


def test_layers_differ_and_have_a_colour_for_each_vertex() -> None:
    _, arrays = read(shape_view(scene()))
    for name in ("near", "off"):
        count = arrays[f"{name}.position"].size
        assert arrays[f"{name}.pressure"].size == arrays[f"{name}.clearance"].size == count
        assert not np.array_equal(arrays[f"{name}.pressure"], arrays[f"{name}.clearance"])
    assert arrays["back.difference"].size == arrays["back.position"].size


def test_what_was_not_measured_is_grey_and_not_coloured() -> None:
    settled = scene().settled
    unseen = replace(scene(), settled=replace(settled, measured=np.zeros_like(settled.measured)))
    _, arrays = read(shape_view(unseen))
    assert {tuple(row) for row in arrays["near.pressure"].reshape(-1, 3)} == {(140, 140, 148)}


def test_the_scale_of_differences_is_even_to_either_side() -> None:
    """Equal steps are equally far apart by CIE 1976 lightness, so neither side looks larger than it is."""
    steps = np.linspace(-DIFFERENCE_MM, DIFFERENCE_MM, 41)
    rgb = difference_colours(steps)
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    luminance = linear @ np.array([0.2126, 0.7152, 0.0722])
    lightness = 116.0 * np.cbrt(luminance) - 16.0
    near, off = lightness[20:], lightness[20::-1]
    # Oklab's lightness is not quite CIE's: 4 of 100 between a blue and an orange of one Oklab lightness.
    assert np.abs(near - off).max() < 4.0
    for side in (near, off):
        fall = -np.diff(side)
        assert np.all(fall > 0.0)
        assert fall.max() < 1.5 * fall.min()


def test_oklab_agrees_with_its_authors_examples() -> None:
    """Ottosson (2020): white is (1, 0, 0); primaries computed with his published matrices."""
    lab = np.array([[1.0, 0.0, 0.0], [0.627955, 0.224863, 0.125846], [0.452014, -0.032457, -0.311528]])
    expected = np.array([[1.0, 1.0, 1.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    # The author gives six digits; the transfer curve is steep near black.
    assert oklab_to_srgb(lab) == pytest.approx(expected, abs=3e-3)


@pytest.mark.parametrize("layer", ["pressure", "clearance", "difference"])
def test_every_layer_has_a_legend_in_words(layer: str) -> None:
    bands = legend_of(layer)
    assert len({band.words for band in bands}) == len(bands) >= 5
    assert len({band.colour for band in bands}) == len(bands)
    assert all(len(band.colour) == 7 and int(band.colour[1:], 16) >= 0 for band in bands)
