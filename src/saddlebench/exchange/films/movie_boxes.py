"""MP4 and MOV films (ISO/IEC 14496-12): the boxes that tell place, names and device are emptied.

Nothing moves: a box that is taken out becomes free space of the same length, so every frame stays where the
tables say it is. A track that is neither picture nor sound (phones keep places and movements in such) is
taken out together with its samples.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.films.limits import broken, refuse_if_long

_MOST_BOXES: Final = 4000
_MOST_SAMPLES: Final = 1_000_000
_DEEPEST: Final = 8
# Boxes that hold boxes, on the way to those that say where and by whom a film was taken.
_FOLDERS = {b"moov", b"trak", b"mdia", b"minf", b"stbl", b"edts", b"moof", b"traf", b"mvex"}
_TELLING = {b"udta", b"meta", b"uuid"}
_SEEN_OR_HEARD = {b"vide", b"soun"}


@dataclass(frozen=True, slots=True)
class _Box:
    kind: bytes
    start: int
    inside: int
    end: int


def clean_mp4(content: bytes) -> bytes:
    """Return a film without the boxes and tracks that tell place, names and device.

    Raises
    ------
    InputProblemsError
        If it is too long, its boxes cannot be read, or a track besides picture and sound cannot be taken out.
    """
    cleaned = bytearray(content)
    boxes = list(_boxes(content, 0, len(content), 0))
    if not any(box.kind == b"moov" for box in boxes):
        raise input_problem("the film has no head and cannot be played", "Film it again.")
    is_in_pieces = any(box.kind == b"moof" for box in boxes)
    for box in boxes:
        if box.kind == b"mvhd":
            _refuse_if_long(content, box)
        if box.kind in _TELLING:
            _free(cleaned, box)
        if box.kind == b"trak":
            inner = [one for one in boxes if box.inside <= one.start < box.end]
            if _handler(content, inner) not in _SEEN_OR_HEARD:
                _take_track_out(cleaned, content, box, inner, is_in_pieces=is_in_pieces)
    return bytes(cleaned)


def _free(cleaned: bytearray, box: _Box) -> None:
    cleaned[box.start + 4 : box.start + 8] = b"free"
    cleaned[box.inside : box.end] = bytes(box.end - box.inside)


def _boxes(content: bytes, start: int, end: int, depth: int) -> Iterator[_Box]:
    at, counted = start, 0
    while at + 8 <= end:
        size, kind = struct.unpack_from(">I4s", content, at)
        inside = at + 8
        if size == 1:
            if at + 16 > end:
                raise broken()
            (size,) = struct.unpack_from(">Q", content, at + 8)
            inside = at + 16
        stop = end if size == 0 else at + size
        counted += 1
        if stop > end or stop < inside or counted > _MOST_BOXES:
            raise broken()
        yield _Box(kind, at, inside, stop)
        if kind in _FOLDERS and depth < _DEEPEST:
            yield from _boxes(content, inside, stop, depth + 1)
        at = stop


def _refuse_if_long(content: bytes, box: _Box) -> None:
    """Read the length in its head (ISO/IEC 14496-12, 8.2.2), and refuse a film that is not short."""
    is_wide = content[box.inside : box.inside + 1] == b"\x01"
    fields, at = (">IQ", box.inside + 20) if is_wide else (">II", box.inside + 12)
    if at + struct.calcsize(fields) > box.end:
        raise broken()
    ticks_per_s, ticks = struct.unpack_from(fields, content, at)
    unknown = (1 << (64 if is_wide else 32)) - 1
    if ticks != unknown and ticks_per_s:
        refuse_if_long(ticks / ticks_per_s)


def _handler(content: bytes, inner: list[_Box]) -> bytes:
    """Return what a track is for (8.4.3): picture where it does not say."""
    for box in inner:
        if box.kind == b"hdlr":
            return content[box.inside + 8 : box.inside + 12]
    return b"vide"


def _take_track_out(
    cleaned: bytearray, content: bytes, track: _Box, inner: list[_Box], *, is_in_pieces: bool
) -> None:
    if is_in_pieces:
        what = "the film carries a track of other data (perhaps places) that cannot be taken out"
        raise input_problem(what, "Film it again without such data, or save it anew as MP4 or WebM.")
    for start, end in _samples(content, inner):
        cleaned[start:end] = bytes(end - start)
    _free(cleaned, track)


def _samples(content: bytes, inner: list[_Box]) -> Iterator[tuple[int, int]]:
    """Return where a track's samples lie: by its chunks (8.7.5), samples in each (8.7.4), sizes (8.7.3)."""
    tables = {box.kind: box for box in inner if box.kind in {b"stco", b"co64", b"stsc", b"stsz"}}
    where = tables.get(b"co64") or tables.get(b"stco")
    if where is None or b"stsc" not in tables or b"stsz" not in tables:
        return
    offsets = _rows(content, where, ">Q" if where.kind == b"co64" else ">I")
    runs = _rows(content, tables[b"stsc"], ">III")
    sizes = _sizes(content, tables[b"stsz"])
    sample = 0
    for number, (offset,) in enumerate(offsets, start=1):
        per_chunk = next((run[1] for run in reversed(runs) if run[0] <= number), 0)
        for _ in range(min(per_chunk, len(sizes) - sample)):
            end = offset + sizes[sample]
            if end > len(content):
                raise broken()
            yield offset, end
            offset, sample = end, sample + 1  # noqa: PLW2901


def _rows(content: bytes, box: _Box, shape: str) -> list[tuple[int, ...]]:
    width = struct.calcsize(shape)
    if box.inside + 8 > box.end:
        raise broken()
    (count,) = struct.unpack_from(">I", content, box.inside + 4)
    if count > _MOST_SAMPLES or box.inside + 8 + count * width > box.end:
        raise broken()
    return [struct.unpack_from(shape, content, box.inside + 8 + i * width) for i in range(count)]


def _sizes(content: bytes, box: _Box) -> list[int]:
    if box.inside + 12 > box.end:
        raise broken()
    every, count = struct.unpack_from(">II", content, box.inside + 4)
    if count > _MOST_SAMPLES or (not every and box.inside + 12 + 4 * count > box.end):
        raise broken()
    return [every] * count if every else list(struct.unpack_from(f">{count}I", content, box.inside + 12))
