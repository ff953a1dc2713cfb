"""Draw the icons with which the phone's page stands on a home screen: the mark, on a ground that fills the square.

python scripts/draw_icons.py
"""

from pathlib import Path

from PIL import Image, ImageDraw

FOLDER = Path(__file__).resolve().parent.parent / "src" / "saddlebench" / "web" / "phone" / "static" / "phone"
SIZES = (192, 512)
GROUND, INK = "#1f4e79", "#ffffff"
_OVER = 4
_BACK = ((6.0, 22.0), (8.0, 13.0), (12.0, 10.0), (16.0, 10.0), (20.0, 10.0), (24.0, 13.0), (26.0, 22.0))
"""The mark's two cubic curves, in a square of 32."""
_SAFE = 0.72
"""A mask may cut a fifth off each side: the mark stays within."""


def _cubic(points: tuple[tuple[float, float], ...], t: float) -> tuple[float, float]:
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
    return (
        sum(w * x for w, (x, _) in zip(weights, points, strict=True)),
        sum(w * y for w, (_, y) in zip(weights, points, strict=True)),
    )


def draw(size: int) -> Image.Image:
    """Return the icon of one size, drawn larger and scaled down."""
    whole = size * _OVER
    image = Image.new("RGB", (whole, whole), GROUND)
    pen = ImageDraw.Draw(image)
    scale = whole / 32.0 * _SAFE
    path = [_cubic(_BACK[k : k + 4], i / 60) for k in (0, 3) for i in range(61)]
    radius = 1.5 * scale
    for x, y in path:
        at_x, at_y = whole / 2 + (x - 16.0) * scale, whole / 2 + (y - 16.0) * scale
        pen.ellipse((at_x - radius, at_y - radius, at_x + radius, at_y + radius), fill=INK)
    return image.resize((size, size), Image.Resampling.LANCZOS)


def main() -> None:
    """Write the icons."""
    for size in SIZES:
        draw(size).save(FOLDER / f"icon-{size}.png", optimize=True)


if __name__ == "__main__":
    main()
