"""Beyond a hole the back's own outline is taken up again, and nothing that stands beside the horse."""

import numpy as np
import pytest

from saddlebench.engine.back.scan_sections import MeshCut, outline_of_back

PHI = np.deg2rad(np.arange(-92.0, 93.0, 4.0))
BACK_MM = 200.0


def arc(first_deg, last_deg, radius_mm):
    phi = np.deg2rad(np.arange(first_deg, last_deg + 0.5, 1.0))
    points = radius_mm * np.stack([np.sin(phi), np.cos(phi)], axis=1)
    return np.stack([points[:-1], points[1:]], axis=1)


@pytest.mark.parametrize(("beyond_mm", "is_taken"), [(BACK_MM, True), (BACK_MM + 60.0, True), (540.0, False)])
def test_what_stands_far_out_beyond_a_hole_is_not_the_back(beyond_mm, is_taken):
    pieces = np.concatenate([arc(-40.0, 95.0, BACK_MM), arc(-95.0, -72.0, beyond_mm)])
    outline = outline_of_back(MeshCut(pieces_yz=pieces, facet_sag_mm=0.0), (0.0, 0.0), PHI, BACK_MM)
    degrees = np.rad2deg(PHI)
    beyond = degrees < -73.0
    assert outline.found[beyond].all() == is_taken
    assert outline.found[beyond].any() == is_taken
    assert outline.found[degrees > -39.0].all()
    assert bool(outline.folds_at) != is_taken
