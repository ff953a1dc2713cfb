"""Read one mesh file in a process of its own, within limits of memory and time.

Run as a script by `mesh.py`, never imported: a job comes in as JSON, the answer goes out as one line of JSON
followed by the arrays. A bad file can end this process, and nothing else.
"""

import importlib.util
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from trimesh.exchange import obj, off, ply, stl

try:
    import resource
except ImportError:  # not on Windows: there the caller's clock alone ends a long run
    HAS_LIMITS = False
else:
    HAS_LIMITS = True

Answer = dict[str, Any]
Points = NDArray[np.float64]
Faces = NDArray[np.int64]


class Refused(Exception):  # noqa: N818 - an outcome, not a fault
    """The mesh cannot be used, for a reason with its numbers."""

    def __init__(self, reason: str, **numbers: object) -> None:
        super().__init__(reason)
        self.answer: Answer = {"reason": reason, **numbers}


def main() -> int:
    """Answer the job on standard input."""
    job = json.load(sys.stdin)
    limit_process(job["memory_bytes"], job["cpu_seconds"])
    answer, arrays = answer_job(job)
    sys.stdout.buffer.write(json.dumps(answer).encode() + b"\n")
    for array in arrays:
        sys.stdout.buffer.write(array.tobytes())
    return 0


def answer_job(job: dict[str, Any]) -> tuple[Answer, list[NDArray[Any]]]:
    """Return the mesh, or the reason why there is none; whatever a parser trips over is the file's fault."""
    try:
        return read(job)
    except Refused as refused:
        return refused.answer, []
    except MemoryError:
        return {"reason": "memory"}, []
    except Exception:  # noqa: BLE001 - parsers of damaged files raise anything
        return {"reason": "unreadable"}, []


def limit_process(memory_bytes: int, cpu_seconds: int) -> None:
    """Set the limits where the system has them."""
    if not HAS_LIMITS:
        return
    wanted = {
        resource.RLIMIT_AS: memory_bytes,
        resource.RLIMIT_CPU: cpu_seconds,
        resource.RLIMIT_CORE: 0,
        resource.RLIMIT_FSIZE: 0,
    }
    for which, limit in wanted.items():
        _, hard = resource.getrlimit(which)
        ceiling = limit if hard == resource.RLIM_INFINITY else min(limit, hard)
        try:
            resource.setrlimit(which, (ceiling, ceiling))
        except (ValueError, OSError):
            continue


def read(job: dict[str, Any]) -> tuple[Answer, list[NDArray[Any]]]:
    """Load, check, cut down, weld, and keep the piece that the marks lie on."""
    vertices, faces = load(job["path"], job["kind"], job["max_faces"])
    answer: Answer = {"n_faces_in_file": len(faces)}
    if len(faces) == 0 and job.get("clouds"):
        return read_cloud(vertices, job, answer)
    check(vertices, faces, job["max_faces"])
    if job["keep"] and len(faces) > job["crop_above_faces"]:
        vertices, faces = crop(vertices, faces, job["keep"])
        answer["cropped"] = True
        if len(faces) == 0:
            raise Refused("nothing near marks")
    vertices, faces, answer["n_dropped"] = weld(vertices, faces)
    if len(faces) == 0:
        raise Refused("no faces", n_points=len(vertices))
    vertices, faces = keep_piece(vertices, faces, job["near"], answer)
    faces, answer["turned"] = outward(vertices, faces)
    answer |= {"n_vertices": len(vertices), "n_faces": len(faces)}
    return answer, [vertices.astype("<f8"), faces.astype("<i4")]


def read_cloud(points: Points, job: dict[str, Any], answer: Answer) -> tuple[Answer, list[NDArray[Any]]]:
    """Check a cloud, and cut a very large one down; what is doubled is left once."""
    if len(points) < 100:
        raise Refused("no faces", n_points=len(points))
    check_points(points)
    if job["keep"] and len(points) > job["crop_above_faces"]:
        inside = np.ones(len(points), dtype=bool)
        for *normal, limit in job["keep"]:
            inside &= points @ np.asarray(normal) <= limit
        points = points[inside]
        answer["cropped"] = True
        if len(points) == 0:
            raise Refused("nothing near marks")
    answer |= {"n_pieces": 0, "turned": False, "n_vertices": len(points), "n_faces": 0}
    return answer, [points.astype("<f8"), np.zeros((0, 3), dtype="<i4")]


def load(path: str, kind: str, max_faces: int) -> tuple[Points, Faces]:
    """Return vertices (n, 3) and triangles (m, 3) of a file; no file but this one is opened."""
    if kind in ("glb", "gltf"):
        return load_scene(path, max_faces)
    if kind in ("xyz", "las"):
        points = load_text_points(path, 3 * max_faces) if kind == "xyz" else load_las(path)
        return points, np.zeros((0, 3), dtype=np.int64)
    loaders = {
        "ply": lambda stream: ply.load_ply(stream, skip_materials=True, fix_texture=False),
        "obj": lambda stream: obj.load_obj(stream, skip_materials=True, group_material=False),
        "stl": stl.load_stl,
        "off": off.load_off,
    }
    with Path(path).open("rb") as stream:
        try:
            loaded = loaders[kind](stream)
        except IndexError as error:
            raise Refused("index lost") from error
    parts = loaded["geometry"].values() if loaded.get("geometry") else [loaded]
    all_vertices, all_faces, begins = [], [], 0
    for part in parts:
        points = np.asarray(part.get("vertices", ()), dtype=np.float64)
        if points.ndim != 2 or points.shape[1] < 3:
            continue
        all_vertices.append(points[:, :3])
        triangles = as_triangles(part.get("faces"))
        if len(triangles) and (triangles.min() < 0 or triangles.max() >= len(points)):
            wrong = ((triangles < 0) | (triangles >= len(points))).any(axis=1)
            raise Refused(
                "index", count=int(wrong.sum()), first=int(np.argmax(wrong)) + 1, n_points=len(points)
            )
        all_faces.append(triangles + begins)
        begins += len(points)
    if not all_vertices:
        raise Refused("no faces", n_points=0)
    return np.concatenate(all_vertices), np.concatenate(all_faces)


def load_scene(path: str, max_faces: int) -> tuple[Points, Faces]:
    """Return vertices and triangles of a glTF file."""
    where = Path(__file__).with_name("gltf_apart.py")
    spec = importlib.util.spec_from_file_location("gltf_apart", where)
    if spec is None or spec.loader is None:
        raise Refused("unreadable")
    gltf = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(gltf)
    try:
        return gltf.load_gltf(Path(path).read_bytes(), max_faces)
    except gltf.GltfError as error:
        raise Refused(str(error)) from error


def load_text_points(path: str, most: int) -> Points:
    """Return the first three columns of a table of numbers; lines of words at its head are passed over."""
    with Path(path).open(encoding="utf-8-sig") as stream:
        skipped, separator = 0, None
        for line in stream:
            separator = next((mark for mark in ";,\t" if mark in line), None)
            try:
                if len([float(word) for word in line.split(separator)[:3]]) == 3:
                    break
            except ValueError:
                pass
            skipped += 1
            if skipped > 20:
                raise Refused("unreadable")
    return np.loadtxt(
        path, usecols=(0, 1, 2), skiprows=skipped, delimiter=separator, comments=None, max_rows=most, ndmin=2
    )


def load_las(path: str) -> Points:
    """Return the points of a LAS file, as its header scales them."""
    import laspy  # noqa: PLC0415 - only for this format

    with laspy.open(path) as reader:
        parts = [np.stack([c.x, c.y, c.z], axis=1) for c in reader.chunk_iterator(1_000_000)]
    return np.concatenate(parts).astype(np.float64) if parts else np.zeros((0, 3))


def as_triangles(faces: Any) -> Faces:
    """Split polygons into fans of triangles."""
    if faces is None or len(faces) == 0:
        return np.zeros((0, 3), dtype=np.int64)
    faces = np.asarray(faces)
    if faces.ndim != 2 or faces.shape[1] < 3 or faces.dtype.kind not in "iu":
        raise Refused("unreadable")
    faces = faces.astype(np.int64)
    fans = [faces[:, [0, k, k + 1]] for k in range(1, faces.shape[1] - 1)]
    return fans[0] if len(fans) == 1 else np.concatenate(fans)


def check(vertices: Points, faces: Faces, max_faces: int) -> None:
    """Refuse what is no mesh of finite points."""
    if len(faces) == 0:
        raise Refused("no faces", n_points=len(vertices))
    if len(faces) > max_faces:
        raise Refused("too many faces", n_faces=len(faces))
    check_points(vertices)


def check_points(vertices: Points) -> None:
    """Refuse what is no finite place."""
    bad = ~np.isfinite(vertices).all(axis=1)
    if bad.any():
        raise Refused("not finite", count=int(bad.sum()), first=int(np.argmax(bad)) + 1)
    if np.abs(vertices).max() > 1e12:
        raise Refused("not finite", count=int((np.abs(vertices) > 1e12).any(axis=1).sum()), first=0)


def crop(vertices: Points, faces: Faces, keep: Sequence[Sequence[float]]) -> tuple[Points, Faces]:
    """Keep the faces whose corners all lie within half-spaces `normal · p ≤ limit`."""
    inside = np.ones(len(vertices), dtype=bool)
    for *normal, limit in keep:
        inside &= vertices @ np.asarray(normal) <= limit
    kept = faces[inside[faces].all(axis=1)]
    return compact(vertices, kept)


def compact(vertices: Points, faces: Faces) -> tuple[Points, Faces]:
    """Leave out vertices that no face uses."""
    used = np.zeros(len(vertices), dtype=bool)
    used[faces.ravel()] = True
    renumbered = np.cumsum(used) - 1
    return vertices[used], renumbered[faces]


def weld(vertices: Points, faces: Faces) -> tuple[Points, Faces, int]:
    """Join vertices at the same place; drop faces that have no area by their corners, or are there twice."""
    vertices = vertices + 0.0  # −0 and 0 are one place
    order = np.lexsort(vertices.T)
    sorted_vertices = vertices[order]
    new = np.ones(len(vertices), dtype=bool)
    new[1:] = (sorted_vertices[1:] != sorted_vertices[:-1]).any(axis=1)
    renumbered = np.zeros(len(vertices), dtype=np.int64)
    renumbered[order] = np.cumsum(new) - 1
    vertices, faces = sorted_vertices[new], renumbered[faces]
    n_before = len(faces)
    a, b, c = faces.T
    faces = faces[(a != b) & (b != c) & (c != a)]
    corners = np.sort(faces, axis=1)
    order = np.lexsort(corners.T)
    single = np.ones(len(faces), dtype=bool)
    single[1:] = (corners[order][1:] != corners[order][:-1]).any(axis=1)
    faces = faces[np.sort(order[single])]
    vertices, faces = compact(vertices, faces)
    return vertices, faces, n_before - len(faces)


def keep_piece(
    vertices: Points, faces: Faces, near: Sequence[Sequence[float]], answer: Answer
) -> tuple[Points, Faces]:
    """Keep the connected piece that lies nearest to every given point; without points, keep all."""
    ones = np.ones(2 * len(faces), dtype=np.int8)
    ends = np.concatenate([faces[:, :2], faces[:, 1:]])
    links = coo_array((ones, (ends[:, 0], ends[:, 1])), shape=(len(vertices), len(vertices)))
    n_pieces, piece = connected_components(links, directed=False)
    of_face = piece[faces[:, 0]]
    answer["n_pieces"] = int(n_pieces)
    if not near or n_pieces == 1:
        return vertices, faces
    closest = [int(piece[np.argmin(((vertices - point) ** 2).sum(axis=1))]) for point in near]
    if len(set(closest)) > 1:
        sizes = {str(k): int((of_face == k).sum()) for k in set(closest)}
        raise Refused("marks on several pieces", pieces=closest, sizes=sizes, n_pieces=int(n_pieces))
    answer["n_faces_left_out"] = int((of_face != closest[0]).sum())
    return compact(vertices, faces[of_face == closest[0]])


def outward(vertices: Points, faces: Faces) -> tuple[Faces, bool]:
    """Turn the faces outward when most of them, by area, look towards the middle of the mesh."""
    middle = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    a, b, c = (vertices[faces[:, k]] - middle for k in range(3))
    if float(np.einsum("ij,ij->", a, np.cross(b, c))) >= 0.0:
        return faces, False
    return faces[:, ::-1], True


if __name__ == "__main__":
    sys.exit(main())
