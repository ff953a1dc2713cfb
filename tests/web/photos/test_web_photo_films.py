"""Films: what tells place, names and device is taken out, no frame moves; the bounds are kept."""

import struct
from pathlib import Path

import cv2
import numpy as np
import pytest

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.films.cleaning import clean_film
from support.films import SECRET, box, film

OPEN = b"\x01\xff\xff\xff\xff\xff\xff\xff"
"""A size that is not known (RFC 8794, 6.2)."""


def element(kind: int, *inside: bytes, size: bytes | None = None) -> bytes:
    """Return an EBML element; kinds are those of RFC 9559."""
    content = b"".join(inside)
    name = kind.to_bytes((kind.bit_length() + 7) // 8, "big")
    return name + (size or (len(content) | 1 << 56).to_bytes(8, "big")) + content


def webm(*, ms: float | None = 4000.0, last_ms: int = 3000, is_open: bool = False) -> bytes:
    """Return an invented film as a browser (open) or an editor writes it, with much that must go."""
    length = b"" if ms is None else element(0x4489, struct.pack(">d", ms))
    info = element(
        0x1549A966,
        element(0xBF, bytes(4)),
        element(0x2AD7B1, (1_000_000).to_bytes(3, "big")),
        length,
        element(0x7BA9, b"Bramble at Rowan yard"),
        element(0x4461, struct.pack(">q", 10**17)),
        element(0x4D80, SECRET),
        element(0x5741, SECRET),
    )
    tracks = element(0x1654AE6B, element(0xAE, element(0xD7, b"\x01"), element(0x536E, SECRET)))
    clusters = [
        element(
            0x1F43B675,
            element(0xE7, at.to_bytes(4, "big")),
            element(0xA3, b"\x81\x00\x00\x80", bytes(range(200))),
            size=OPEN if is_open else None,
        )
        for at in (0, last_ms)
    ]
    tags = element(0x1254C367, element(0x7373, element(0x67C8, b"LOCATION +51.5072-000.1275/")))
    head = element(0x1A45DFA3, element(0x4282, b"webm"))
    return head + element(0x18538067, info, tracks, *clusters, tags, size=OPEN if is_open else None)


@pytest.mark.parametrize("is_open", [False, True])
def test_a_webm_says_neither_place_nor_name_and_keeps_its_frames(*, is_open: bool) -> None:
    original = webm(is_open=is_open)
    cleaned = clean_film(original, "video/webm")
    assert len(cleaned) == len(original)
    for told in (b"+51.5072", SECRET, b"Bramble", b"LOCATION", struct.pack(">q", 10**17)):
        assert told in original
        assert told not in cleaned
    frame = bytes(range(200))
    assert original.count(frame) == cleaned.count(frame) == 2
    assert original.index(frame) == cleaned.index(frame)
    assert clean_film(cleaned, "video/webm") == cleaned


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (webm(ms=200_000.0), "longer than 3 minutes"),
        (webm(ms=None, last_ms=200_000), "longer than 3 minutes"),
        (webm(ms=None, last_ms=200_000, is_open=True), "longer than 3 minutes"),
        (webm()[:-40], "broken"),
        (element(0x1A45DFA3, element(0x4282, b"webm")), "no head"),
        (b"\x1aE\xdf\xa3" + bytes(40), "broken"),
        (element(0x1A45DFA3) + element(0x18538067, element(0x1549A966, size=OPEN), size=OPEN), "broken"),
    ],
    ids=["long", "long by its clusters", "long, open", "cut", "no head", "zeros", "open where it may not be"],
)
def test_a_webm_that_is_too_long_or_broken_is_refused(content: bytes, said: str) -> None:
    with pytest.raises(InputProblemsError, match=said):
        clean_film(content, "video/webm")


def test_a_webm_of_very_many_elements_is_refused_in_bounds() -> None:
    many = element(0x1A45DFA3) + element(0x18538067, b"\xec\x80" * 500_000)
    with pytest.raises(InputProblemsError, match="broken"):
        clean_film(many, "video/webm")


@pytest.mark.parametrize(
    ("name", "code", "kind"), [("a.webm", "VP80", "video/webm"), ("a.mp4", "mp4v", "video/mp4")]
)
def test_a_real_film_still_plays_frame_by_frame(tmp_path: Path, name: str, code: str, kind: str) -> None:
    """Written and read back by OpenCV's own codecs, which know nothing of ours."""
    path = tmp_path / name
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*code), 10.0, (64, 48))
    for number in range(12):
        writer.write(np.full((48, 64, 3), 20 * number, dtype=np.uint8))
    writer.release()
    before = _frames(path)
    cleaned = clean_film(path.read_bytes(), kind)
    assert b"Lavf" in path.read_bytes()
    assert b"Lavf" not in cleaned
    path.write_bytes(cleaned)
    assert len(before) == 12
    assert np.array_equal(_frames(path), before)


def _frames(path: Path) -> list[np.ndarray]:
    player, frames = cv2.VideoCapture(str(path)), []
    while True:
        is_there, frame = player.read()
        if not is_there:
            player.release()
            return frames
        frames.append(frame)


def _with_places(*, in_pieces: bool = False) -> bytes:
    """Return a film with a track of places: two samples in one chunk (ISO/IEC 14496-12, 8.7)."""
    places = b"+51.5072-000.1275/"
    head = box(b"ftyp", b"isom", bytes(4), b"mp42")
    data = box(b"mdat", bytes(range(100)), places, places, b"frames again")
    offset = len(head) + 8 + 100
    table = box(
        b"stbl",
        box(b"stsc", struct.pack(">IIIII", 0, 1, 1, 2, 1)),
        box(b"stsz", struct.pack(">III", 0, len(places), 2)),
        box(b"stco", struct.pack(">III", 0, 1, offset)),
    )
    handler = box(b"hdlr", bytes(8), b"meta", bytes(12))
    track = box(b"trak", box(b"mdia", handler, box(b"minf", table)))
    mvhd = box(b"mvhd", struct.pack(">B3xIIII", 0, 0, 0, 1000, 4000), bytes(80))
    piece = box(b"moof", box(b"mfhd", bytes(8))) if in_pieces else b""
    return head + data + box(b"moov", mvhd, track) + piece


def test_a_track_of_places_is_taken_out_with_its_samples() -> None:
    original = _with_places()
    cleaned = clean_film(original, "video/quicktime")
    assert original.count(b"+51.5072") == 2
    assert b"+51.5072" not in cleaned
    assert b"frames again" in cleaned
    assert b"trak" not in cleaned
    assert len(cleaned) == len(original)


def test_what_cannot_be_taken_out_is_refused_in_words() -> None:
    with pytest.raises(InputProblemsError, match="perhaps places"):
        clean_film(_with_places(in_pieces=True), "video/mp4")


def test_a_usual_film_is_cleaned_as_before() -> None:
    assert SECRET not in clean_film(film(), "video/mp4")
