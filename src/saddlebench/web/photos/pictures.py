"""A picture from a camera: decoded in bounds, straightened, its place taken out, made small enough."""

import hashlib
import io
import warnings
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import Final

import numpy as np
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError
from pillow_heif import register_heif_opener

from saddlebench.engine.errors import input_problem
from saddlebench.web.photos.checks import flaws_of

LARGEST_PICTURE_BYTES: Final = 40 << 20
MOST_PIXELS: Final = 80_000_000
"""Of a JPEG, which is decoded at a fraction of its size; others are decoded whole."""
MOST_PIXELS_WHOLE: Final = 50_000_000
# A4 at 300 dots per inch is 3508 dots long: enough to print, and a drawing on it stays true.
PRINT_SIDE_PX: Final = 3600
THUMBNAIL_SIDE_PX: Final = 480
_QUALITY, _SMALL_QUALITY = 90, 78
_FORMATS = ("JPEG", "PNG", "WEBP", "HEIF", "AVIF")
_HEIF_BRANDS = {b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis"}
# Only the picture itself is decoded: neither its thumbnails nor depth maps beside it.
register_heif_opener(thumbnails=False, depth_images=False, aux_images=False, decode_threads=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture ready to be kept."""

    content: bytes
    """JPEG without anything but its pixels: no place, no camera, no time."""
    small: bytes
    width_px: int
    height_px: int
    taken_at: datetime | None
    original_sha256: str
    flaws: tuple[str, ...]


def is_heif(content: bytes) -> bool:
    """Tell whether a file is of the kinds that phones take by their own setting (HEIC, AVIF)."""
    return content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS


def read_picture(content: bytes, zone: tzinfo) -> Picture:
    """Return a picture as it is kept.

    Raises
    ------
    InputProblemsError
        If it is too large, no picture that can be read, or broken.
    """
    if len(content) > LARGEST_PICTURE_BYTES:
        what = f"the picture is larger than {LARGEST_PICTURE_BYTES >> 20} MB"
        raise input_problem(what, "Take it at the camera's usual size.")
    opened = _opened(content)
    taken_at = _taken_at(opened, zone)
    image = _decoded(opened)
    print_size = _fitted(image, PRINT_SIDE_PX)
    small = _fitted(print_size, THUMBNAIL_SIDE_PX)
    return Picture(
        content=_jpeg(print_size, _QUALITY),
        small=_jpeg(small, _SMALL_QUALITY),
        width_px=print_size.width,
        height_px=print_size.height,
        taken_at=taken_at,
        original_sha256=hashlib.sha256(content).hexdigest(),
        flaws=flaws_of(image),
    )


def thumbnail_of(content: bytes) -> bytes:
    """Return the small copy of a kept picture, for when the one that was made with it is gone."""
    return _jpeg(_fitted(_decoded(_opened(content)), THUMBNAIL_SIDE_PX), _SMALL_QUALITY)


def _opened(content: bytes) -> Image.Image:
    """Read a picture's head; nothing is decoded before its size is known to be in bounds."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(content), formats=_FORMATS)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise _too_many_pixels(MOST_PIXELS) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, RuntimeError):
        raise input_problem(
            "this is no picture that can be read", "Give JPEG, PNG, WebP or HEIC; for films MP4, MOV or WebM."
        ) from None
    most = MOST_PIXELS if image.format == "JPEG" else MOST_PIXELS_WHOLE
    if image.width * image.height > most:
        raise _too_many_pixels(most)
    return image


def _too_many_pixels(most: int) -> Exception:
    what = f"the picture has more than {most // 1_000_000} million dots"
    return input_problem(what, "Take it at the camera's usual size.")


def _decoded(image: Image.Image) -> Image.Image:
    try:
        if image.format == "JPEG":
            # The decoder itself leaves out what would be thrown away.
            image.draft("RGB", (PRINT_SIDE_PX, PRINT_SIDE_PX))
        straight = ImageOps.exif_transpose(image)
        return _opaque(straight)
    except (
        OSError,
        ValueError,
        SyntaxError,
        EOFError,
        MemoryError,
        RuntimeError,
        Image.DecompressionBombError,
    ):
        raise input_problem("the picture is broken", "Take it again, or choose another file.") from None


def _opaque(image: Image.Image) -> Image.Image:
    """Return the picture in plain red, green, blue; what was see-through becomes white."""
    if image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        layered = image.convert("RGBA")
        white = Image.new("RGBA", layered.size, "white")
        return Image.alpha_composite(white, layered).convert("RGB")
    if image.mode.startswith(("I", "F")):
        # Sixteen bits a dot: the library would cut instead of scale.
        dots = np.asarray(image.convert("F"), dtype=np.float64)
        span = float(np.ptp(dots)) or 1.0
        return Image.fromarray(((dots - dots.min()) * (255.0 / span)).astype(np.uint8)).convert("RGB")
    return image.convert("RGB")


def _fitted(image: Image.Image, side: int) -> Image.Image:
    if max(image.size) <= side:
        return image
    scale = side / max(image.size)
    size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
    return image.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0)


def _jpeg(image: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    # A new picture of the dots alone: nothing that the camera wrote beside them is carried over.
    bare = Image.frombytes("RGB", image.size, image.tobytes())
    bare.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return out.getvalue()


def _taken_at(image: Image.Image, zone: tzinfo) -> datetime | None:
    """Return when the camera says it was taken; without a zone of its own, in the practice's."""
    try:
        told = image.getexif().get_ifd(ExifTags.IFD.Exif)
        text = str(told.get(ExifTags.Base.DateTimeOriginal, "")).strip("\x00 ")
        at = datetime.strptime(text, "%Y:%m:%d %H:%M:%S").replace(tzinfo=zone)
        offset = str(told.get(ExifTags.Base.OffsetTimeOriginal, "")).strip("\x00 ")
        local = at.replace(tzinfo=_zone_of(offset)) if offset else at
        return local.astimezone(UTC) if 1990 <= local.year <= 2200 else None
    except (ValueError, OSError, SyntaxError, TypeError, KeyError, OverflowError, AttributeError):
        return None


def _zone_of(offset: str) -> timezone:
    sign = -1 if offset.startswith("-") else 1
    hours, minutes = offset.lstrip("+-").split(":")
    return timezone(sign * timedelta(hours=int(hours), minutes=int(minutes)))
