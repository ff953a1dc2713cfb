"""A logo is checked before it is set: kind, size, what hides in it."""

import io
from pathlib import Path

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.letterhead import KEPT_SIDE_PX, MOST_BYTES, checked_logo, letterhead


def picture(size: tuple[int, int] = (64, 48), kind: str = "PNG", **more: object) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", size, (20, 90, 140)).save(held, format=kind, **more)
    return held.getvalue()


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_a_logo_comes_out_as_png_of_bounded_size(kind: str) -> None:
    with Image.open(io.BytesIO(checked_logo(picture((3000, 1500), kind)))) as kept:
        assert kept.format == "PNG"
        assert kept.size == (KEPT_SIDE_PX, KEPT_SIDE_PX // 2)
        assert kept.convert("RGB").getpixel((10, 10)) == pytest.approx((20, 90, 140), abs=3)


def test_nothing_but_the_picture_stays_in_it() -> None:
    note = PngInfo()
    note.add_text("Comment", "where I live")
    assert b"where I live" in picture(pnginfo=note)
    assert b"where I live" not in checked_logo(picture(pnginfo=note))


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "cannot be read"),
        (b"GIF89a" + bytes(80), "cannot be read"),
        (picture(kind="GIF"), "cannot be read"),
        (picture()[:60], "cannot be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "cannot be read"),
        (picture((8, 8)), "8 × 8 pixels"),
        (picture((6500, 40)), "6500 × 40 pixels"),
        (bytes(MOST_BYTES + 1), "more than 5 MB"),
    ],
)
def test_what_cannot_be_set_is_refused_with_what_to_do(content: bytes, why: str) -> None:
    with pytest.raises(InputProblemsError, match=why) as refused:
        checked_logo(content, file="logo.png")
    (problem,) = refused.value.problems
    assert (problem.where.file, problem.where.field) == ("logo.png", "logo")
    assert "PNG or JPEG" in problem.cure


def test_a_letterhead_keeps_its_lines_and_reads_its_logo(tmp_path: Path) -> None:
    (tmp_path / "logo.png").write_bytes(picture())
    head = letterhead(" Rowan ", ("Mill Lane 3", " "), tmp_path / "logo.png")
    assert (head.name, head.lines) == ("Rowan", ("Mill Lane 3",))
    assert head.logo.startswith(b"\x89PNG")


@pytest.mark.parametrize("lines", [("a",) * 7, ("a" * 91,)])
def test_a_letterhead_has_its_limits(lines: tuple[str, ...]) -> None:
    with pytest.raises(InputProblemsError, match="6 lines of 90 letters"):
        letterhead("Rowan", lines)
