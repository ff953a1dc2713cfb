"""Laying pieces on each other against general-purpose libraries: closed form, and iterated closest points.

References: `scipy.spatial.transform.Rotation.align_vectors` (Kabsch) and `scipy.spatial.procrustes` for known
correspondences; `trimesh.registration.icp` (P. J. Besl, N. D. McKay, IEEE Trans. PAMI 14 (1992), 239–256).
"""

import numpy as np
import pytest
from scipy.spatial import procrustes
from scipy.spatial.transform import Rotation
from trimesh.registration import icp

from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.frames import rotation_from_vector
from saddlebench.engine.scan.facing import facing
from saddlebench.engine.scan.lay import lay_on
from saddlebench.engine.scan.rigid import AS_IT_LIES, Rigid, laid_by_points
from saddlebench.engine.scan.sample import even_points


def some_move(seed, turn=0.1, shift=30.0):
    rng = np.random.default_rng(seed)
    return Rigid(rotation=rotation_from_vector(rng.normal(0.0, turn, 3)), shift=rng.normal(0.0, shift, 3))


@pytest.mark.parametrize("seed", range(4))
def test_marked_points_are_laid_as_by_kabsch_and_procrustes(seed):
    rng = np.random.default_rng(seed)
    fixed = rng.normal(0.0, 400.0, (3 + seed, 3))
    moving = some_move(seed, turn=2.0, shift=900.0).points(fixed) + rng.normal(0.0, 10.0, fixed.shape)
    found = laid_by_points(moving, fixed)
    a, b = moving - moving.mean(axis=0), fixed - fixed.mean(axis=0)
    kabsch, _ = Rotation.align_vectors(b, a)
    np.testing.assert_allclose(found.rotation, kabsch.as_matrix(), atol=1e-9)
    assert np.linalg.det(found.rotation) == pytest.approx(1.0)
    # Procrustes scales, too, and may mirror; without either it leaves as much as the move found here.
    one, other, disparity = procrustes(b, a)
    if np.linalg.det(np.linalg.lstsq(a, other, rcond=None)[0]) > 0.0 or len(a) == 3:
        left = np.square(found.points(moving) - fixed).sum()
        assert np.square(one - other).sum() == pytest.approx(disparity)
        assert disparity * np.square(b).sum() <= left * (1.0 + 1e-9)


def test_points_in_one_line_are_refused():
    line = np.outer(np.arange(4.0), [1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match="one line"):
        laid_by_points(line, line)


def test_a_cloud_is_laid_as_closely_as_by_another_library():
    vertices, faces = whole_horse()
    own = vertices[:, 2] > -700.0
    faces = faces[own[faces].all(axis=1)]
    rng = np.random.default_rng(3)
    fixed = even_points(vertices, faces, 12_000, rng) + rng.normal(0.0, 1.0, (12_000, 3))
    true = some_move(5, turn=0.04, shift=12.0)
    moving = true.inverse().points(
        even_points(vertices, faces, 6_000, rng) + rng.normal(0.0, 1.0, (6_000, 3))
    )
    found = lay_on(facing(moving), facing(fixed), AS_IT_LIES)
    matrix, _, _ = icp(moving, fixed, max_iterations=80, threshold=1e-9, scale=False, reflection=False)
    theirs = Rigid(rotation=matrix[:3, :3], shift=matrix[:3, 3])
    at = true.inverse().points(vertices[own])
    ours_off = np.linalg.norm(found.points(at) - vertices[own], axis=1).mean()
    theirs_off = np.linalg.norm(theirs.points(at) - vertices[own], axis=1).mean()
    assert ours_off < 0.3
    assert ours_off <= theirs_off + 0.05
    assert np.linalg.norm(found.points(at) - theirs.points(at), axis=1).mean() < 4.0
