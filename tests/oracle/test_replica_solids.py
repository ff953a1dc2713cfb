"""Solids read back by libraries that had no part in writing them: trimesh and lib3mf.

Watertight, oriented, at true scale; sliced pieces make the whole again; the skin is the surface's own spline.
"""

import io
from functools import lru_cache

import lib3mf
import manifold3d
import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.solids import (
    SolidChoices,
    SolidPiece,
    SolidReplica,
    as_3mf,
    as_glb,
    as_stl,
    solid_name,
    solid_replica,
)
from support.rebuilt import back_of, off_surface

BED = (260.0, 280.0, 330.0)


@lru_cache(maxsize=4)
def made(kind: str) -> SolidReplica:
    choices = {
        "plain": SolidChoices(wall_mm=None, engrave=False),
        "shell": SolidChoices(wall_mm=6.0, engrave=False),
        "engraved": SolidChoices(),
        "sliced": SolidChoices(bed_mm=BED, engrave=False),
    }[kind]
    return solid_replica(back_of().estimated, choices)


def mesh_of(piece: SolidPiece) -> trimesh.Trimesh:
    return trimesh.Trimesh(piece.vertices, piece.faces, process=False)


@pytest.mark.parametrize("kind", ["plain", "shell", "engraved", "sliced"])
def test_every_piece_is_one_closed_outward_body_on_a_flat_base(kind: str) -> None:
    replica = made(kind)
    for piece in replica.pieces:
        mesh = mesh_of(piece)
        assert mesh.is_watertight
        assert mesh.is_winding_consistent
        assert mesh.volume > 0.0
        assert mesh.body_count == 1
        assert piece.vertices[:, 2].min() == pytest.approx(replica.base_mm, abs=1e-3)


def test_the_skin_is_the_surface() -> None:
    mesh = mesh_of(made("plain").pieces[0])
    normals, centres = mesh.face_normals, mesh.triangles_center
    edge = np.abs(centres[:, 0] - centres[:, 0].min()) < 4.0
    skin = (normals[:, 2] > 0.05) & ~edge
    off = off_surface(back_of(), -centres[skin, 0], centres[skin, 1:])
    assert skin.sum() > 20_000
    assert np.abs(off).max() < 0.2
    assert np.quantile(np.abs(off), 0.99) < 0.1


def test_hollowing_leaves_a_wall_of_the_stated_thickness() -> None:
    """From the middle of inner faces to the nearest of many points that trimesh strews over the block."""
    block, shell = mesh_of(made("plain").pieces[0]), mesh_of(made("shell").pieces[0])
    assert 0.03 * block.volume < shell.volume < 0.2 * block.volume
    inner = (shell.face_normals[:, 2] < -0.2) & (shell.triangles_center[:, 2] > made("shell").base_mm + 40.0)
    centres = shell.triangles_center[inner][::200]
    strewn, _ = trimesh.sample.sample_surface(block, 400_000, seed=1)
    distance, _ = cKDTree(strewn).query(centres)
    assert len(centres) > 40
    assert np.abs(distance - 6.0).max() < 1.0


def test_engraving_takes_a_little_away_along_the_marks() -> None:
    shell, engraved = made("shell"), made("engraved")
    lost = shell.volume_mm3 - engraved.volume_mm3
    # Grooves 1.6 mm wide and 0.8 mm deep: midline, eleven stations, marks: some 6 m at 1.3 mm².
    assert 4000.0 < lost < 12_000.0


def test_sliced_pieces_fit_the_bed_do_not_overlap_and_make_the_whole() -> None:
    replica = made("sliced")
    assert len(replica.pieces) >= 4
    solids = []
    for piece in replica.pieces:
        assert all(size < room for size, room in zip(piece.size_mm, BED, strict=True))
        solids.append(
            manifold3d.Manifold(
                manifold3d.Mesh64(piece.vertices.astype(np.float64), piece.faces.astype(np.uint64))
            )
        )
    for k, one in enumerate(solids):
        assert all((one ^ other).volume() < 1.0 for other in solids[:k])
    assert sum(one.volume() for one in solids) == pytest.approx(replica.volume_mm3, rel=1e-5)


def test_dowel_holes_meet_across_every_cut() -> None:
    """A rod as thick as the dowel runs through both pieces' holes without touching, and lies inside both."""
    replica = made("sliced")
    solids = [
        manifold3d.Manifold(manifold3d.Mesh64(p.vertices.astype(np.float64), p.faces.astype(np.uint64)))
        for p in replica.pieces
    ]
    assert len(replica.dowels) >= 2 * (len(replica.pieces) // 2)
    for start, end in replica.dowels:
        middle, half = 0.5 * (start + end), 0.5 * float(np.linalg.norm(end - start))
        rod = manifold3d.Manifold.cylinder(2 * half - 0.2, 4.0, 4.0, 32, True)
        along_x = abs(end[0] - start[0]) > 0.0
        rod = (rod.rotate([0.0, 90.0, 0.0]) if along_x else rod.rotate([90.0, 0.0, 0.0])).translate(
            middle.tolist()
        )
        assert all((rod ^ one).volume() < 1.0 for one in solids)
        collar = manifold3d.Manifold.cylinder(2 * half - 4.0, 6.0, 6.0, 32, True)
        collar = (collar.rotate([0.0, 90.0, 0.0]) if along_x else collar.rotate([90.0, 0.0, 0.0])).translate(
            middle.tolist()
        )
        held = sorted((collar ^ one).volume() for one in solids)
        assert held[-1] > 500.0
        assert held[-2] > 500.0


def test_3mf_states_millimetres_and_is_what_was_made() -> None:
    piece = made("sliced").pieces[0]
    content = as_3mf(piece, "Bramble & “co” (invented)")
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromBuffer(content)
    assert reader.GetWarningCount() == 0
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
    objects = model.GetMeshObjects()
    assert objects.MoveNext()
    mesh = objects.GetCurrentMeshObject()
    assert mesh.IsManifoldAndOriented()
    assert (mesh.GetVertexCount(), mesh.GetTriangleCount()) == (len(piece.vertices), len(piece.faces))
    assert not objects.MoveNext()
    box = model.GetOutbox()
    size = np.array(list(box.MaxCoordinate)) - np.array(list(box.MinCoordinate))
    assert size == pytest.approx(np.array(piece.size_mm), abs=1e-3)

    read = trimesh.load_mesh(io.BytesIO(content), file_type="3mf")
    assert read.is_watertight
    assert read.units == "millimeter"
    assert read.volume == pytest.approx(mesh_of(piece).volume, rel=1e-5)


@pytest.mark.parametrize("kind", ["engraved", "sliced"])
def test_every_stl_stays_closed_in_its_short_numbers(kind: str) -> None:
    for piece in made(kind).pieces:
        assert trimesh.load_mesh(io.BytesIO(as_stl(piece)), file_type="stl").is_watertight


def test_stl_is_in_millimetres_and_its_name_says_its_box() -> None:
    piece = made("engraved").pieces[0]
    read = trimesh.load_mesh(io.BytesIO(as_stl(piece)), file_type="stl")
    assert read.is_watertight
    assert read.volume == pytest.approx(mesh_of(piece).volume, rel=1e-5)
    along, across, up = np.ptp(read.vertices, axis=0)
    name = solid_name("Bramble (invented)", piece)
    assert name == f"bramble-invented-whole-{along:.1f}x{across:.1f}x{up:.1f}mm"
    assert 700.0 < along < 800.0


def test_glb_is_in_metres_with_y_up_and_the_head_along_z() -> None:
    piece = made("shell").pieces[0]
    scene = trimesh.load_scene(io.BytesIO(as_glb(piece)), file_type="glb")
    read = scene.to_geometry()
    assert read.is_watertight
    assert read.volume * 1e9 == pytest.approx(mesh_of(piece).volume, rel=1e-4)
    along, across, up = piece.size_mm
    assert np.ptp(read.vertices, axis=0) * 1000.0 == pytest.approx([across, up, along], abs=0.01)
    # The withers stand higher than the loin: the high end is the front, which looks along +z.
    front = read.vertices[read.vertices[:, 2] > 0.8 * read.vertices[:, 2].max(), 1].max()
    rear = read.vertices[read.vertices[:, 2] < 0.2 * read.vertices[:, 2].max(), 1].max()
    assert front > rear


def test_a_bed_too_low_is_refused_with_both_heights() -> None:
    with pytest.raises(InputProblemsError, match="bed takes 196 mm"):
        solid_replica(back_of().estimated, SolidChoices(bed_mm=(300.0, 300.0, 200.0)))


def test_choices_out_of_range_are_refused_together() -> None:
    with pytest.raises(InputProblemsError) as caught:
        solid_replica(back_of().estimated, SolidChoices(wall_mm=0.1, dowel_mm=90.0))
    assert {problem.where.field for problem in caught.value.problems} == {"wall", "dowel"}
