"""Meshes that are not what they should be: each gives a sentence, none a traceback."""

import struct

import numpy as np
import pytest
import trimesh

from saddlebench.engine.back.scan import points_from_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.errors import InputProblemsError, Weight
from saddlebench.exchange.scans import limits, read_mesh, read_scan
from saddlebench.exchange.scans.sniff import MeshKind, sniff
from support.meshes import marks_of, trunk, write_marks

COARSE = trunk(ds_mm=50.0, dphi_deg=10.0)
PLY_HEAD = (
    "ply\nformat {}\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n{}end_header\n"
)
FACES = "element face {}\nproperty list uchar int vertex_indices\n"
OUT_OF_RANGE = PLY_HEAD.format("ascii 1.0", 3, FACES.format(2)) + "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n3 0 1 7\n"


def saved(folder, mesh, name, **options):
    path = folder / name
    mesh.export(path, **options)
    return path


def problems_of(call):
    with pytest.raises(InputProblemsError) as caught:
        call()
    for problem in caught.value.problems:
        assert problem.cure
        assert problem.where.file
    return " | ".join(str(problem) for problem in caught.value.problems)


@pytest.mark.parametrize(
    ("name", "options", "kind"),
    [
        ("a.ply", {}, MeshKind.PLY_BINARY),
        ("a.ply", {"encoding": "ascii"}, MeshKind.PLY_TEXT),
        ("a.stl", {}, MeshKind.STL_BINARY),
        ("a.stl", {"file_type": "stl_ascii"}, MeshKind.STL_TEXT),
        ("a.obj", {}, MeshKind.OBJ),
        ("a.off", {}, MeshKind.OFF),
    ],
)
def test_every_format_gives_the_same_mesh(tmp_path, name, options, kind):
    path = saved(tmp_path, COARSE, name, **options)
    assert sniff(path).kind is kind
    mesh = read_mesh(path)
    assert (len(mesh.vertices), len(mesh.faces), mesh.n_pieces) == (
        len(COARSE.vertices),
        len(COARSE.faces),
        1,
    )
    # Text and single precision keep seven digits of 800 mm.
    assert trimesh.Trimesh(mesh.vertices, mesh.faces).volume == pytest.approx(COARSE.volume, rel=1e-5)
    assert mesh.remarks == ()


def test_the_contents_count_not_the_name(tmp_path):
    mesh = read_mesh(saved(tmp_path, COARSE, "wrong.stl", file_type="off"))
    assert len(mesh.faces) == len(COARSE.faces)
    assert "contents are OFF" in mesh.remarks[0].what
    assert mesh.remarks[0].weight is Weight.WARNING


@pytest.mark.parametrize(
    ("content", "name", "words"),
    [
        (b"", "a.ply", "the file is empty"),
        (b"  \n ", "a.obj", "the file is empty"),
        (b"PK\x03\x04" + b"\0" * 50, "a.stl", "a zip archive"),
        (b"\x1f\x8b" + b"\0" * 50, "a.ply", "compressed with gzip"),
        (b"\xff\xd8\xff\xe0" + b"\1" * 50, "a.ply", "a JPEG picture"),
        (bytes(range(256)) * 40, "a.ply", "none of PLY, OBJ, STL, OFF, GLB, XYZ and LAS"),
        (b"distance;left;right\n0;1,5;2\n", "a.off", "none of PLY, OBJ, STL, OFF, GLB, XYZ and LAS"),
        (
            b"x" * 80 + struct.pack("<I", 5_000_000) + b"\0" * 600,
            "a.stl",
            "declares 5,000,000 faces and has room for 12",
        ),
        (
            PLY_HEAD.format("binary_little_endian 1.0", 10**12, FACES.format(3)).encode(),
            "a.ply",
            "far too short",
        ),
        (
            PLY_HEAD.format("ascii 1.0", 3, FACES.format(10**15)).encode() + b"0 0 0\n" * 3,
            "a.ply",
            "far too short",
        ),
        (PLY_HEAD.format("ascii 1.0", -3, FACES.format(1)).encode(), "a.ply", "makes no sense"),
        (b"ply\nformat ascii 1.0\nelement vertex 3\n", "a.ply", "header has no end"),
        (b"OFF\n99999999999 5 0\n0 0 0\n", "a.off", "far too short"),
        (b"OFF\nmany few\n", "a.off", "counts of vertices and faces is missing"),
        (b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 x\n3 0 1 2\n", "a.off", "do not follow the OFF format"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "a.obj", "3 points but no faces"),
        (
            b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n",
            "a.obj",
            "name vertices that are not in the file",
        ),
        (OUT_OF_RANGE.encode(), "a.ply", "1 faces, first face 2, name vertices that are not among its 3"),
        (
            b"v 0 0 0\nv 1 0 0\nv 0 nan 0\nf 1 2 3\n",
            "a.obj",
            "1 of its vertices are no usable numbers, the first is 3",
        ),
        (b"v 0 0 0\nv 1 0 0\nv 0 1e300 0\nf 1 2 3\n", "a.obj", "no usable numbers"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 1 3\n", "a.obj", "no faces"),
    ],
)
def test_a_bad_file_gives_a_sentence(tmp_path, content, name, words):
    path = tmp_path / name
    path.write_bytes(content)
    assert words in problems_of(lambda: read_mesh(path))


def test_a_cloud_of_points_is_told_as_such(tmp_path):
    body = PLY_HEAD.format("ascii 1.0", 4, "").encode() + b"0 0 0\n1 0 0\n0 1 0\n0 0 1\n"
    path = tmp_path / "cloud.ply"
    path.write_bytes(body)
    assert "4 points but no faces: a point cloud" in problems_of(lambda: read_mesh(path))


def test_a_missing_file_and_a_folder_are_told(tmp_path):
    assert "cannot be opened" in problems_of(lambda: read_mesh(tmp_path / "nothing.ply"))
    assert "this is not a file" in problems_of(lambda: read_mesh(tmp_path))


def test_a_file_that_needs_too_much_ends_its_own_process_only(tmp_path, monkeypatch):
    pytest.importorskip("resource", reason="memory can only be limited where the system has resource limits")
    path = saved(tmp_path, trunk(ds_mm=4.0, dphi_deg=2.0), "large.obj")
    # Less than the process holds already when the limit is set: nothing more can be had.
    monkeypatch.setattr(limits, "MEMORY_BYTES", 1_000_000)
    words = problems_of(lambda: read_mesh(path))
    assert "memory" in words
    assert "binary PLY or STL" in words


def test_a_file_that_takes_too_long_is_given_up(tmp_path, monkeypatch):
    path = saved(tmp_path, COARSE, "a.ply")
    monkeypatch.setattr(limits, "wall_seconds_for", lambda _size, is_limited: 0.01 if is_limited else 0.02)
    assert "seconds" in problems_of(lambda: read_mesh(path))


def test_computing_is_what_is_limited_and_a_busy_machine_is_waited_for(tmp_path, monkeypatch):
    pytest.importorskip(
        "resource", reason="computing can only be limited where the system has resource limits"
    )
    five_million_faces = 114_000_000
    computing = limits.seconds_for(five_million_faces)
    assert limits.wall_seconds_for(five_million_faces, is_limited=True) >= 20 * computing
    # Without such limits the clock alone ends a reader that never comes back.
    assert limits.wall_seconds_for(five_million_faces, is_limited=False) < 600
    path = saved(tmp_path, trunk(ds_mm=2.0, dphi_deg=1.0), "large.obj")
    monkeypatch.setattr(limits, "seconds_for", lambda _size: 0)
    monkeypatch.setattr(limits, "wall_seconds_for", lambda _size, is_limited: 3600 if is_limited else 3601)
    assert "more memory or time than it may" in problems_of(lambda: read_mesh(path))


def test_size_limits_are_told_before_anything_is_read(tmp_path, monkeypatch):
    path = saved(tmp_path, COARSE, "a.off")
    monkeypatch.setattr("saddlebench.exchange.scans.sniff.MAX_TEXT_BYTES", 1000)
    assert "Save it as binary PLY or STL" in problems_of(lambda: read_mesh(path))
    monkeypatch.setattr("saddlebench.exchange.scans.sniff.MAX_TEXT_BYTES", 10**9)
    monkeypatch.setattr("saddlebench.exchange.scans.sniff.MAX_FACES", 100)
    assert "up to 100 are read" in problems_of(lambda: read_mesh(path))


def test_no_other_file_is_opened_because_a_mesh_names_it(tmp_path):
    (tmp_path / "other.mtl").write_text("newmtl a\nKd 1 0 0\nmap_Kd /dev/zero\n")
    obj = saved(tmp_path, COARSE, "a.obj")
    obj.write_text("mtllib other.mtl\nusemtl a\n" + obj.read_text())
    assert len(read_mesh(obj).faces) == len(COARSE.faces)


def test_polygons_doubled_and_empty_faces_are_mended(tmp_path):
    path = tmp_path / "a.off"
    corners = "0 0 0\n1 0 0\n1 1 0\n0 1 0\n0 0 1\n"
    path.write_text(f"OFF\n5 4 0\n{corners}4 0 1 2 3\n3 0 1 4\n3 1 0 4\n3 0 0 4\n")
    mesh = read_mesh(path)
    assert len(mesh.faces) == 3
    assert "2 faces without area, or there twice" in mesh.remarks[0].what


def test_an_inside_out_mesh_is_turned_and_that_is_said(tmp_path):
    inside_out = COARSE.copy()
    inside_out.invert()
    mesh = read_mesh(saved(tmp_path, inside_out, "a.ply"))
    assert trimesh.Trimesh(mesh.vertices, mesh.faces).volume > 0.0
    assert "inside out" in mesh.remarks[0].what


def pieces(*parts):
    return trimesh.util.concatenate(list(parts))


def test_of_several_pieces_the_one_with_the_marks_is_taken_and_the_rest_named(tmp_path):
    post = trimesh.creation.box(extents=(50.0, 50.0, 1500.0))
    post.apply_translation([-300.0, 900.0, 0.0])
    rider = trimesh.creation.icosphere(subdivisions=3, radius=150.0)
    rider.apply_translation([-250.0, 0.0, 320.0])
    scan = read_scan(saved(tmp_path, pieces(trunk(), rider, post), "a.ply"), write_marks(tmp_path))
    assert f"{len(rider.faces) + len(post.faces):,} faces not" in scan.remarks[0].what
    alone = read_scan(saved(tmp_path, trunk(), "b.ply"), write_marks(tmp_path))
    found = [points_from_scan(align_scan(s)).points_back for s in (scan, alone)]
    np.testing.assert_allclose(*found, atol=1e-3)


def test_marks_on_two_pieces_are_asked_about(tmp_path):
    rider = trimesh.creation.icosphere(subdivisions=3, radius=150.0)
    rider.apply_translation([-250.0, 0.0, 320.0])
    mesh = saved(tmp_path, pieces(trunk(), rider), "a.ply")
    marks = write_marks(tmp_path, lowest=np.array([-250.0, 0.0, 470.0]))
    assert "marks lie on 2 separate pieces of the 2" in problems_of(lambda: read_scan(mesh, marks))


def test_a_large_mesh_is_cut_down_to_the_back_and_not_thinned(tmp_path, monkeypatch):
    # A long trunk with the horse's back in its middle stands for a large mesh.
    mesh = pieces(
        trunk(), *(trunk().copy().apply_translation([shift, 0.0, 0.0]) for shift in (1400.0, -1400.0))
    )
    path = saved(tmp_path, mesh, "a.stl")
    whole = points_from_scan(align_scan(read_scan(path, write_marks(tmp_path)))).points_back
    monkeypatch.setattr(limits, "CROP_ABOVE_FACES", 1000)
    scan = read_scan(path, write_marks(tmp_path))
    assert len(scan.faces) < 0.5 * len(mesh.faces)
    assert "only those near the marks were kept" in scan.remarks[0].what
    np.testing.assert_allclose(points_from_scan(align_scan(scan)).points_back, whole, atol=1e-6)


def test_marks_far_from_a_large_mesh_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(limits, "CROP_ABOVE_FACES", 1000)
    names = ("shoulder", "withers", "lowest", "last_rib")
    away = np.array([0.0, 0.0, 9000.0])
    far = {name: point + away for name, point in zip(names, marks_of().values(), strict=True)}
    path, marks = saved(tmp_path, trunk(), "a.ply"), write_marks(tmp_path, **far)
    assert "no part of the mesh lies near the marks" in problems_of(lambda: read_scan(path, marks))
