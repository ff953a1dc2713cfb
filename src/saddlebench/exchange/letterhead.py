"""A practice's letterhead: its name, its lines, and its logo, checked before it is set."""

import hashlib
import io
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, UnidentifiedImageError

from saddlebench.engine.errors import InputProblemsError, Where, input_problem

MOST_BYTES = 5_000_000
LEAST_SIDE_PX, MOST_SIDE_PX = 32, 6000
KEPT_SIDE_PX = 600
MOST_LINES, MOST_LINE = 6, 90
_KINDS = ("PNG", "JPEG")


@dataclass(frozen=True, slots=True, kw_only=True)
class Letterhead:
    """What stands above a practice's reports."""

    name: str
    lines: tuple[str, ...] = ()
    """Address, telephone, and whatever else it wants; set as written."""
    logo: bytes = b""
    """PNG, as `checked_logo` returns it; empty: none."""

    @property
    def digest(self) -> str:
        """What tells this letterhead from another."""
        said = "\0".join((self.name, *self.lines)).encode() + b"\0\0" + self.logo
        return hashlib.sha256(said).hexdigest()[:12]


def letterhead(name: str, lines: tuple[str, ...] = (), logo: Path | None = None) -> Letterhead:
    """Return a letterhead with its logo read and checked.

    Raises
    ------
    InputProblemsError
        If there are too many lines, or the logo is none that can be set.
    OSError
        If the logo cannot be read.
    """
    tidy = tuple(line.strip() for line in lines if line.strip())
    if len(tidy) > MOST_LINES or any(len(line) > MOST_LINE for line in (name, *tidy)):
        what = f"a letterhead has room for {MOST_LINES} lines of {MOST_LINE} letters each"
        raise input_problem(what, "Shorten it, or leave lines out.", Where(field="letterhead"))
    content = b"" if logo is None else checked_logo(logo.read_bytes(), file=logo.name)
    return Letterhead(name=name.strip(), lines=tidy, logo=content)


def checked_logo(content: bytes, *, file: str = "") -> bytes:
    """Return a logo as PNG of at most 600 pixels a side (45 mm at 300 an inch), nothing but the picture.

    Raises
    ------
    InputProblemsError
        If it is too large, too small, of another kind, or broken.
    """
    if len(content) > MOST_BYTES:
        what = f"the logo has more than {MOST_BYTES // 1_000_000} MB"
        raise _refused(what, file)
    try:
        with Image.open(io.BytesIO(content), formats=_KINDS) as opened:
            if max(opened.size) > MOST_SIDE_PX or min(opened.size) < LEAST_SIDE_PX:
                what = f"the logo is {opened.size[0]} × {opened.size[1]} pixels"
                raise _refused(what, file)
            picture = opened.convert("RGBA")
    except InputProblemsError:
        raise
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError) as error:
        raise _refused("the logo cannot be read as a picture", file) from error
    picture.thumbnail((KEPT_SIDE_PX, KEPT_SIDE_PX))
    held = io.BytesIO()
    picture.save(held, format="PNG", optimize=True)
    return held.getvalue()


def _refused(what: str, file: str) -> InputProblemsError:
    cure = f"Take a PNG or JPEG picture of {LEAST_SIDE_PX} to {MOST_SIDE_PX} pixels a side."
    return input_problem(what, cure, Where(file=file, field="logo"))
