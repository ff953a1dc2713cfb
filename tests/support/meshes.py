"""Meshes made up for tests: a horse's trunk from an invented back, and what can be wrong with it."""

from functools import lru_cache
from pathlib import Path

import numpy as np
import trimesh

from saddlebench.demo.shapes import PLAIN, BackShape
from saddlebench.engine.back.scan import ScanMark, ScanOfBack
from saddlebench.engine.frames import FloatArray


@lru_cache(maxsize=16)
def trunk(shape: BackShape = PLAIN, ds_mm: float = 20.0, dphi_deg: float = 4.0) -> trimesh.Trimesh:
    """Return a closed trunk in the back frame, mm, facing outward: the invented back, and a round belly."""
    s = np.arange(-350.0, 800.0 + ds_mm / 2, ds_mm)
    phi = np.deg2rad(np.arange(-180.0, 180.0, dphi_deg))
    known = np.clip(phi, -np.deg2rad(96.0), np.deg2rad(96.0))
    radius = shape.radius(s[:, None], known[None, :])
    rows, columns = radius.shape
    points = np.stack(
        [
            np.broadcast_to(-s[:, None], radius.shape),
            radius * np.sin(phi),
            radius * np.cos(phi) + shape.axis_z_mm,
        ],
        axis=-1,
    ).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    a, b = i * columns + j, i * columns + (j + 1) % columns
    faces = np.concatenate(
        [
            np.stack([a, a + columns, b], axis=-1).reshape(-1, 3),
            np.stack([b, a + columns, b + columns], axis=-1).reshape(-1, 3),
        ]
    )
    ends = np.array([[-s[0], 0.0, shape.axis_z_mm], [-s[-1], 0.0, shape.axis_z_mm]])
    n, ring = len(points), np.arange(columns)
    last = (rows - 1) * columns
    caps = np.concatenate(
        [
            np.stack([np.full(columns, n), ring, (ring + 1) % columns], axis=1),
            np.stack([np.full(columns, n + 1), last + (ring + 1) % columns, last + ring], axis=1),
        ]
    )
    mesh = trimesh.Trimesh(np.vstack([points, ends]), np.vstack([faces, caps]), process=False)
    if mesh.volume < 0.0:
        mesh.invert()
    return mesh


def top(shape: BackShape, s_mm: float) -> FloatArray:
    """Return the point of the topline at a distance behind the shoulder mark, back frame [mm]."""
    return np.array([-s_mm, 0.0, float(shape.radius(s_mm, 0.0)) + shape.axis_z_mm])


def marks_of(shape: BackShape = PLAIN) -> dict[ScanMark, FloatArray]:
    """Return the marks on the topline of an invented back, back frame [mm]."""
    marks = shape.landmarks
    return {
        ScanMark.SHOULDER: top(shape, 0.0),
        ScanMark.WITHERS: top(shape, marks.withers.value_mm),
        ScanMark.LOWEST: top(shape, marks.lowest.value_mm),
        ScanMark.LAST_RIB: top(shape, marks.last_rib.value_mm),
    }


def scan_of(
    mesh: trimesh.Trimesh, rotation: FloatArray | None = None, shape: BackShape = PLAIN, yaw_deg: float = 0.0
) -> ScanOfBack:
    """Return a scan of a mesh of the back frame that stands turned, its heading stated `yaw_deg` off."""
    turn = np.eye(3) if rotation is None else rotation
    yaw = np.deg2rad(yaw_deg)
    return ScanOfBack(
        name="made-up.ply",
        vertices_instrument=np.asarray(mesh.vertices) @ turn.T,
        faces=np.asarray(mesh.faces, dtype=np.int32),
        up=turn @ [0.0, 0.0, 1.0],
        forward=turn @ [np.cos(yaw), np.sin(yaw), 0.0],
        marks={mark: turn @ point for mark, point in marks_of(shape).items()},
    )


MARKS = """
unit = "mm"
up = { axis = "+z" }
head = { axis = "+x" }

[marks]
"""


def write_marks(folder: Path, head: str = MARKS, **points: FloatArray | str) -> Path:
    """Write a marks file for a trunk in the back frame; single points may be replaced."""
    held: dict[str, FloatArray | str] = {
        {"SHOULDER": "shoulder", "WITHERS": "withers", "LOWEST": "lowest", "LAST_RIB": "last_rib"}[m.name]: p
        for m, p in marks_of().items()
    }
    lines = [
        f'{name} = "{p}"' if isinstance(p, str) else f"{name} = [{', '.join(f'{x:.3f}' for x in p)}]"
        for name, p in (held | points).items()
    ]
    path = folder / "marks.toml"
    path.write_text(head + "\n".join(lines) + "\n", encoding="utf-8")
    return path
