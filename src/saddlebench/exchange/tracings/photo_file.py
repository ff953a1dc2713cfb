"""Read a photo from a file that nobody vouches for."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.tracings.plain import (
    KEPT_EVERY_MM,
    plain_of_asked,
    problem_of_plain,
    sheet_of_plain,
)
from saddlebench.exchange.tracings.sheet_read import Asked, ReadSheet, Tell

LARGEST_BYTES = 40 << 20
MOST_PIXELS = 80_000_000
SIDE_PX = 3600
"""Longer sides are made smaller: the paper's own grain is coarser."""
MEMORY_BYTES = 2 << 30
CPU_SECONDS = 60
WALL_SECONDS = 180.0
_LOOK_EVERY_S = 0.25
_AGAIN = "Take it again, or choose another file."


@dataclass(frozen=True, slots=True, kw_only=True)
class UprightPicture:
    """A picture's dots, upright and small enough."""

    content: bytes
    """JPEG with nothing beside its dots."""
    width_px: int
    height_px: int


def read_photo(
    path: Path, asked: Asked | None = None, tell: Tell | None = None, *, every_mm: float = KEPT_EVERY_MM
) -> ReadSheet:
    """Read every curve of a photographed sheet, in a process of its own.

    Parameters
    ----------
    path : JPEG, PNG, WebP or HEIC
    tell : called while it goes on; what it raises ends the reading
    every_mm : how far apart the points are that come back [mm]

    Raises
    ------
    InputProblemsError
        If it is no picture that can be read, or the sheet in it cannot be measured.
    OSError
        If it cannot be opened.
    """
    if path.stat().st_size > LARGEST_BYTES:
        raise InputProblemsError([_refusal("too large", path)])
    known = plain_of_asked(asked or Asked())
    job = {"wanted": "sheet", "path": str(path.resolve()), "asked": known, "every_mm": every_mm}
    answer, _ = _apart(job, tell, path)
    return sheet_of_plain(answer["sheet"])


def upright_pictures(paths: Sequence[Path]) -> tuple[UprightPicture | Problem, ...]:
    """Return pictures as they are kept and read again, decoded in a process of their own.

    Returns
    -------
    For each file its picture, or what is wrong with it

    Raises
    ------
    OSError
        If one cannot be opened.
    """
    fit = [path for path in paths if path.stat().st_size <= LARGEST_BYTES]
    answer, content = _apart(
        {"wanted": "pictures", "paths": [str(path.resolve()) for path in fit]}, None, paths[0]
    )
    found: dict[Path, UprightPicture | Problem] = {}
    begins = 0
    for path, one in zip(fit, answer["pictures"], strict=True):
        if "reason" in one:
            found[path] = _refusal(one["reason"], path)
            continue
        width, height = one["size_px"]
        mine = content[begins : begins + one["bytes"]]
        begins += one["bytes"]
        found[path] = UprightPicture(content=mine, width_px=width, height_px=height)
    return tuple(found.get(path) or _refusal("too large", path) for path in paths)


def _apart(job: dict[str, Any], tell: Tell | None, path: Path) -> tuple[dict[str, Any], bytes]:
    job |= {
        "most_pixels": MOST_PIXELS,
        "side_px": SIDE_PX,
        "memory_bytes": MEMORY_BYTES,
        "cpu_seconds": CPU_SECONDS,
    }
    # One thread: each would reserve memory of its own under the limit.
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    command = [sys.executable, "-P", "-W", "ignore", "-m", "saddlebench.exchange.tracings.read_apart"]
    with subprocess.Popen(  # noqa: S603 - our own module by our own interpreter; the file's name is data
        command,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
    ) as running:
        try:
            answered = _waited(running, json.dumps(job).encode(), tell, path)
        finally:
            running.kill()
    line, _, content = answered.partition(b"\n")
    if running.returncode != 0 or not line:
        raise InputProblemsError([_refusal("ended", path)])
    answer = json.loads(line)
    if "reason" in answer:
        raise InputProblemsError([_refusal(answer["reason"], path)])
    if "problems" in answer:
        raise InputProblemsError([_placed(problem_of_plain(one), path) for one in answer["problems"]])
    return answer, content


def _waited(running: "subprocess.Popen[bytes]", given: bytes | None, tell: Tell | None, path: Path) -> bytes:
    start = time.monotonic()
    while True:
        try:
            out, _ = running.communicate(given, timeout=_LOOK_EVERY_S)
        except subprocess.TimeoutExpired:
            given = None
            if tell is not None:
                tell(0, 1, "reading the photo")
            if time.monotonic() - start > WALL_SECONDS:
                raise InputProblemsError([_refusal("time", path)]) from None
        else:
            return out


def _placed(problem: Problem, path: Path) -> Problem:
    where = Where(file=path.name, field=problem.where.field)
    return Problem(what=problem.what, cure=problem.cure, where=where, weight=problem.weight)


def _refusal(reason: str, path: Path) -> Problem:
    sentences = {
        "too large": (
            f"the picture is larger than {LARGEST_BYTES >> 20} MB",
            "Take it at the camera’s usual size.",
        ),
        "too many dots": (
            f"the picture has more than {MOST_PIXELS // 1_000_000} million dots",
            "Take it at the camera’s usual size.",
        ),
        "broken": ("the picture is broken", _AGAIN),
        "unreadable": ("this is no picture that can be read", "Give JPEG, PNG, WebP or HEIC."),
        "memory": ("reading the picture takes more memory than it may", _AGAIN),
        "time": ("reading the picture takes too long", _AGAIN),
        "ended": ("reading the picture took more memory or time than it may, or broke the reader", _AGAIN),
    }
    what, cure = sentences[reason]
    return Problem(what=what, cure=cure, where=Where(file=path.name))
