"""Films for the tests: the frame of one as phones write it, with the place in it. Everything invented."""

import struct

SECRET = b"Invented Camera 3000"


def box(kind: bytes, *inside: bytes) -> bytes:
    content = b"".join(inside)
    return struct.pack(">I4s", 8 + len(content), kind) + content


def film(*, seconds: float = 12.0, brand: bytes = b"isom", wide: bool = False) -> bytes:
    """Return the frame of a film: its head, the place it was taken, and some bytes of picture."""
    ticks = round(seconds * 1000)
    if wide:
        head = box(b"mvhd", struct.pack(">B3xQQIQ", 1, 0, 0, 1000, ticks), bytes(80))
    else:
        head = box(b"mvhd", struct.pack(">B3xIIII", 0, 0, 0, 1000, ticks), bytes(80))
    place = box(b"\xa9xyz", b"\x00\x12\x15\xc7+51.5072-000.1275/")
    track = box(b"trak", box(b"tkhd", bytes(84)), box(b"udta", box(b"name", SECRET)))
    return b"".join(
        (
            box(b"ftyp", brand, bytes(4), b"mp42"),
            box(b"mdat", bytes(range(256))),
            box(b"moov", head, track, box(b"udta", place), box(b"meta", b"com.apple.quicktime.location")),
        )
    )
