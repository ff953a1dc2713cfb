"""The triangles and points of a self-contained glTF 2.0 file (ISO/IEC 12113): binary (GLB) or text.

Loaded by `read_apart.py` in its own process. Every offset and count is checked against the bytes that are
there before anything is made of it; nodes must form trees, as the standard wants; no other file is opened.
"""

import base64
import binascii
import json
import struct
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

_COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_TRIANGLES, _STRIP, _FAN, _POINTS = 4, 5, 6, 0
_MOST_NODES = 20_000
_DATA_URI = ";base64,"

Points = NDArray[np.float64]
Faces = NDArray[np.int64]


class GltfError(ValueError):
    """The file cannot be used; its words are one of the reader's reasons."""


def load_gltf(content: bytes, most_faces: int) -> tuple[Points, Faces]:
    """Return vertices (n, 3) and triangles (m, 3) of the scene, its nodes' placements applied.

    Parameters
    ----------
    content : the whole file
    most_faces : a scene with more is not made

    Raises
    ------
    GltfError
        With “compressed”, “elsewhere”, “loop”, “too many faces” or “unreadable”.
    """
    document, binary = _parts(content)
    if any("draco" in name or "meshopt" in name for name in document.get("extensionsRequired", [])):
        raise GltfError("compressed")
    buffers = [_buffer(one, binary) for one in document.get("buffers", [])]
    _refuse_many(document, most_faces)
    points, faces, begins, n_faces = [], [], 0, 0
    for placed, mesh in _meshes(document):
        for primitive in document["meshes"][mesh]["primitives"]:
            mode = primitive.get("mode", _TRIANGLES)
            if mode not in (_TRIANGLES, _STRIP, _FAN, _POINTS):
                continue
            own = _read(document, buffers, primitive["attributes"]["POSITION"], 3).astype(np.float64)
            made = _triangles(document, buffers, primitive, len(own), mode)
            n_faces += len(made)
            if n_faces > most_faces or begins + len(own) > 3 * most_faces:
                raise GltfError("too many faces")
            points.append(own @ placed[:3, :3].T + placed[:3, 3])
            faces.append(made + begins)
            begins += len(own)
    if not points:
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    return np.concatenate(points), np.concatenate(faces)


def _refuse_many(document: dict[str, Any], most_faces: int) -> None:
    """Count what all placements of all meshes come to before any of it is made."""
    accessors, held = document.get("accessors", []), []
    for mesh in document.get("meshes", []):
        used = [p.get("indices", p["attributes"]["POSITION"]) for p in mesh["primitives"]]
        held.append(sum(int(accessors[k]["count"]) for k in used))
    total = 0
    for _, mesh in _meshes(document):
        total += held[mesh]
        if total > 3 * most_faces:
            raise GltfError("too many faces")


def _parts(content: bytes) -> tuple[dict[str, Any], bytes]:
    if content[:4] != b"glTF":
        return json.loads(content), b""
    version, length = struct.unpack_from("<II", content, 4)
    if version != 2 or length > len(content):
        raise GltfError("unreadable")
    at, text, binary = 12, b"", b""
    while at + 8 <= length:
        size, kind = struct.unpack_from("<I4s", content, at)
        if at + 8 + size > length:
            raise GltfError("unreadable")
        chunk = content[at + 8 : at + 8 + size]
        if kind == b"JSON" and not text:
            text = chunk
        elif kind == b"BIN\0" and not binary:
            binary = chunk
        at += 8 + size
    return json.loads(text), binary


def _buffer(one: dict[str, Any], binary: bytes) -> bytes:
    uri = one.get("uri")
    if uri is None:
        return binary
    if not uri.startswith("data:") or _DATA_URI not in uri[:120]:
        raise GltfError("elsewhere")
    try:
        return base64.b64decode(uri[uri.index(_DATA_URI) + len(_DATA_URI) :], validate=True)
    except binascii.Error as error:
        raise GltfError("unreadable") from error


def _meshes(document: dict[str, Any]) -> Iterator[tuple[NDArray[np.float64], int]]:
    """Yield each mesh with the placement (4, 4) of the node that holds it."""
    nodes = document.get("nodes", [])
    if not nodes:
        yield from ((np.eye(4), k) for k in range(len(document.get("meshes", []))))
        return
    if len(nodes) > _MOST_NODES:
        raise GltfError("unreadable")
    scenes = document.get("scenes", [])
    children = {child for node in nodes for child in node.get("children", [])}
    roots = [k for k in range(len(nodes)) if k not in children]
    if scenes:
        roots = scenes[document.get("scene", 0)].get("nodes", [])
    if not roots:
        raise GltfError("loop")
    waiting, seen = [(int(root), np.eye(4)) for root in roots], set()
    while waiting:
        k, above = waiting.pop()
        if k in seen or k < 0:
            raise GltfError("loop")
        seen.add(k)
        placed = above @ _placement(nodes[k])
        if "mesh" in nodes[k]:
            yield placed, int(nodes[k]["mesh"])
        waiting += [(int(child), placed) for child in nodes[k].get("children", [])]


def _placement(node: dict[str, Any]) -> NDArray[np.float64]:
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T  # stored column by column
    x, y, z, w = np.array(node.get("rotation", [0.0, 0.0, 0.0, 1.0]), dtype=np.float64)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    placed = np.eye(4)
    placed[:3, :3] = turn * np.array(node.get("scale", [1.0, 1.0, 1.0]), dtype=np.float64)
    placed[:3, 3] = node.get("translation", [0.0, 0.0, 0.0])
    return placed


def _read(document: dict[str, Any], buffers: list[bytes], number: int, columns: int) -> NDArray[Any]:
    """Return an accessor's values as they lie in the file: (n, columns), or (n,) for one column."""
    accessor = document["accessors"][number]
    if "sparse" in accessor or "bufferView" not in accessor:
        raise GltfError("compressed")
    view = document["bufferViews"][accessor["bufferView"]]
    kind = np.dtype(_COMPONENTS[accessor["componentType"]])
    count, start = int(accessor["count"]), int(accessor.get("byteOffset", 0)) + int(view.get("byteOffset", 0))
    step = int(view.get("byteStride", 0)) or kind.itemsize * columns
    held = buffers[view["buffer"]]
    last = start + step * (count - 1) + kind.itemsize * columns
    if count < 1 or start < 0 or step < kind.itemsize * columns or last > len(held):
        raise GltfError("unreadable")
    shape = (count, columns) if columns > 1 else (count,)
    strides = (step, kind.itemsize) if columns > 1 else (step,)
    return np.ndarray(shape, dtype=kind, buffer=held, offset=start, strides=strides)


def _triangles(
    document: dict[str, Any], buffers: list[bytes], primitive: dict[str, Any], n: int, mode: int
) -> Faces:
    if mode == _POINTS:
        return np.zeros((0, 3), dtype=np.int64)
    index = (
        _read(document, buffers, primitive["indices"], 1).astype(np.int64)
        if "indices" in primitive
        else np.arange(n, dtype=np.int64)
    )
    if len(index) and (index.max() >= n or index.min() < 0):
        raise GltfError("unreadable")
    if mode == _TRIANGLES:
        return index[: len(index) // 3 * 3].reshape(-1, 3)
    if mode == _FAN:
        return np.stack([np.full(len(index) - 2, index[0]), index[1:-1], index[2:]], axis=1)
    strip = np.stack([index[:-2], index[1:-1], index[2:]], axis=1)
    strip[1::2] = strip[1::2][:, [1, 0, 2]]
    return strip
