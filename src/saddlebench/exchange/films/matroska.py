"""WebM films: tags, titles, attachments and dates become empty space; every frame stays where it was.

The structure is EBML (RFC 8794), its elements are Matroska's (RFC 9559). Browsers record films whose segment
and clusters do not say how long they are; these end where the next part of the same level begins.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.films.limits import broken, refuse_if_long

_EBML, _SEGMENT, _VOID, _CRC = 0x1A45DFA3, 0x18538067, 0xEC, 0xBF
_INFO, _TRACKS, _TRACK, _CLUSTER = 0x1549A966, 0x1654AE6B, 0xAE, 0x1F43B675
_SEEK_HEAD, _CUES, _CHAPTERS = 0x114D9B74, 0x1C53BB6B, 0x1043A770
_ATTACHMENTS, _TAGS = 0x1941A469, 0x1254C367
_TIMESTAMP, _SCALE, _DURATION = 0xE7, 0x2AD7B1, 0x4489
_PARTS = {_INFO, _TRACKS, _CLUSTER, _SEEK_HEAD, _CUES, _CHAPTERS, _ATTACHMENTS, _TAGS}
# Title, date, file names and identifiers of the segment; the name of a track; sums over what is changed.
_TELLING = {
    *(_TAGS, _ATTACHMENTS, _CHAPTERS, _CRC),
    *(0x7BA9, 0x4461, 0x7384, 0x73A4, 0x3CB923, 0x3C83AB, 0x3EB923, 0x3E83BB, 0x4444),
    0x536E,
}
_PROGRAMS = {0x4D80, 0x5741}
"""Names of the programs that made it: the standard wants them there, so they are blanked."""
_FOLDERS = {_SEGMENT, _INFO, _TRACKS, _TRACK}
_MOST_ELEMENTS: Final = 400_000
_USUAL_SCALE_NS: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class _Element:
    kind: int
    start: int
    inside: int
    end: int


class _Reader:
    """Walks the elements of one film, counting them."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.counted = 0

    def elements(self, start: int, end: int, within: int = 0) -> Iterator[_Element]:
        """Return the elements of a level, and those inside the ones that hold what is looked for."""
        at = start
        while at < end:
            self.counted += 1
            if self.counted > _MOST_ELEMENTS:
                raise broken()
            kind, after = self._number(at, end, keep_marker=True)
            size, inside = self._number(after, end, keep_marker=False)
            if within == _CLUSTER and kind in _PARTS:
                return
            stop = inside + size if size >= 0 else self._end_of_open(kind, inside, end)
            if stop > end:
                raise broken()
            yield _Element(kind, at, inside, stop)
            if kind in _FOLDERS:
                yield from self.elements(inside, stop, kind)
            at = stop

    def _number(self, at: int, end: int, *, keep_marker: bool) -> tuple[int, int]:
        """Read a number of variable length (RFC 8794, 4), and where it ends; -1 for a size not known."""
        first = self.content[at] if at < end else 0
        width = 9 - first.bit_length()
        if not first or at + width > end or (keep_marker and width > 4):
            raise broken()
        value = int.from_bytes(self.content[at : at + width], "big")
        if not keep_marker:
            value &= (1 << (7 * width)) - 1
            if value == (1 << (7 * width)) - 1:
                value = -1
        return value, at + width

    def _end_of_open(self, kind: int, inside: int, end: int) -> int:
        if kind == _SEGMENT:
            return end
        if kind != _CLUSTER:
            raise broken()
        last = inside
        for child in self.elements(inside, end, _CLUSTER):
            last = child.end
        return last


def clean_webm(content: bytes) -> bytes:
    """Return a film without what tells place, names and device.

    Raises
    ------
    InputProblemsError
        If it is too long or its parts cannot be read.
    """
    cleaned = bytearray(content)
    reader = _Reader(content)
    elements = list(reader.elements(0, len(content)))
    if not {_SEGMENT, _TRACKS} <= {one.kind for one in elements}:
        raise input_problem("the film has no head and cannot be played", "Film it again.")
    refuse_if_long(_seconds(reader, elements))
    for one in elements:
        if one.kind in _TELLING or one.kind == _VOID:
            _empty(cleaned, one)
        elif one.kind in _PROGRAMS:
            cleaned[one.inside : one.end] = bytes(one.end - one.inside)
    return bytes(cleaned)


def _seconds(reader: _Reader, elements: list[_Element]) -> float:
    """Return how long it is by its head, or where it does not say, by where its last cluster begins."""
    content = reader.content
    scale, stated, last = _USUAL_SCALE_NS, 0.0, 0
    for one in elements:
        held = content[one.inside : one.end]
        if one.kind == _SCALE:
            scale = int.from_bytes(held, "big")
        elif one.kind == _DURATION and len(held) in (4, 8):
            (stated,) = struct.unpack(">f" if len(held) == 4 else ">d", held)
        elif one.kind == _CLUSTER:
            last = max(last, _begins(reader, one))
    return max(stated, float(last)) * scale / 1e9


def _begins(reader: _Reader, cluster: _Element) -> int:
    for child in reader.elements(cluster.inside, cluster.end, _CLUSTER):
        if child.kind == _TIMESTAMP:
            return int.from_bytes(reader.content[child.inside : child.end][:8], "big")
    return 0


def _empty(cleaned: bytearray, one: _Element) -> None:
    """Turn an element into empty space of the same length (RFC 8794, 11.3.2)."""
    length = one.end - one.start
    for width in range(1, 9):
        inside = length - 1 - width
        if 0 <= inside < (1 << (7 * width)) - 1:
            size = (inside | 1 << (7 * width)).to_bytes(width, "big")
            cleaned[one.start : one.end] = bytes((_VOID,)) + size + bytes(inside)
            return
