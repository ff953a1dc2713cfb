"""Coarse meshes: corners evened out where they are noisy, and that said; clean ones cut as they are."""

import numpy as np

from saddlebench.engine.back.scan import ScanMark
from saddlebench.exchange.scans.mesh import Mesh
from saddlebench.exchange.scans.smooth import skin_over
from support.coarse_trunk import trunk

UP, AHEAD = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
MARKS = {
    ScanMark.SHOULDER: np.array([-100.0, 0.0, 40.0]),
    ScanMark.LAST_RIB: np.array([-600.0, 0.0, 40.0]),
}


def read_over(vertices, faces):
    mesh = Mesh(vertices=vertices, faces=faces, n_pieces=1, remarks=())
    return skin_over("mare.ply", mesh, 1.0, MARKS, UP, AHEAD)


def test_noisy_corners_far_apart_are_moved_alone_and_that_is_said():
    clean, noisy, faces, outward = trunk(3.0)
    smooth = read_over(noisy, faces)
    np.testing.assert_array_equal(smooth.faces, faces)
    [said] = smooth.remarks
    assert said.what.startswith("corners lie some ")
    back = (clean[:, 0] > -600.0) & (clean[:, 0] < 0.0) & (clean[:, 2] > -100.0)
    off = ((smooth.vertices_mm - clean) * outward).sum(axis=1)[back]
    before = ((noisy - clean) * outward).sum(axis=1)[back]
    assert np.sqrt(np.mean(off**2)) < 0.6 * np.sqrt(np.mean(before**2))
    assert 0.5 < smooth.noise_mm < 2.5


def test_a_clean_coarse_mesh_is_cut_as_it_is():
    clean, _, faces, _ = trunk(0.0)
    smooth = read_over(clean, faces)
    np.testing.assert_array_equal(smooth.vertices_mm, clean)
    assert smooth.remarks == ()
    assert smooth.noise_mm == 0.0
