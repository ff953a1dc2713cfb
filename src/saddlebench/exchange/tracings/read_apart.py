"""Decode and read one photo in a process of its own, within limits of memory and time.

Run as a module by `photo_file.py`, never imported by the program: a job comes in as JSON on standard input,
the
answer goes out as one line of JSON followed by the bytes of a picture where one was asked for. A bad file
can end
this process, and nothing else.
"""

import io
import json
import sys
import warnings
from typing import Any

import numpy as np
from PIL import Image, ImageOps
from pillow_heif import register_heif_opener

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.scans.read_apart import limit_process
from saddlebench.exchange.tracings.plain import asked_of_plain, plain_of_problem, plain_of_sheet
from saddlebench.exchange.tracings.read import read_sheet

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")


class Refused(Exception):  # noqa: N818 - an outcome, not a fault
    """The picture cannot be used, for a reason."""


def main() -> int:
    """Answer the job on standard input."""
    job = json.load(sys.stdin)
    limit_process(job["memory_bytes"], job["cpu_seconds"])
    answer, content = answer_job(job)
    sys.stdout.buffer.write(json.dumps(answer).encode() + b"\n" + content)
    return 0


def answer_job(job: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """Return what was read, or the reason why nothing was; what a decoder trips over is the file's fault."""
    try:
        if job["wanted"] == "pictures":
            return all_pictures(job)
        sheet = read_sheet(np.asarray(decoded(job, job["path"])), asked_of_plain(job["asked"]))
        return {"sheet": plain_of_sheet(sheet, every_mm=job["every_mm"])}, b""
    except Refused as refused:
        return {"reason": str(refused)}, b""
    except InputProblemsError as error:
        return {"problems": [plain_of_problem(one) for one in error.problems]}, b""
    except MemoryError:
        return {"reason": "memory"}, b""
    except Exception:  # noqa: BLE001 - decoders of damaged files raise anything
        return {"reason": "unreadable"}, b""


def all_pictures(job: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """Return every picture as JPEG, one after another, each with its size or the reason why there is none."""
    pictures: list[dict[str, Any]] = []
    contents = []
    for path in job["paths"]:
        try:
            picture = decoded(job, path)
        except Refused as refused:
            pictures.append({"reason": str(refused)})
        except Exception:  # noqa: BLE001 - decoders of damaged files raise anything
            pictures.append({"reason": "unreadable"})
        else:
            contents.append(as_jpeg(picture))
            pictures.append({"size_px": list(picture.size), "bytes": len(contents[-1])})
    return {"pictures": pictures}, b"".join(contents)


def decoded(job: dict[str, Any], path: str) -> Image.Image:
    """Return the picture upright, in red, green and blue, no larger than is read."""
    register_heif_opener(thumbnails=False, depth_images=False, aux_images=False, decode_threads=1)
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    try:
        image = Image.open(path, formats=FORMATS)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise Refused("too many dots") from None
    if image.width * image.height > job["most_pixels"]:
        raise Refused("too many dots")
    side = job["side_px"]
    if image.format == "JPEG":
        image.draft("RGB", (side, side))
    try:
        upright = ImageOps.exif_transpose(image).convert("RGB")
    except OSError:
        raise Refused("broken") from None
    if max(upright.size) > side:
        scale = side / max(upright.size)
        size = (max(1, round(upright.width * scale)), max(1, round(upright.height * scale)))
        upright = upright.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0)
    return upright


def as_jpeg(picture: Image.Image) -> bytes:
    """Return the dots alone as JPEG: no place, no camera, no time."""
    out = io.BytesIO()
    Image.frombytes("RGB", picture.size, picture.tobytes()).save(out, "JPEG", quality=92, optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    sys.exit(main())
