"""Read a triangle mesh from a file that nobody vouches for."""

import importlib.util
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange.scans import limits
from saddlebench.exchange.scans.sniff import MeshKind, sniff

HalfSpace = tuple[float, float, float, float]
"""`(nx, ny, nz, limit)`: the points with `n · p ≤ limit`, in the mesh's own axes and unit."""

_CAN_LIMIT = importlib.util.find_spec("resource") is not None
"""Whether the reader's process can be given a limit of computing; not on Windows."""
_READER = Path(__file__).with_name("read_apart.py")
_EXPORT_AGAIN = "Export the scan again."


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """A mesh in its own axes and unit: finite, welded, without doubled faces, facing outward."""

    vertices: FloatArray
    """(n, 3) float, the mesh's own axes and unit."""
    faces: NDArray[np.int32]
    """(m, 3) int, vertex indices, counter-clockwise from outside where the file was consistent."""
    n_pieces: int
    """Pieces that were in the file (or in the part near the marks)."""
    remarks: tuple[Problem, ...]
    """What was mended or left out, in words."""


def read_mesh(
    path: Path, *, near: Sequence[FloatArray] = (), keep: Sequence[HalfSpace] = (), clouds: bool = False
) -> Mesh:
    """Read a mesh, or a point cloud, in a process of its own, within limits of memory and time.

    Parameters
    ----------
    path : the file
    near : (3,) float each, the mesh's own axes and unit
        Points on the piece that is wanted; without any, all pieces are kept.
    keep : half-spaces within which a very large mesh is kept; smaller ones are kept whole
    clouds : whether points without faces will do; they come back as a mesh of no faces

    Raises
    ------
    InputProblemsError
        When it is no mesh that can be used; everything that could be found out is in it.
    """
    sniffed = sniff(path)
    if sniffed.kind is None or any(problem.weight is Weight.ERROR for problem in sniffed.problems):
        raise InputProblemsError(sniffed.problems)
    answer, payload = _read_apart(path, sniffed.kind, near, keep, clouds=clouds)
    if "reason" in answer:
        raise InputProblemsError([_refusal(answer, sniffed.kind, path), *sniffed.problems])
    n_vertices, n_faces = int(answer["n_vertices"]), int(answer["n_faces"])
    vertices = np.frombuffer(payload, dtype="<f8", count=3 * n_vertices).reshape(-1, 3)
    faces = np.frombuffer(payload, dtype="<i4", count=3 * n_faces, offset=24 * n_vertices).reshape(-1, 3)
    return Mesh(
        # Views of what was sent, which nobody can write to.
        vertices=vertices.astype(np.float64, copy=False),
        faces=faces.astype(np.int32, copy=False),
        n_pieces=int(answer["n_pieces"]),
        remarks=(*sniffed.problems, *_remarks(answer, path)),
    )


def _read_apart(
    path: Path, kind: MeshKind, near: Sequence[FloatArray], keep: Sequence[HalfSpace], *, clouds: bool
) -> tuple[dict[str, Any], bytes]:
    size = path.stat().st_size
    wall_seconds = limits.wall_seconds_for(size, is_limited=_CAN_LIMIT)
    job = {
        "path": str(path.resolve()),
        "kind": kind.suffix,
        "near": [[float(x) for x in point] for point in near],
        "keep": [[float(x) for x in half] for half in keep],
        "max_faces": limits.MAX_FACES,
        "crop_above_faces": limits.CROP_ABOVE_FACES,
        "clouds": clouds,
        "memory_bytes": limits.memory_for(size),
        "cpu_seconds": limits.seconds_for(size),
    }
    # One thread: each would reserve memory of its own under the limit.
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    try:
        done = subprocess.run(  # noqa: S603 - our own script by our own interpreter; the file's name is data
            [sys.executable, "-P", "-W", "ignore", str(_READER)],
            input=json.dumps(job).encode(),
            capture_output=True,
            timeout=wall_seconds,
            env=environment,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return {"reason": "time", "seconds": wall_seconds}, b""
    line, _, payload = done.stdout.partition(b"\n")
    if done.returncode != 0 or not line:
        return {"reason": "ended"}, b""
    return json.loads(line), payload


def _refusal(answer: dict[str, Any], kind: MeshKind, path: Path) -> Problem:
    smaller = "Cut away everything but the horse's trunk, or save it as binary PLY or STL."
    count, first = answer.get("count", 0), answer.get("first", 0)
    n_points, sizes = answer.get("n_points", 0), answer.get("sizes", {})
    many = f"{answer['n_faces']:,}" if "n_faces" in answer else "too many"
    cloud = f"it has {n_points:,} points but no faces: a point cloud" if n_points else "it has no faces"
    sentences = {
        "unreadable": (f"the contents do not follow the {kind} format, or break off", _EXPORT_AGAIN),
        "memory": (f"reading it takes more than {limits.MEMORY_BYTES / 1e9:.0f} GB of memory", smaller),
        "time": (f"reading it takes more than {answer.get('seconds', 0)} seconds", smaller),
        "ended": ("reading it took more memory or time than it may, or broke the reader", smaller),
        "no faces": (cloud, "Make a surface (mesh) of it in the scanning program and export that."),
        "too many faces": (
            f"it has {many} faces; up to {limits.MAX_FACES:,} are read",
            "Cut away everything but the horse's trunk, or export it more coarsely (2 mm is plenty).",
        ),
        "not finite": (
            f"{count:,} of its vertices are no usable numbers"
            + (f", the first is {first:,}" if first else ""),
            "Remove them in the scanning program, or export again.",
        ),
        "index": (
            f"{count:,} faces, first face {first:,}, name vertices that are not among its {n_points:,}",
            _EXPORT_AGAIN,
        ),
        "loop": ("its parts hold one another in a ring, or one twice over", _EXPORT_AGAIN),
        "elsewhere": (
            "its shape lies in other files beside it",
            "Export it as GLB, which is one file, or as PLY.",
        ),
        "compressed": (
            "its shape is packed in a way that is not read",
            "Export it without compression, or as PLY.",
        ),
        "index lost": ("its faces name vertices that are not in the file, or it breaks off", _EXPORT_AGAIN),
        "nothing near marks": (
            "no part of the mesh lies near the marks",
            "Check that the marks were read off this mesh, in its own unit.",
        ),
        "marks on several pieces": (
            f"the marks lie on {len(sizes)} separate pieces of the {answer.get('n_pieces', 0):,} in the file",
            "Set all marks on the horse itself, or join the pieces in the scanning program.",
        ),
    }
    what, cure = sentences[answer["reason"]]
    return Problem(what=what, cure=cure, where=Where(file=path.name))


def _remarks(answer: dict[str, Any], path: Path) -> list[Problem]:
    whole, dropped, left_out = (
        answer.get(k, 0) for k in ("n_faces_in_file", "n_dropped", "n_faces_left_out")
    )
    nothing = "Nothing to do."
    said = []
    if answer.get("cropped"):
        what = f"of {whole:,} faces only those near the marks were kept, and none of these was thinned"
        said.append((what, nothing))
    if dropped:
        said.append((f"{dropped:,} faces without area, or there twice, were left out", nothing))
    if left_out:
        pieces = answer["n_pieces"]
        what = f"of its {pieces:,} pieces the one with the marks was taken, {left_out:,} faces not"
        said.append((what, "Check that the piece taken is the whole back."))
    if answer["turned"]:
        said.append(("the faces were inside out and have been turned", nothing))
    where = Where(file=path.name)
    return [Problem(what=what, cure=cure, where=where, weight=Weight.WARNING) for what, cure in said]
