"""Invented pictures and films as cameras make them, with everything that must be taken out of them."""

import io

import numpy as np
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from support.films import SECRET


def edges(width: int = 1200, height: int = 900, *, tilt_deg: float = 0.0, seed: int = 1) -> Image.Image:
    """Return a sharp picture: a bright sky over dark ground, a level rail, and posts."""
    rng = np.random.default_rng(seed)
    picture = Image.new("RGB", (width * 2, height * 2), (196, 205, 220))
    ground = Image.new("RGB", (width * 2, height), (96, 120, 70))
    picture.paste(ground, (0, height))
    picture.paste(Image.new("RGB", (width * 2, 18), (60, 40, 30)), (0, height - 160))
    turned = picture.rotate(-tilt_deg, Image.Resampling.BICUBIC)
    box = (width // 2, height // 2, width // 2 + width, height // 2 + height)
    noisy = np.asarray(turned.crop(box), dtype=np.int16) + rng.integers(-3, 4, (height, width, 1))
    return Image.fromarray(noisy.clip(0, 255).astype(np.uint8))


def jpeg(image: Image.Image, exif: Image.Exif | None = None) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=88, exif=exif or Image.Exif())
    return out.getvalue()


def exif_of_a_phone(*, orientation: int = 1, offset: str = "+02:00") -> Image.Exif:
    """Return a block as a phone writes it: camera, time, a way up, and where it stood."""
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = SECRET.decode()
    exif[ExifTags.Base.Orientation] = orientation
    told = exif.get_ifd(ExifTags.IFD.Exif)
    told[ExifTags.Base.DateTimeOriginal] = "2026:03:01 10:42:07"
    if offset:
        told[ExifTags.Base.OffsetTimeOriginal] = offset
    place = exif.get_ifd(ExifTags.IFD.GPSInfo)
    place[ExifTags.GPS.GPSLatitudeRef] = "N"
    place[ExifTags.GPS.GPSLatitude] = (IFDRational(51), IFDRational(30), IFDRational(26))
    place[ExifTags.GPS.GPSLongitudeRef] = "W"
    place[ExifTags.GPS.GPSLongitude] = (IFDRational(0), IFDRational(7), IFDRational(39))
    place[ExifTags.GPS.GPSAltitude] = IFDRational(35)
    return exif
