"""Meshes of horses that nobody here made, scanned in two pieces, give the back of the clean mesh."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.scanned import Cut, Playing, play_pieces
from saddlebench.engine.back.scan import cut_scan
from saddlebench.engine.back.scan_align import align_scan
from saddlebench.engine.units import Length
from saddlebench.exchange.scans import ScanPiece, look_at_pieces, marks_text, read_scan
from support.pieces import written

pytestmark = pytest.mark.real_data


# Noise of 3 mm, a fifth in holes, 30 % on both pieces, each turned and shifted its own way among clutter.
# More meshes, and pieces cut the other way: benchmarks/pieces.py.
def test_two_pieces_give_the_sections_of_the_clean_mesh(real_backs, tmp_path):
    known = align_scan(read_scan(*real_backs["horse-a"]))
    shape, faces = known.vertices_back, np.asarray(known.scan.faces)
    played = play_pieces(shape, faces, 31, Playing(), cut=Cut.SIDES)
    paths = written(played, tmp_path)
    looked = look_at_pieces([ScanPiece(path=path, unit=Length.M) for path in paths])
    marks = tmp_path / "marks.toml"
    marks.write_text(marks_text(looked, measured_on=dt.date(2026, 5, 14)), encoding="utf-8")
    scan = read_scan(paths[0], marks, more=paths[1:])
    aligned = align_scan(scan)

    true = aligned.scan_to_back.points(shape @ played[0].rotation.T + played[0].translation_mm)
    clean = replace(aligned, vertices_back=true, faces=faces.astype(np.int32))
    off = []
    for ours, its in zip(cut_scan(aligned), cut_scan(clean), strict=True):
        both = ours.outline.found & its.outline.found
        both &= ours.outline.radius_mm * np.cos(ours.outline.phi) > -80.0
        off.append((ours.outline.radius_mm - its.outline.radius_mm)[both])
    off = np.concatenate(off)
    assert len(off) > 500
    assert np.percentile(np.abs(off), 95.0) < 3.0

    assert looked.pieces[1].sure_mm < 1.5
    assert looked.pieces[1].apart_mm < 1.5
