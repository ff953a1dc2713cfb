"""HEIC, as phones send it: converted, upright, without its place; hostile files are refused in bounds."""

import hashlib
import io
import random
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from photo_files import edges, exif_of_a_phone
from PIL import ExifTags, Image

from saddlebench.engine.errors import InputProblemsError
from saddlebench.web.photos.pictures import read_picture
from support.films import SECRET

LONDON = ZoneInfo("Europe/London")
# What turns each EXIF orientation (EXIF 2.32, 4.6.5: tag 274) into the dots as they lie in the file.
LIES = {
    1: [],
    3: [Image.Transpose.ROTATE_180],
    6: [Image.Transpose.ROTATE_90],
    8: [Image.Transpose.ROTATE_270],
}


def heic(image: Image.Image, *, orientation: int = 1) -> bytes:
    """Return a file as a phone writes it; the encoder also writes the turn as the format's own property."""
    out = io.BytesIO()
    image.save(out, "HEIF", quality=80, exif=exif_of_a_phone(orientation=orientation).tobytes())
    return out.getvalue()


def test_a_heic_photo_is_converted_and_says_no_place() -> None:
    original = heic(edges())
    # Place and camera are really there before.
    before = Image.open(io.BytesIO(original))
    assert before.getexif().get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitudeRef] == "N"
    assert SECRET in original
    picture = read_picture(original, LONDON)
    kept = Image.open(io.BytesIO(picture.content))
    assert (kept.format, kept.size, dict(kept.getexif())) == ("JPEG", (1200, 900), {})
    assert SECRET not in picture.content + picture.small
    assert picture.original_sha256 == hashlib.sha256(original).hexdigest()
    assert picture.taken_at == datetime(2026, 3, 1, 8, 42, 7, tzinfo=UTC)
    assert picture.flaws == ()


@pytest.mark.parametrize("orientation", LIES)
def test_a_heic_photo_stands_upright(orientation: int) -> None:
    lying = Image.new("RGB", (160, 240), "white")
    lying.paste("red", (0, 0, 80, 120))
    for turn in LIES[orientation]:
        lying = lying.transpose(turn)
    picture = read_picture(heic(lying, orientation=orientation), LONDON)
    shown = Image.open(io.BytesIO(picture.content))
    red, white = shown.getpixel((20, 20)), shown.getpixel((140, 220))
    assert shown.size == (160, 240)
    assert isinstance(red, tuple)
    assert isinstance(white, tuple)
    assert red[0] > 200
    assert red[1] < 60
    assert min(white) > 240


def test_a_cut_heic_is_refused_in_words_wherever_it_is_cut() -> None:
    original = heic(edges(320, 240))
    for length in [*range(0, 600, 41), *range(600, len(original), 4001)]:
        with pytest.raises(InputProblemsError, match=r"no picture that can be read|is broken"):
            read_picture(original[:length], LONDON)


def test_a_heic_that_was_tampered_with_is_refused_or_read_and_nothing_else() -> None:
    original = heic(edges(320, 240))
    dice = random.Random(5)  # noqa: S311
    refused = 0
    for _ in range(60):
        spoilt = bytearray(original)
        for _ in range(8):
            spoilt[dice.randrange(900)] = dice.randrange(256)
        try:
            picture = read_picture(bytes(spoilt), LONDON)
        except InputProblemsError:
            refused += 1
        else:
            assert max(picture.width_px, picture.height_px) <= 3600
    assert refused > 30


def test_a_heic_that_claims_to_be_huge_is_refused_before_it_is_decoded() -> None:
    original = heic(edges(320, 240))
    at = original.index(b"ispe")
    huge = original[: at + 8] + (30_000).to_bytes(4, "big") * 2 + original[at + 16 :]
    with pytest.raises(InputProblemsError, match=r"million dots|no picture that can be read|is broken"):
        read_picture(huge, LONDON)
