"""A back with a saddle on it as triangles and colours, for a viewer that turns it.

The file: 4 bytes (little endian) with the length of a JSON head, the head, then its arrays one after another.
The head names each array with its type and length; positions are float32 [mm, back frame], indices uint32,
colours uint8 RGB per vertex. Values become colours here, so that a viewer needs no scales of its own.
"""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.fit.settled import Settled
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.drawings.geometry import lattice
from saddlebench.exchange.drawings.oblique import pressure_colours
from saddlebench.exchange.drawings.plan import CLEARANCE, PRESSURE, MapKind
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.packed_arrays import pack_arrays
from saddlebench.exchange.vocabulary import said

MOST_TRIANGLES = 50_000
BACK_NODES = (150, 81)
"""Nodes along and across the back: some 24,000 triangles."""
DIFFERENCE_MM = 15.0
"""Ends of the scale of left against right."""
ABOVE_SKIN_MM = 2.5
"""By so much panels that press lie above the skin as drawn, so that neither hides the other."""
NOT_MEASURED_RGB = (0.55, 0.55, 0.58)
BARE_RGB = (0.86, 0.80, 0.72)
PANEL_RGB = (0.84, 0.86, 0.88)

# Ends and middle of a diverging scale in Oklab (Ottosson 2020, "A perceptual color space for image
# processing"): straight lines in that space, so that equal differences look equally large.
_NEAR_OKLAB, _MIDDLE_OKLAB, _OFF_OKLAB = (0.45, -0.03, -0.13), (0.95, 0.0, 0.01), (0.45, 0.07, 0.115)
_OKLAB_TO_LMS = np.array(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)
_LMS_TO_LINEAR = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LegendBand:
    """One colour of a layer and what it stands for."""

    colour: str
    """#rrggbb"""
    words: str


def legend_of(layer: str) -> tuple[LegendBand, ...]:
    """Return a layer's colours in words, from little to much."""
    if layer == "pressure":
        return (LegendBand(colour=_hex(np.array(BARE_RGB)), words=said("not bearing")), *_bands(PRESSURE))
    if layer == "clearance":
        return (LegendBand(colour=_hex(np.array(PANEL_RGB)), words=said("bearing")), *_bands(CLEARANCE))
    places = (
        (-1.0, f"off side (right) {DIFFERENCE_MM:g} mm or more fuller"),
        (-0.5, f"off side {DIFFERENCE_MM / 2:g} mm fuller"),
        (0.0, "both sides alike"),
        (0.5, f"near side {DIFFERENCE_MM / 2:g} mm fuller"),
        (1.0, f"near side (left) {DIFFERENCE_MM:g} mm or more fuller"),
    )
    return tuple(
        LegendBand(colour=_hex(difference_colours(np.array([place]) * DIFFERENCE_MM)[0]), words=said(words))
        for place, words in places
    )


def _bands(kind: MapKind) -> tuple[LegendBand, ...]:
    levels = kind.levels
    colours = _colours_of(kind, np.array([(a + b) / 2 for a, b in pairwise(levels)]))
    bands = []
    for k, colour in enumerate(colours):
        last = k == len(colours) - 1
        words = (
            f"over {levels[k]:g} {kind.unit}" if last else f"{levels[k]:g} to {levels[k + 1]:g} {kind.unit}"
        )
        bands.append(LegendBand(colour=_hex(colour), words=said(words)))
    return tuple(bands)


def _hex(rgb: FloatArray) -> str:
    return "#" + "".join(f"{round(255 * float(np.clip(part, 0.0, 1.0))):02x}" for part in rgb)


def _colours_of(kind: MapKind, values: FloatArray) -> FloatArray:
    if kind is PRESSURE:
        return pressure_colours(values)
    share = np.clip(values / kind.levels[-1], 0.0, 1.0)
    free = (values > kind.levels[0])[:, None]
    return np.where(free, kind.colours(share)[:, :3], np.array(PANEL_RGB))


def difference_colours(near_minus_off_mm: FloatArray) -> FloatArray:
    """Return (n, 3) float sRGB colours of differences (n,) [mm]: blue where the near side is fuller."""
    share = np.clip(near_minus_off_mm / DIFFERENCE_MM, -1.0, 1.0)[:, None]
    middle = np.array(_MIDDLE_OKLAB)
    ends = np.where(share >= 0.0, np.array(_NEAR_OKLAB), np.array(_OFF_OKLAB))
    return oklab_to_srgb(middle + np.abs(share) * (ends - middle))


def oklab_to_srgb(lab: FloatArray) -> FloatArray:
    """Return (n, 3) float sRGB [0–1] of Oklab (n, 3) (Ottosson 2020); transfer curve of IEC 61966-2-1."""
    linear = np.clip(((lab @ _OKLAB_TO_LMS.T) ** 3) @ _LMS_TO_LINEAR.T, 0.0, 1.0)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def shape_view(scene: Scene) -> bytes:
    """Return the file of one state of a fit check.

    Raises
    ------
    ValueError
        If it would have more triangles than a phone turns smoothly.
    """
    arrays: dict[str, NDArray[Any]] = {}
    _add_back(arrays, scene)
    for name, side in (("near", 1), ("off", -1)):
        _add_panel(arrays, scene, name, side)
    move, seat = scene.settled.saddle_to_back, scene.saddle.seat
    arrays["arch.line"] = move.points(scene.saddle.arch_saddle).astype("<f4")
    flat = np.column_stack([seat.x_mm, np.zeros(seat.x_mm.size), seat.z_mm])
    arrays["seat.line"] = move.points(flat).astype("<f4")
    triangles = sum(array.size // 3 for name, array in arrays.items() if name.endswith(".index"))
    if triangles > MOST_TRIANGLES:
        msg = f"{triangles} triangles are more than {MOST_TRIANGLES}"
        raise ValueError(msg)
    return pack_arrays(arrays, title=scene.pair, state=scene.state, triangles=triangles)


def _add_back(arrays: dict[str, NDArray[Any]], scene: Scene) -> None:
    surface = scene.surface
    grid = surface.grid
    rows, columns = np.where(surface.measured)
    s = np.linspace(grid.s_mm[rows.min()], grid.s_mm[rows.max()], BACK_NODES[0])
    half = float(max(-grid.phi[columns.min()], grid.phi[columns.max()]))
    phi = np.linspace(-half, half, BACK_NODES[1])
    at_s, at_phi = (part.ravel() for part in np.meshgrid(s, phi, indexing="ij"))
    inside = np.clip(at_phi, grid.phi[0], grid.phi[-1])
    radius = surface.spline.radius(at_s, inside)[:, 0]
    known = _measured_at(scene, at_s, at_phi)
    mirrored = radius.reshape(BACK_NODES)[:, ::-1].ravel()
    both = known & known.reshape(BACK_NODES)[:, ::-1].ravel()
    sign = np.where(at_phi >= 0.0, 1.0, -1.0)
    difference = difference_colours(sign * (radius - mirrored))
    bare = np.where(known[:, None], np.array(BARE_RGB), np.array(NOT_MEASURED_RGB))
    arrays["back.position"] = grid.cartesian(at_s, inside, radius).astype("<f4")
    arrays["back.index"] = _triangles(BACK_NODES, known)
    arrays["back.plain"] = _bytes(bare)
    arrays["back.difference"] = _bytes(np.where(both[:, None], difference, np.array(NOT_MEASURED_RGB)))


def _measured_at(scene: Scene, s: FloatArray, phi: FloatArray) -> NDArray[np.bool_]:
    grid = scene.surface.grid
    row = np.clip(np.rint((s - grid.s0_mm) / grid.ds_mm).astype(int), 0, grid.n_s - 1)
    column = np.rint((phi - grid.phi0) / grid.dphi).astype(int)
    inside = (column >= 0) & (column < grid.n_phi)
    found = scene.surface.measured[row, np.clip(column, 0, grid.n_phi - 1)]
    return np.asarray(inside & found, dtype=bool)


def _add_panel(arrays: dict[str, NDArray[Any]], scene: Scene, name: str, side: int) -> None:
    held, settled = lattice(scene, side), scene.settled
    index = held.index.ravel()
    measured = settled.measured[index][:, None]
    arrays[f"{name}.position"] = _on_or_above_skin(scene, held.points.reshape(-1, 3)).astype("<f4")
    arrays[f"{name}.index"] = _triangles(held.index.shape, np.ones(index.size, dtype=bool))
    for layer, kind, values in _layers(settled, index):
        colours = np.where(measured, _colours_of(kind, values), np.array(NOT_MEASURED_RGB))
        arrays[f"{name}.{layer}"] = _bytes(colours)


def _on_or_above_skin(scene: Scene, points: FloatArray) -> FloatArray:
    """Return (n, 3) points [mm], those that press into the back lifted onto it, so that they can be seen."""
    grid = scene.surface.grid
    s, phi, radius = grid.polar(points)
    skin = scene.surface.spline.radius(s, phi)[:, 0]
    return grid.cartesian(s, phi, np.maximum(radius, skin + ABOVE_SKIN_MM))


def _layers(settled: Settled, index: NDArray[np.intp]) -> tuple[tuple[str, MapKind, FloatArray], ...]:
    return (
        ("pressure", PRESSURE, settled.pressure_kpa[index]),
        ("clearance", CLEARANCE, settled.gap_mm[index]),
    )


def _triangles(shape: tuple[int, ...], known: NDArray[np.bool_]) -> NDArray[np.uint32]:
    """Return (m, 3) uint32: two triangles for each cell of a lattice whose corners are all known."""
    node = np.arange(shape[0] * shape[1]).reshape(shape)
    a, b, c, d = node[:-1, :-1], node[1:, :-1], node[1:, 1:], node[:-1, 1:]
    whole = known[a] & known[b] & known[c] & known[d]
    cells = np.stack([a[whole], b[whole], c[whole], d[whole]], axis=-1)
    return np.concatenate([cells[:, [0, 1, 2]], cells[:, [0, 2, 3]]]).astype("<u4")


def _bytes(colours: FloatArray) -> NDArray[np.uint8]:
    return np.rint(np.clip(colours, 0.0, 1.0) * 255.0).astype(np.uint8)
