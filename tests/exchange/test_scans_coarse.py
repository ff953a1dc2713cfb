"""Coarse meshes: corners evened out where they are noisy, and that said; clean ones cut as they are."""

import datetime as dt
from dataclasses import replace

import numpy as np

from saddlebench.engine.back.instruments import Scan
from saddlebench.engine.back.record import measure_points
from saddlebench.engine.back.scan import ScanMark, ScanOfBack, cut_scan, record_from_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.back.surface import estimate_back
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


def share_inside(clean, smooth, faces):
    """Return how much of the surface from a scan lies within 95 % of what it says of itself."""
    scan = ScanOfBack(
        name="mare.ply",
        vertices_instrument=smooth.vertices_mm,
        faces=smooth.faces,
        up=UP,
        forward=AHEAD,
        marks=MARKS,
        instrument=Scan(
            name="played",
            point_sd_mm=smooth.reading_sd_mm,
            registration_sd_mm=0.0,
            registration_sd_deg=0.0,
            scale_sd=0.0,
        ),
    )
    aligned = align_scan(scan)
    record = record_from_scan(aligned, label="mare", measured_on=dt.date(2026, 3, 1))
    estimated = estimate_back(measure_points(record), record.landmarks)
    surface, grid = estimated.surface, estimated.surface.grid
    true = replace(aligned, vertices_back=aligned.scan_to_back.points(clean), faces=faces)
    inside = []
    rows = np.arange(0, len(grid.s_mm), 4)
    for k, section in zip(rows, cut_scan(true, grid.s_mm[rows]), strict=True):
        y, z = section.outline.yz(0.0, section.axis_z_mm).T
        phi, radius = np.arctan2(y, z - grid.axis_z_mm), np.hypot(y, z - grid.axis_z_mm)
        order = np.argsort(phi)
        expected = np.interp(grid.phi, phi[order], radius[order], left=np.nan, right=np.nan)
        there = surface.measured[k] & np.isfinite(expected)
        off = np.abs(surface.radius_mm[k] - expected)[there]
        inside.append(off < 1.96 * surface.sd_mm[k][there])
    return float(np.concatenate(inside).mean())


def test_a_surface_from_coarse_corners_is_about_as_sure_as_it_says():
    clean, _, faces, _ = trunk(0.0)
    noisy = clean + np.random.default_rng(0).normal(0.0, 3.0, clean.shape)
    smooth = read_over(noisy, faces)
    assert smooth.reading_sd_mm > 1.5 * smooth.noise_mm
    held = share_inside(clean, smooth, faces)
    # Taken as each reading's own, the same error makes the surface surer than it is.
    assert held > share_inside(clean, replace(smooth, reading_sd_mm=3.0), faces)
    assert held > 0.9


def test_a_clean_coarse_mesh_is_cut_as_it_is():
    clean, _, faces, _ = trunk(0.0)
    smooth = read_over(clean, faces)
    np.testing.assert_array_equal(smooth.vertices_mm, clean)
    assert smooth.remarks == ()
    assert smooth.noise_mm == 0.0
