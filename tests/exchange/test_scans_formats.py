"""glTF, and clouds of points: the same shape from every file, written by libraries that are not ours."""

import base64
import json
import struct

import laspy
import numpy as np
import pytest
import trimesh

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.scans import limits, read_mesh
from saddlebench.exchange.scans.sniff import MeshKind, sniff
from support.meshes import trunk

SHAPE = trunk(ds_mm=50.0, dphi_deg=10.0)
POINTS = np.asarray(SHAPE.vertices)


def told(call):
    with pytest.raises(InputProblemsError) as caught:
        call()
    return " | ".join(str(problem) for problem in caught.value.problems)


def glb(document, binary=b""):
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    chunks += struct.pack("<I4s", len(binary), b"BIN\0") + binary if binary else b""
    return b"glTF" + struct.pack("<II", 2, 12 + len(chunks)) + chunks


TRIANGLE = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], dtype="<f4").tobytes()


def one_triangle(**changes):
    return {
        "asset": {"version": "2.0"},
        "buffers": [{"byteLength": 36}],
        "bufferViews": [{"buffer": 0, "byteLength": 36}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "nodes": [{"mesh": 0}],
        "scenes": [{"nodes": [0]}],
    } | changes


def test_a_glb_of_two_placed_parts_is_what_its_writer_says(tmp_path):
    scene = trimesh.Scene()
    turn = trimesh.transformations.rotation_matrix(0.7, [1.0, 2.0, 0.5], [10.0, 0.0, 4.0])
    scene.add_geometry(SHAPE, transform=turn)
    scene.add_geometry(trimesh.creation.box(extents=(3.0, 2.0, 1.0)), transform=np.diag([2.0, 2.0, 2.0, 1.0]))
    path = tmp_path / "scene.glb"
    path.write_bytes(scene.export(file_type="glb"))
    assert sniff(path).kind is MeshKind.GLB
    mesh = read_mesh(path)
    whole = scene.to_geometry()
    assert len(mesh.faces) == len(whole.faces)
    assert mesh.n_pieces == 2
    np.testing.assert_allclose(
        trimesh.Trimesh(mesh.vertices, mesh.faces).center_mass, whole.center_mass, rtol=1e-4, atol=1e-3
    )


def test_gltf_text_with_its_data_inside_is_read_and_with_files_beside_refused(tmp_path):
    path = tmp_path / "a.gltf"
    uri = "data:application/octet-stream;base64," + base64.b64encode(TRIANGLE).decode()
    path.write_text(json.dumps(one_triangle(buffers=[{"byteLength": 36, "uri": uri}])))
    assert sniff(path).kind is MeshKind.GLTF
    np.testing.assert_allclose(np.sort(read_mesh(path).vertices.sum(axis=1)), [0.0, 1.0, 1.0])
    path.write_text(json.dumps(one_triangle(buffers=[{"byteLength": 36, "uri": "/etc/passwd"}])))
    assert "other files beside it" in told(lambda: read_mesh(path))


def test_clouds_are_taken_where_they_will_do_and_only_there(tmp_path):
    path = tmp_path / "cloud.ply"
    trimesh.PointCloud(POINTS).export(path)
    cloud = read_mesh(path, clouds=True)
    assert cloud.faces.shape == (0, 3)
    np.testing.assert_allclose(np.sort(cloud.vertices, axis=0), np.sort(POINTS, axis=0), atol=1e-3)
    assert "a point cloud" in told(lambda: read_mesh(path))


@pytest.mark.parametrize(
    ("head", "separator", "tail"),
    [("", " ", ""), ("x,y,z,intensity\n", ",", ",7"), ("# a comment\n", "\t", ""), ("", ";", ";1;2;3")],
)
def test_tables_of_points(tmp_path, head, separator, tail):
    path = tmp_path / "cloud.xyz"
    rows = [separator.join(f"{v:.3f}" for v in point) + tail for point in POINTS]
    path.write_text(head + "\n".join(rows) + "\n")
    assert sniff(path).kind is MeshKind.XYZ
    np.testing.assert_allclose(read_mesh(path, clouds=True).vertices, POINTS, atol=6e-4)


@pytest.mark.parametrize(("version", "record"), [("1.2", 0), ("1.4", 6)])
def test_las_is_what_its_library_wrote(tmp_path, version, record):
    path = tmp_path / "cloud.las"
    las = laspy.LasData(laspy.LasHeader(point_format=record, version=version))
    las.header.scales, las.header.offsets = np.full(3, 1e-4), np.zeros(3)
    las.x, las.y, las.z = (POINTS / 1000.0).T
    las.write(path)
    assert sniff(path).kind is MeshKind.LAS
    np.testing.assert_allclose(read_mesh(path, clouds=True).vertices, POINTS / 1000.0, atol=1e-4)


@pytest.mark.parametrize(
    ("document", "binary", "words"),
    [
        (one_triangle(nodes=[{"mesh": 0, "children": [0]}]), TRIANGLE, "in a ring"),
        (
            one_triangle(nodes=[{"children": [1]}, {"mesh": 0, "children": [0]}], scenes=[]),
            TRIANGLE,
            "in a ring",
        ),
        (
            one_triangle(
                accessors=[{"bufferView": 0, "componentType": 5126, "count": 10**12, "type": "VEC3"}]
            ),
            TRIANGLE,
            "it has too many faces",
        ),
        (
            one_triangle(
                accessors=[
                    {
                        "bufferView": 0,
                        "byteOffset": -400,
                        "componentType": 5126,
                        "count": 3,
                        "type": "VEC3",
                    }
                ]
            ),
            TRIANGLE,
            "do not follow the GLB format",
        ),
        (
            one_triangle(extensionsRequired=["KHR_draco_mesh_compression"]),
            TRIANGLE,
            "packed in a way that is not read",
        ),
        (one_triangle(), np.full(9, np.nan, dtype="<f4").tobytes(), "no usable numbers"),
        (one_triangle(nodes=[{"mesh": 5}]), TRIANGLE, "do not follow the GLB format"),
        (one_triangle(meshes=[]), b"", "do not follow the GLB format"),
    ],
)
def test_hostile_glb_gets_a_sentence(tmp_path, document, binary, words):
    path = tmp_path / "a.glb"
    path.write_bytes(glb(document, binary))
    assert words in told(lambda: read_mesh(path))


def test_many_instances_of_one_part_are_counted_before_they_are_made(tmp_path):
    # 20,000 nodes of 3,000 triangles each are 60 million faces in a file of a few hundred kilobytes.
    binary = TRIANGLE * 3000
    many = one_triangle(
        buffers=[{"byteLength": len(binary)}],
        bufferViews=[{"buffer": 0, "byteLength": len(binary)}],
        accessors=[{"bufferView": 0, "componentType": 5126, "count": 9000, "type": "VEC3"}],
        nodes=[{"mesh": 0} for _ in range(20_000)],
        scenes=[{"nodes": list(range(20_000))}],
    )
    path = tmp_path / "a.glb"
    path.write_bytes(glb(many, binary))
    words = told(lambda: read_mesh(path))
    assert "faces; up to" in words or "takes more than" in words or "more memory or time" in words


def test_packed_las_and_a_count_beyond_the_file_are_refused(tmp_path):
    path = tmp_path / "a.las"
    head = bytearray(375)
    head[:4], head[24], head[25] = b"LASF", 1, 2
    head[96:100], head[105:107] = (375).to_bytes(4, "little"), (20).to_bytes(2, "little")
    head[107:111] = (2**32 - 1).to_bytes(4, "little")
    path.write_bytes(bytes(head))
    assert "far too short" in told(lambda: read_mesh(path, clouds=True))
    head[104] = 0x80
    path.write_bytes(bytes(head))
    assert "packed (LAZ)" in told(lambda: read_mesh(path, clouds=True))


def test_a_small_file_never_gets_more_than_a_gigabyte_or_five_seconds():
    assert limits.memory_for(1_000_000) < 1_000_000_000
    assert limits.seconds_for(1_000_000) <= 5
    assert limits.memory_for(10**9) == limits.MEMORY_BYTES
