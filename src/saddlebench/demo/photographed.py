"""Invented photos of trace sheets: a sheet is printed, drawn on, bent, and seen by a known camera."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.drawn import tiles_drawn
from saddlebench.exchange.sheets.layout import MARGIN_MM, RING_MM, SheetLayout
from saddlebench.exchange.tracings.camera import PaperCamera

Picture = NDArray[np.uint8]
DOTS_PER_MM = 6.0
_FAINT, _BLACK, _WHITE = (196, 232, 244), (25, 25, 25), (246, 246, 246)


@dataclass(frozen=True, slots=True, kw_only=True)
class PenLine:
    """A curve drawn with a pen."""

    points: FloatArray
    """(n, 2) float, sheet's frame [mm]."""
    width_mm: float = 0.8
    colour: tuple[int, int, int] = (30, 30, 60)
    """Red, green, blue."""
    broken_mm: tuple[tuple[float, float], ...] = ()
    """Stretches along the curve where the pen did not write: from, to [mm]."""
    doubled_mm: float = 0.0
    """How far apart two strokes lie that follow the curve on either side [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """How the paper lies and how it is photographed."""

    width_px: int = 1632
    height_px: int = 1224
    tilt_deg: float = 0.0
    """How far the camera stands aside of the sheet's normal."""
    toward_deg: float = 90.0
    """Towards where it stands aside."""
    rolled_deg: float = 0.0
    focal: float = 0.78
    radial: float = 0.0
    curl: float = 0.0
    """Curvature of the paper [1/m]."""
    curl_deg: float = 0.0
    bulge_mm: float = 0.0
    """How far aside places in the paper's middle seem to lie because it stands up there, as no bend does."""
    fill: float = 0.9
    """How much of the picture the sheet fills."""
    blur_px: float = 0.6
    noise: float = 3.0
    """Standard deviation of a dot [levels of 255]."""
    light_fall: float = 0.3
    """By how much the light falls from one side to the other."""
    shadow: float = 0.0
    """How much of the light a shadow over part of the sheet takes."""
    hand: bool = False
    """A hand lies on the lower left corner."""
    quality: int = 85
    """Of the JPEG."""
    print_scale: tuple[float, float] = (1.0, 1.0)
    """Printed length over meant length, across and down."""
    table: int = 90
    """Brightness of the table [of 255]."""
    seed: int = 0
    filled_rings: tuple[int, ...] = field(default=())
    """Stations whose ring is filled in, from 1."""


def photographed_anyhow(rng: np.random.Generator, filled_rings: tuple[int, ...]) -> Scene:
    """Return a photo taken by hand: from somewhere above, of paper that curls a little."""
    return Scene(
        tilt_deg=float(rng.uniform(5.0, 25.0)),
        toward_deg=float(rng.uniform(0.0, 360.0)),
        curl=float(rng.uniform(-0.3, 0.3)),
        curl_deg=float(rng.uniform(0.0, 180.0)),
        seed=int(rng.integers(0, 1000)),
        filled_rings=filled_rings,
    )


def printed(layout: SheetLayout, lines: Sequence[PenLine], scene: Scene) -> Picture:
    """Return the joined sheet with its white margins, (h, w, 3) uint8, 6 dots to the mm, upper row first.

    Pen lines are drawn where they truly are; what is printed is stretched about each paper's middle.
    """
    import cv2  # noqa: PLC0415 - slow to load

    width = layout.tiles * layout.shown_width_mm + 2 * MARGIN_MM
    canvas = np.full((round(layout.height_mm * DOTS_PER_MM), round(width * DOTS_PER_MM), 3), 246, np.uint8)
    middle = np.array(
        [layout.left_mm + 0.5 * layout.tiles * layout.shown_width_mm, 0.5 * (layout.top_mm + layout.low_mm)]
    )
    stretch = np.array(scene.print_scale)

    def dots(places: object, *, is_printed: bool = True) -> FloatArray:
        at = np.asarray(places, dtype=float).reshape(-1, 2)
        at = middle + stretch * (at - middle) if is_printed else at
        return (at - (layout.left_mm - MARGIN_MM, layout.top_mm + MARGIN_MM)) * (
            DOTS_PER_MM,
            -DOTS_PER_MM,
        ) - 0.5

    for tile in tiles_drawn(layout):
        for line in tile.lines:
            ends = _sixteenths(dots([line.start, line.end]))
            colour = _FAINT if line.is_faint else _BLACK
            thick = max(1, round(line.width_mm * DOTS_PER_MM))
            cv2.line(canvas, ends[0].tolist(), ends[1].tolist(), colour, thick, cv2.LINE_AA, 4)
        for boxes, colour in ((tile.squares, _BLACK), (tile.whites, _WHITE)):
            for left, low, right, high in boxes:
                corners = dots([(left, low), (right, low), (right, high), (left, high)])
                cv2.fillConvexPoly(canvas, _sixteenths(corners), colour, cv2.LINE_AA, 4)
        for ring in tile.rings:
            cv2.circle(
                canvas,
                _sixteenths(dots([ring]))[0].tolist(),
                round(0.5 * RING_MM * DOTS_PER_MM * 16),
                _BLACK,
                1,
                cv2.LINE_AA,
                4,
            )
        for words in tile.words:
            at = np.round(dots([words.at]))[0].astype(int).tolist()
            colour = _FAINT if words.is_faint else _BLACK
            cv2.putText(
                canvas,
                words.words.encode("ascii", "replace").decode(),
                at,
                cv2.FONT_HERSHEY_SIMPLEX,
                0.055 * words.height_mm * DOTS_PER_MM / 1.2,
                colour,
                1,
                cv2.LINE_AA,
            )
    _write_on(canvas, layout, lines, scene, dots)
    return canvas


def _sixteenths(places: FloatArray) -> NDArray[np.int32]:
    """Return dots (n, 2) float in sixteenths, as the drawing takes them."""
    return np.round(places * 16.0).astype(np.int32)


def _write_on(
    canvas: Picture,
    layout: SheetLayout,
    lines: Sequence[PenLine],
    scene: Scene,
    dots: Callable[..., FloatArray],
) -> None:
    """Fill in the rings, and draw the lines where they truly are."""
    import cv2  # noqa: PLC0415 - slow to load

    for station in scene.filled_rings:
        at = _sixteenths(dots([layout.rings[station - 1]]))[0].tolist()
        cv2.circle(canvas, at, round(0.42 * RING_MM * DOTS_PER_MM * 16), (30, 30, 60), -1, cv2.LINE_AA, 4)
    for drawn in lines:
        for stroke in _strokes(drawn):
            thick = max(1, round(drawn.width_mm * DOTS_PER_MM))
            way = [_sixteenths(dots(stroke, is_printed=False))]
            cv2.polylines(
                canvas,
                way,
                isClosed=False,
                color=drawn.colour,
                thickness=thick,
                lineType=cv2.LINE_AA,
                shift=4,
            )


def _strokes(line: PenLine) -> list[FloatArray]:
    """Return the strokes that the pen makes, (n, 2) float each, sheet's frame [mm]."""
    points = np.asarray(line.points, dtype=float)
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    length = np.concatenate([[0.0], np.cumsum(step)])
    along = np.linspace(0.0, length[-1], max(2, round(length[-1] / 0.5)))
    fine = np.column_stack([np.interp(along, length, points[:, k]) for k in (0, 1)])
    tangent = np.gradient(fine, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    aside = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    shifts = (-0.5, 0.5) if line.doubled_mm else (0.0,)
    writes = np.ones(len(along), dtype=bool)
    for start, end in line.broken_mm:
        writes &= (along < start) | (along > end)
    strokes: list[FloatArray] = []
    for shift in shifts:
        moved = fine + shift * line.doubled_mm * aside
        edges = np.flatnonzero(np.diff(np.concatenate([[0], writes.astype(int), [0]])))
        strokes += [moved[a:b] for a, b in edges.reshape(-1, 2) if b - a > 1]
    return strokes


def camera_of(layout: SheetLayout, scene: Scene) -> PaperCamera:
    """Return the camera that sees the whole sheet from where the scene says."""
    import cv2  # noqa: PLC0415 - slow to load

    middle = (0.5 * (layout.left_mm + layout.right_mm), 0.5 * (layout.low_mm + layout.top_mm))
    toward, tilt = np.radians(scene.toward_deg), np.radians(scene.tilt_deg)
    lean, _ = cv2.Rodrigues(np.array([np.sin(toward), -np.cos(toward), 0.0]) * tilt)
    roll, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(scene.rolled_deg)]))
    turn, _ = cv2.Rodrigues(roll @ lean)
    half = 0.5 * np.array([layout.tiles * layout.shown_width_mm + 2 * MARGIN_MM, layout.height_mm])
    corners = np.array(middle) + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])

    def at(distance: float) -> PaperCamera:
        return PaperCamera(
            size_px=(scene.width_px, scene.height_px),
            middle_mm=middle,
            focal=scene.focal,
            radial=scene.radial,
            turn=tuple(turn.ravel().tolist()),
            shift=(0.0, 0.0, distance),
            curl=scene.curl,
            curl_deg=scene.curl_deg,
        )

    size = np.array([scene.width_px, scene.height_px])
    near, far = 200.0, 6000.0
    for _ in range(40):
        distance = 0.5 * (near + far)
        spread = np.abs(at(distance).to_photo(corners) - 0.5 * size).max(axis=0) / (0.5 * size)
        near, far = (distance, far) if spread.max() > scene.fill else (near, distance)
    return at(far)


def photographed(layout: SheetLayout, lines: Sequence[PenLine], scene: Scene) -> Picture:
    """Return the photo of a sheet as JPEG bytes decode to it, (h, w, 3) uint8, red, green, blue."""
    return seen_by(printed(layout, lines, scene), layout, scene)


def seen_by(paper: Picture, layout: SheetLayout, scene: Scene) -> Picture:
    """Return the photo of a paper with its white margins, (h, w, 3) uint8 red, green, blue, on a table."""
    import cv2  # noqa: PLC0415 - slow to load

    camera = camera_of(layout, scene)
    rows, columns = paper.shape[:2]
    extent = np.array([layout.tiles * layout.shown_width_mm + 2 * MARGIN_MM, layout.height_mm])
    upper_left = np.array([layout.left_mm - MARGIN_MM, layout.top_mm + MARGIN_MM])
    map_x, map_y = _dots_seen(camera, upper_left, extent, (rows, columns), scene)
    # Half-size dots stand for the camera's own: first the paper is averaged over them.
    scale = (columns / extent[0]) * extent[0] / (scene.fill * scene.width_px)
    soft = cv2.GaussianBlur(paper, (0, 0), max(0.3, 0.35 * scale))
    photo = cv2.remap(soft, map_x, map_y, cv2.INTER_LINEAR, borderValue=(scene.table,) * 3).astype(np.float32)
    rng = np.random.default_rng(scene.seed)
    high, wide = photo.shape[:2]
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    light = 1.0 - scene.light_fall * (0.6 * x / wide + 0.4 * y / high)
    if scene.shadow:
        edge = (x + 0.4 * y - 0.75 * wide) / (0.03 * wide)
        light *= 1.0 - scene.shadow / (1.0 + np.exp(-np.clip(edge, -30.0, 30.0)))
    if scene.hand:
        hand = ((x - 0.03 * wide) / (0.16 * wide)) ** 2 + ((y - 0.98 * high) / (0.22 * high)) ** 2 < 1.0
        photo[hand] = (196.0, 150.0, 122.0)
    photo *= light[..., None]
    photo = cv2.GaussianBlur(photo, (0, 0), max(0.05, scene.blur_px))
    photo += rng.normal(0.0, scene.noise, photo.shape).astype(np.float32)
    picture = np.clip(photo, 0.0, 255.0).astype(np.uint8)
    _, coded = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, scene.quality])
    decoded = np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR))
    return np.ascontiguousarray(decoded[..., ::-1])


def _dots_seen(
    camera: PaperCamera, upper_left: FloatArray, extent: FloatArray, shape: tuple[int, int], scene: Scene
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return which dot of the paper every dot of the photo shows, each (h, w) float32.

    The way from paper to photo is known in closed form; the way back is found on a coarse net of the photo by
    Newton's steps, and between the net's places it is a plane.
    """
    import cv2  # noqa: PLC0415 - slow to load

    high, wide = scene.height_px, scene.width_px
    step = 8
    net_y, net_x = np.mgrid[0 : high + step : step, 0 : wide + step : step].astype(float)
    target = np.column_stack([net_x.ravel(), net_y.ravel()])
    places = np.tile(np.array(camera.middle_mm), (len(target), 1))
    lowest = upper_left - np.array([300.0, extent[1] + 300.0])
    highest = upper_left + np.array([extent[0] + 300.0, 300.0])
    for _ in range(12):
        at = camera.to_photo(places)
        d_x = camera.to_photo(places + np.array([0.5, 0.0])) - at
        d_y = camera.to_photo(places + np.array([0.0, 0.5])) - at
        inner = np.stack([d_x, d_y], axis=2) / 0.5
        move = np.linalg.solve(inner + 1e-9 * np.eye(2), (target - at)[..., None])[..., 0]
        long = np.linalg.norm(move, axis=1, keepdims=True)
        places = places + move * np.minimum(1.0, 200.0 / np.maximum(long, 1e-9))
        places = np.clip(places, lowest, highest)
    if scene.bulge_mm:
        off = places - (np.array(camera.middle_mm) + np.array([0.15 * extent[0], 0.0]))
        near = np.exp(-0.5 * ((off / (0.16 * extent[0])) ** 2).sum(axis=1, keepdims=True))
        places = places + scene.bulge_mm * near * (0.6, 0.8)
    dots = (places - upper_left) * (shape[1] / extent[0], -shape[0] / extent[1]) - 0.5
    maps = []
    for k in (0, 1):
        net = dots[:, k].reshape(net_x.shape).astype(np.float32)
        grid_x, grid_y = np.meshgrid(
            np.arange(wide, dtype=np.float32) / step, np.arange(high, dtype=np.float32) / step
        )
        maps.append(cv2.remap(net, grid_x, grid_y, cv2.INTER_LINEAR))
    return maps[0], maps[1]
