"""A trace sheet as its PDF is truly printed, by pdfium, then glued and drawn on."""

import io
from collections.abc import Sequence

import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from saddlebench.demo.photographed import Scene, camera_of, seen_by
from saddlebench.exchange.sheets.layout import MARGIN_MM, RING_MM, SheetKind, SheetLayout, layout_of

DOTS_PER_MM = 6.0


def glued(layout: SheetLayout, pdf: bytes) -> Image.Image:
    """Return the printed papers side by side, each cut along its left line and glued on the one before."""
    document = pypdfium2.PdfDocument(pdf)
    pages = [page.render(scale=DOTS_PER_MM * 25.4 / 72.0).to_pil().convert("RGB") for page in document]
    document.close()
    assert len(pages) == layout.tiles
    margin = round(MARGIN_MM * DOTS_PER_MM)
    width = round((layout.tiles * layout.shown_width_mm + 2 * MARGIN_MM) * DOTS_PER_MM)
    paper = Image.new("RGB", (width, pages[0].height), "white")
    for tile, page in enumerate(pages):
        cut = margin if tile else 0
        paper.paste(
            page.crop((cut, 0, page.width, page.height)),
            (round(tile * layout.shown_width_mm * DOTS_PER_MM) + cut, 0),
        )
    return paper


def drawn_on(
    paper: Image.Image, layout: SheetLayout, line: NDArray[np.float64], rings: tuple[int, ...] = ()
) -> NDArray[np.uint8]:
    """Return a paper with a pen's line, (n, 2) float, sheet's frame [mm], and with rings filled in."""
    return lines_on(paper, layout, [line], rings)


def lines_on(
    paper: Image.Image,
    layout: SheetLayout,
    lines: Sequence[NDArray[np.float64]],
    rings: tuple[int, ...] = (),
) -> NDArray[np.uint8]:
    """Return a paper with pen lines, (n, 2) float each, sheet's frame [mm], and with rings filled in."""
    upper_left = np.array([layout.left_mm - MARGIN_MM, layout.top_mm + MARGIN_MM])
    written = paper.copy()
    pen = ImageDraw.Draw(written)
    for line in lines:
        dots = ((line - upper_left) * (DOTS_PER_MM, -DOTS_PER_MM)).tolist()
        pen.line([tuple(one) for one in dots], (30, 30, 60), 5)
    for ring in rings:
        x, y = ((layout.rings[ring - 1] - upper_left) * (DOTS_PER_MM, -DOTS_PER_MM)).tolist()
        reach = 0.42 * RING_MM * DOTS_PER_MM
        pen.ellipse((x - reach, y - reach, x + reach, y + reach), fill=(30, 30, 60))
    return np.asarray(written)


def plain_photo() -> tuple[bytes, list[tuple[float, float]]]:
    """Return a JPEG of a plain A3 paper with a section on it, `y = -0.0028 x²`, and its corners [px]."""
    x = np.linspace(-150.0, 150.0, 300)
    return plain_with_lines(layout_of(SheetKind.SECTIONS, "a3", 1), [np.column_stack([x, -0.0028 * x**2])])


def plain_with_lines(
    layout: SheetLayout, lines: Sequence[NDArray[np.float64]]
) -> tuple[bytes, list[tuple[float, float]]]:
    """Return a JPEG of one plain paper of a layout's size with lines on it, and its corners [px]."""
    scene = Scene(tilt_deg=20.0, toward_deg=60.0)
    size = (round(layout.width_mm * DOTS_PER_MM), round(layout.height_mm * DOTS_PER_MM))
    paper = lines_on(Image.new("RGB", size, (246, 246, 246)), layout, lines)
    left, top = layout.left_mm - MARGIN_MM, layout.top_mm + MARGIN_MM
    right, low = left + layout.width_mm, top - layout.height_mm
    edges = np.array([(left, top), (right, top), (right, low), (left, low)])
    out = io.BytesIO()
    Image.fromarray(seen_by(paper, layout, scene)).save(out, "JPEG", quality=85)
    return out.getvalue(), [(x, y) for x, y in camera_of(layout, scene).to_photo(edges).tolist()]
