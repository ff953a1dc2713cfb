"""Pictures and films as they come in: straightened, their place taken out, checked, decoded in bounds."""

import hashlib
import io
import struct
import zlib
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from photo_files import edges, exif_of_a_phone, jpeg
from PIL import ExifTags, Image, ImageFilter

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.films.cleaning import clean_film
from saddlebench.web.photos.checks import flaws_of, tilt_deg
from saddlebench.web.photos.measuring import angle_deg, drawn_shown
from saddlebench.web.photos.measuring import tilt_deg as line_tilt_deg
from saddlebench.web.photos.pictures import (
    LARGEST_PICTURE_BYTES,
    PRINT_SIDE_PX,
    THUMBNAIL_SIDE_PX,
    read_picture,
    thumbnail_of,
)
from support.films import SECRET, box, film

LONDON = ZoneInfo("Europe/London")


def test_where_it_was_taken_and_with_what_is_gone() -> None:
    original = jpeg(edges(), exif_of_a_phone())
    # The block is really there before: read back by the library that writes nothing of ours.
    before = Image.open(io.BytesIO(original)).getexif().get_ifd(ExifTags.IFD.GPSInfo)
    assert before[ExifTags.GPS.GPSLatitudeRef] == "N"
    assert SECRET in original
    picture = read_picture(original, LONDON)
    for content in (picture.content, picture.small):
        kept = Image.open(io.BytesIO(content))
        assert dict(kept.getexif()) == {}
        assert kept.getexif().get_ifd(ExifTags.IFD.GPSInfo) == {}
        assert b"Exif" not in content
        assert SECRET not in content
        assert set(kept.info) <= {
            "jfif",
            "jfif_version",
            "jfif_unit",
            "jfif_density",
            "progressive",
            "progression",
        }
    assert picture.original_sha256 == hashlib.sha256(original).hexdigest()


@pytest.mark.parametrize(
    ("offset", "at"),
    [
        ("+02:00", datetime(2026, 3, 1, 8, 42, 7, tzinfo=UTC)),
        ("", datetime(2026, 3, 1, 10, 42, 7, tzinfo=UTC)),
        ("-05:30", datetime(2026, 3, 1, 16, 12, 7, tzinfo=UTC)),
        ("nonsense", None),
    ],
)
def test_when_it_was_taken_is_kept_in_the_zone_it_says_or_the_practices(
    offset: str, at: datetime | None
) -> None:
    assert read_picture(jpeg(edges(200, 100), exif_of_a_phone(offset=offset)), LONDON).taken_at == at


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_picture_stands_upright_whichever_way_the_phone_was_held(orientation: int) -> None:
    upright = Image.new("RGB", (1200, 1600), "white")
    upright.paste("red", (0, 0, 600, 800))
    # How the dots lie in the file for each orientation (EXIF 2.32, 4.6.5: tag 274), undone by the reader.
    lies = {
        1: [],
        2: [Image.Transpose.FLIP_LEFT_RIGHT],
        3: [Image.Transpose.ROTATE_180],
        4: [Image.Transpose.FLIP_TOP_BOTTOM],
        5: [Image.Transpose.TRANSPOSE],
        6: [Image.Transpose.ROTATE_90],
        7: [Image.Transpose.TRANSVERSE],
        8: [Image.Transpose.ROTATE_270],
    }[orientation]
    lying = upright
    for turn in lies:
        lying = lying.transpose(turn)
    picture = read_picture(jpeg(lying, exif_of_a_phone(orientation=orientation)), LONDON)
    assert (picture.width_px, picture.height_px) == (1200, 1600)
    shown = Image.open(io.BytesIO(picture.content))
    red, white = shown.getpixel((100, 100)), shown.getpixel((1100, 1500))
    assert isinstance(red, tuple)
    assert isinstance(white, tuple)
    assert red[0] > 200
    assert red[1] < 60
    assert min(white) > 240


def test_print_size_and_small_copy() -> None:
    picture = read_picture(jpeg(edges(4000, 2000)), LONDON)
    assert (picture.width_px, picture.height_px) == (PRINT_SIDE_PX, PRINT_SIDE_PX // 2)
    assert Image.open(io.BytesIO(picture.content)).size == (PRINT_SIDE_PX, PRINT_SIDE_PX // 2)
    assert Image.open(io.BytesIO(picture.small)).size == (THUMBNAIL_SIDE_PX, THUMBNAIL_SIDE_PX // 2)
    assert Image.open(io.BytesIO(thumbnail_of(picture.content))).size == (
        THUMBNAIL_SIDE_PX,
        THUMBNAIL_SIDE_PX // 2,
    )
    small = read_picture(jpeg(edges(1100, 900)), LONDON)
    assert (small.width_px, small.height_px) == (1100, 900)


@pytest.mark.parametrize(
    ("mode", "kind"),
    [("RGBA", "PNG"), ("L", "PNG"), ("P", "PNG"), ("I;16", "PNG"), ("RGB", "WEBP"), ("CMYK", "JPEG")],
)
def test_every_way_of_colour_becomes_plain(mode: str, kind: str) -> None:
    source = edges(300, 200)
    image = (
        Image.fromarray(np.asarray(source.convert("L"), dtype=np.uint16) * 200)
        if mode == "I;16"
        else source.convert(mode)
    )
    out = io.BytesIO()
    image.save(out, kind)
    kept = Image.open(io.BytesIO(read_picture(out.getvalue(), LONDON).content))
    assert (kept.mode, kept.size, kept.format) == ("RGB", (300, 200), "JPEG")
    drawn = np.asarray(kept.convert("L"), dtype=float)
    assert np.ptp(drawn) > 60


def test_see_through_becomes_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (50, 40), (0, 0, 0, 0)).save(out, "PNG")
    kept = Image.open(io.BytesIO(read_picture(out.getvalue(), LONDON).content))
    assert min(kept.getextrema()[0]) > 250  # type: ignore[type-var]


def _png_head(width: int, height: int) -> bytes:
    def chunk(kind: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no picture that can be read"),
        (b"%PDF-1.7", "no picture that can be read"),
        (b"\xff\xd8\xff" + bytes(40), "no picture that can be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture that can be read"),
        (b"GIF89a" + bytes(40), "no picture that can be read"),
        (_png_head(60_000, 60_000), "million dots"),
        (_png_head(9000, 9000), "million dots"),
        (_png_head(100, 100), "broken"),
        (jpeg(edges(400, 300))[:5000], "broken"),
        (b"\xff\xd8\xff" + bytes(LARGEST_PICTURE_BYTES), "larger than 40 MB"),
    ],
    ids=[
        "nothing",
        "document",
        "head only",
        "drawing",
        "other kind",
        "bomb",
        "too many dots",
        "short",
        "cut",
        "heavy",
    ],
)
def test_what_is_no_picture_is_refused_in_words(content: bytes, said: str) -> None:
    with pytest.raises(InputProblemsError, match=said):
        read_picture(content, LONDON)


def test_a_good_picture_has_no_flaw() -> None:
    assert flaws_of(edges()) == ()


@pytest.mark.parametrize(
    ("image", "flaw"),
    [
        (edges().point(lambda dot: dot * 0.12), "dark"),
        (edges().filter(ImageFilter.GaussianBlur(14)), "blurred"),
        (edges(900, 700), "small"),
        (edges(tilt_deg=6), "horizon"),
        (edges(tilt_deg=-6), "horizon"),
    ],
    ids=["dark", "blurred", "small", "falls", "rises"],
)
def test_each_flaw_is_found_alone(image: Image.Image, flaw: str) -> None:
    assert flaws_of(image) == (flaw,)


def test_a_black_horse_in_daylight_is_not_too_dark() -> None:
    image = edges()
    image.paste((14, 12, 12), (250, 120, 1150, 830))
    assert "dark" not in flaws_of(image)


@pytest.mark.parametrize("tilt", [-8.0, -4.0, -1.5, 0.0, 2.0, 5.0, 10.0])
def test_the_lean_of_the_horizon_is_read_to_a_degree(tilt: float) -> None:
    grey = np.asarray(edges(900, 675, tilt_deg=tilt).convert("L"), dtype=np.float64)
    found = tilt_deg(grey)
    assert found is not None
    # Half of a bin of half a degree.
    assert abs(found - tilt) <= 0.25


def test_noise_has_no_horizon() -> None:
    noise = np.random.default_rng(3).integers(0, 255, (600, 800)).astype(np.float64)
    assert tilt_deg(noise) is None


@pytest.mark.parametrize("wide", [False, True])
@pytest.mark.parametrize("brand", [b"isom", b"qt  "])
def test_a_film_says_neither_place_nor_name_and_keeps_its_frames(brand: bytes, *, wide: bool) -> None:
    original = film(brand=brand, wide=wide)
    cleaned = clean_film(original, "video/mp4")
    assert len(cleaned) == len(original)
    assert b"+51.5072" in original
    for told in (b"+51.5072", SECRET, b"location", b"udta", b"meta"):
        assert told not in cleaned
    at = original.index(b"mdat")
    assert cleaned[at : at + 260] == original[at : at + 260]
    assert cleaned.index(b"mvhd") == original.index(b"mvhd")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (film(seconds=200), "longer than 3 minutes"),
        (film(seconds=200, wide=True), "longer than 3 minutes"),
        (film()[:400], "broken"),
        (box(b"ftyp", b"isom"), "no head"),
        (box(b"ftyp", b"isom") + struct.pack(">I4s", 4, b"moov"), "broken"),
        (box(b"ftyp", b"isom") + box(b"moov", box(b"mvhd", bytes(8))), "broken"),
        (box(b"ftyp", b"isom") + struct.pack(">I4sQ", 1, b"moov", 1 << 63), "broken"),
    ],
    ids=["long", "long, wide", "cut", "no head", "size too small", "head cut", "size absurd"],
)
def test_a_film_that_is_too_long_or_broken_is_refused(content: bytes, said: str) -> None:
    with pytest.raises(InputProblemsError, match=said):
        clean_film(content, "video/mp4")


def test_lines_angles_and_distances() -> None:
    assert line_tilt_deg((0, 10), (10, 0)) == pytest.approx(45)
    assert line_tilt_deg((10, 10), (0, 0)) == pytest.approx(-45)
    # Euclid's right angle, and the 3-4-5 triangle.
    assert angle_deg((3, 0), (0, 0), (0, 4)) == pytest.approx(90)
    marks = [
        {"key": "a", "kind": "known", "points": [[0.0, 0.5], [0.5, 0.5]], "known_mm": 250.0},
        {"key": "b", "kind": "distance", "points": [[0.0, 0.0], [0.3, 0.8]], "known_mm": None},
        {"key": "c", "kind": "angle", "points": [[0.5, 0.1], [0.1, 0.1], [0.1, 0.9]], "known_mm": None},
    ]
    # 1000 × 500 dots: 250 mm are 500 dots; 300 and 400 dots across and down are 500 dots along.
    known, distance, angle = drawn_shown(marks, 1000, 500)  # type: ignore[arg-type]
    assert (known.label, distance.label, angle.label) == ("250 mm known", "250 mm", "90.0°")
    alone = drawn_shown(marks[1:2], 1000, 500)  # type: ignore[arg-type]
    assert alone[0].label == "no scale"
