"""Files given whole or in part, so that a download that broke off goes on where it was."""

import re
from pathlib import Path

from django.http import FileResponse, HttpResponse

_RANGE = re.compile(r"bytes=([0-9]{1,18})-([0-9]{0,18})")
MOST_AT_ONCE = 8 << 20


def part_of(path: Path, asked: str, media_type: str) -> HttpResponse:
    """Return the answer with a file, or with the part that a Range header asks for (RFC 9110, section 14).

    Parameters
    ----------
    path : the file
    asked : the header, empty where there is none; one that is not understood is not heeded
    media_type : of the file
    """
    size = path.stat().st_size
    match = _RANGE.fullmatch(asked)
    if match is None:
        whole = FileResponse(path.open("rb"), content_type=media_type)
        whole["Accept-Ranges"] = "bytes"
        return whole  # type: ignore[return-value]
    first = int(match[1])
    last = min(int(match[2]) if match[2] else size - 1, size - 1, first + MOST_AT_ONCE - 1)
    if first > last:
        refused = HttpResponse(status=416)
        refused["Content-Range"] = f"bytes */{size}"
        return refused
    with path.open("rb") as held:
        held.seek(first)
        part = HttpResponse(held.read(last - first + 1), status=206, content_type=media_type)
    part["Content-Range"] = f"bytes {first}-{last}/{size}"
    part["Accept-Ranges"] = "bytes"
    return part
