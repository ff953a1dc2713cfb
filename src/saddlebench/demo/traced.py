"""An invented back traced on paper: seven sheets, photographed one after another."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from saddlebench.demo.photographed import PenLine, Picture, Scene, photographed, photographed_anyhow
from saddlebench.demo.shapes import BackShape
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.sheets.layout import SheetKind, SheetLayout, layout_of

STATIONS_MM = (-80.0, 45.0, 170.0, 295.0, 420.0, 550.0)
TOPLINE_STARTS_MM = -120.0


def traced_photos(shape: BackShape, *, paper: str = "a3", seed: int = 0) -> tuple[Picture, ...]:
    """Return a photo of each station's sheet and one of the topline's, (h, w, 3) uint8 each."""
    sections, topline = layout_of(SheetKind.SECTIONS, paper), layout_of(SheetKind.TOPLINE, paper)
    rng = np.random.default_rng(seed)
    photos = [
        photographed(sections, [PenLine(points=section_on_sheet(shape, s, sections))], _scene(rng, (k,)))
        for k, s in enumerate(STATIONS_MM, start=1)
    ]
    photos.append(photographed(topline, [PenLine(points=topline_on_sheet(shape, topline))], _scene(rng, ())))
    return tuple(photos)


def _scene(rng: np.random.Generator, rings: tuple[int, ...]) -> Scene:
    scene = photographed_anyhow(rng, rings)
    return replace(scene, hand=bool(rng.random() < 0.3))


def section_on_sheet(shape: BackShape, s_mm: float, layout: SheetLayout) -> FloatArray:
    """Return a back's cross-section as it is traced, (n, 2) float, sheet's frame [mm], where it has room."""
    solid = shape.section(s_mm, 801)
    # Left on the left: the back's y is positive to the left.
    across, up = -solid[:, 1], solid[:, 2] - np.interp(0.0, solid[:, 1], solid[:, 2])
    left, low, right, _ = layout.area
    has_room = (across > left + 5.0) & (across < right - 5.0) & (up > low + 5.0)
    middle = int(np.abs(across).argmin())
    out = np.flatnonzero(~has_room)
    first = max(out[out < middle], default=-1) + 1
    last = min(out[out > middle], default=len(across))
    return np.column_stack([across, up])[first:last]


def topline_on_sheet(shape: BackShape, layout: SheetLayout) -> FloatArray:
    """Return a back's topline as it is traced, (n, 2) float, sheet's frame [mm]: head left."""
    x = np.arange(0.0, layout.area[2] - 10.0, 2.0)
    height = shape.radius(x + TOPLINE_STARTS_MM, np.zeros(len(x))) + shape.axis_z_mm
    return np.column_stack([x, height - float(height.mean())])


def write_photos(photos: tuple[Picture, ...], folder: Path) -> tuple[Path, ...]:
    """Write photos as JPEG files and return their names."""
    import cv2  # noqa: PLC0415 - slow to load

    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for number, picture in enumerate(photos, start=1):
        path = folder / f"sheet-{number}.jpg"
        _, coded = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
        path.write_bytes(coded.tobytes())
        paths.append(path)
    return tuple(paths)
