"""Pictures in packs: what kind they really are, in bounds, and without anything beside their dots."""

import io
import warnings
from dataclasses import dataclass
from typing import Literal

from PIL import Image, ImageOps, UnidentifiedImageError

from saddlebench.engine.errors import InputProblemsError, input_problem

MOST_PIXELS = 80_000_000
_FORMATS = ("JPEG", "PNG", "WEBP")
MediaType = Literal["image/jpeg", "image/png", "image/webp"]
_KINDS: dict[str, MediaType] = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
# What a decoder needs or a viewer uses for colour; everything else beside the dots goes.
_HARMLESS = frozenset(
    {
        *("jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi", "progressive", "progression"),
        *("adobe", "adobe_transform", "icc_profile", "gamma", "srgb", "transparency", "interlace", "loop"),
        *("background", "timestamp", "duration"),
    }
)
_QUALITY = 92


@dataclass(frozen=True, slots=True, kw_only=True)
class BarePicture:
    """A picture with nothing but its dots."""

    content: bytes
    media_type: MediaType
    width_px: int
    height_px: int


def bare_picture(content: bytes, name: str) -> BarePicture:
    """Return a picture without position, time or camera; its bytes stay as they are if they had none of it.

    Raises
    ------
    InputProblemsError
        If it is no picture of a kind that packs hold, broken, or absurdly large.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(content), formats=_FORMATS)
            is_absurd = image.width * image.height > MOST_PIXELS or getattr(image, "n_frames", 1) > 1
            if not is_absurd and not _is_bare(image):
                content = _without(image)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise _absurd(name) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, RuntimeError):
        raise input_problem(f"“{name}” is no picture that can be read", "Leave it out.") from None  # noqa: EM102
    if is_absurd:
        raise _absurd(name)
    return BarePicture(
        content=content,
        media_type=_KINDS[str(image.format)],
        width_px=image.width,
        height_px=image.height,
    )


def _absurd(name: str) -> InputProblemsError:
    return input_problem(
        f"“{name}” has more dots than a picture may have", "Leave it out, or send it smaller."
    )


def _is_bare(image: Image.Image) -> bool:
    segments = [name for name, _ in getattr(image, "applist", [])]
    plain = all(name in {"APP0", "APP2", "APP14"} for name in segments)
    return not image.getexif() and set(image.info) <= _HARMLESS and plain


def _without(image: Image.Image) -> bytes:
    straight = ImageOps.exif_transpose(image)
    kept = straight if straight.mode in {"RGB", "RGBA", "L", "LA"} else straight.convert("RGB")
    bare = Image.frombytes(kept.mode, kept.size, kept.tobytes())
    out = io.BytesIO()
    bare.save(out, str(image.format), quality=_QUALITY)
    return out.getvalue()
