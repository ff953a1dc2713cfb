"""The curves drawn over the photo they were read from, to be looked at."""

import io
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageOps

from saddlebench.exchange.tracings.sheet_read import ReadSheet
from saddlebench.exchange.whole_file import write_whole

INKS = ("#d5401f", "#0b7a3b", "#7a2fb0", "#0a66c2", "#a06a00", "#c2187a")


def write_over_photo(photo: Path, sheet: ReadSheet, path: Path) -> None:
    """Write a JPEG of the photo with each curve and its number on it.

    Parameters
    ----------
    photo : a file that `read_photo` has read: it is known to decode within bounds

    Raises
    ------
    OSError
        If it cannot be opened or written.
    """
    with Image.open(photo) as opened:
        picture = ImageOps.exif_transpose(opened).convert("RGB")
    picture.thumbnail((1800, 1800))
    scale = picture.width / sheet.size_px[0]
    pen = ImageDraw.Draw(picture)
    for number, curve in enumerate(sheet.curves):
        ink = INKS[number % len(INKS)]
        at = curve.photo * scale
        for seen, start, end in zip(curve.seen[1:], at[:-1], at[1:], strict=True):
            if seen:
                pen.line([*start.tolist(), *end.tolist()], fill=ink, width=2)
        middle = at[int(np.abs(curve.points[:, 0]).argmin())]
        pen.text((float(middle[0]) + 6, float(middle[1]) - 18), str(number + 1), fill=ink)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=88)
    write_whole(path, out.getvalue())
