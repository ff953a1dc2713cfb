"""Short films: limits, and taking out where they were taken without touching picture and sound."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from saddlebench.engine.errors import input_problem

LARGEST_FILM_BYTES: Final = 150 << 20
LONGEST_FILM_S: Final = 180.0
_MOST_BOXES: Final = 4000
_DEEPEST: Final = 8
# Boxes that hold boxes, on the way to those that say where and by whom a film was taken.
_FOLDERS = {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"moof", b"traf", b"mvex"}
_TELLING = {b"udta", b"meta", b"uuid"}


@dataclass(frozen=True, slots=True)
class _Box:
    kind: bytes
    start: int
    inside: int
    end: int


def clean_film(content: bytes, media_type: str) -> bytes:
    """Return a film without the boxes that tell place, names and device; every frame stays where it was.

    Raises
    ------
    InputProblemsError
        If it is too large or too long, or its parts cannot be read.
    """
    if len(content) > LARGEST_FILM_BYTES:
        what = f"the film is larger than {LARGEST_FILM_BYTES >> 20} MB"
        raise input_problem(what, "Cut it shorter, or film at a smaller size.")
    if media_type == "video/webm":
        return content
    cleaned = bytearray(content)
    boxes = list(_boxes(content, 0, len(content), 0))
    if not any(box.kind == b"moov" for box in boxes):
        raise input_problem("the film has no head and cannot be played", "Film it again.")
    for box in boxes:
        if box.kind == b"mvhd":
            _refuse_if_long(content, box)
        if box.kind in _TELLING:
            # The box stays as long as it was, so that nothing behind it moves; it says nothing any more.
            cleaned[box.start + 4 : box.start + 8] = b"free"
            cleaned[box.inside : box.end] = bytes(box.end - box.inside)
    return bytes(cleaned)


def _boxes(content: bytes, start: int, end: int, depth: int) -> Iterator[_Box]:
    at, counted = start, 0
    while at + 8 <= end:
        size, kind = struct.unpack_from(">I4s", content, at)
        inside = at + 8
        if size == 1:
            if at + 16 > end:
                raise _broken()
            (size,) = struct.unpack_from(">Q", content, at + 8)
            inside = at + 16
        stop = end if size == 0 else at + size
        counted += 1
        if stop > end or stop < inside or counted > _MOST_BOXES:
            raise _broken()
        yield _Box(kind, at, inside, stop)
        if kind in _FOLDERS and depth < _DEEPEST:
            yield from _boxes(content, inside, stop, depth + 1)
        at = stop


def _broken() -> Exception:
    return input_problem("the film is broken", "Film it again, or choose another file.")


def _refuse_if_long(content: bytes, box: _Box) -> None:
    """Read the length in its head (ISO/IEC 14496-12, 8.2.2), and refuse a film that is not short."""
    is_wide = content[box.inside : box.inside + 1] == b"\x01"
    fields, at = (">IQ", box.inside + 20) if is_wide else (">II", box.inside + 12)
    if at + struct.calcsize(fields) > box.end:
        raise _broken()
    ticks_per_s, ticks = struct.unpack_from(fields, content, at)
    unknown = (1 << (64 if is_wide else 32)) - 1
    if ticks != unknown and ticks_per_s and ticks / ticks_per_s > LONGEST_FILM_S:
        what = f"the film is longer than {LONGEST_FILM_S / 60:g} minutes"
        raise input_problem(what, "Cut out what shows the horse.")
