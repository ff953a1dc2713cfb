"""A mark whose place lies in a hole of the scan is not guessed."""

import numpy as np
import pytest

from saddlebench.demo.scanned import Playing, play_scan
from saddlebench.demo.shapes import PLAIN
from saddlebench.demo.whole_horse import whole_horse
from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.back.scan_find import find_back


@pytest.fixture(scope="module")
def scan():
    return play_scan(*whole_horse(PLAIN), seed=5, playing=Playing(clutter=False, holes=0.0))


def holed(scan, place, radius_mm):
    """Return the faces outside a round hole, also where the invented horse has one tube inside another."""
    away = (scan.vertices[scan.faces].mean(axis=1) - place) @ scan.rotation / scan.units_per_mm
    inside = (np.hypot(away[:, 0], away[:, 1]) < radius_mm) & (np.abs(away[:, 2]) < 250.0)
    return scan.faces[~inside]


def test_withers_and_lowest_point_in_holes_are_not_proposed_and_the_rest_stays(scan):
    whole = find_back(scan.vertices, scan.faces).suggestions
    assert whole.unseen == frozenset()
    for mark, other in ((ScanMark.WITHERS, ScanMark.LOWEST), (ScanMark.LOWEST, ScanMark.WITHERS)):
        told = find_back(scan.vertices, holed(scan, whole.marks[mark], 70.0)).suggestions
        assert told.unseen == {mark}
        assert mark not in told.marks
        assert mark not in told.sd
        for still in (other, ScanMark.SHOULDER, ScanMark.LAST_RIB):
            assert np.linalg.norm(told.marks[still] - whole.marks[still]) < 15.0 * scan.units_per_mm
        assert (told.withers_height is None) == (mark is ScanMark.WITHERS)


def test_a_hole_that_is_small_is_bridged(scan):
    whole = find_back(scan.vertices, scan.faces).suggestions
    told = find_back(scan.vertices, holed(scan, whole.marks[ScanMark.WITHERS], 25.0)).suggestions
    assert told.unseen == frozenset()
    off = np.linalg.norm(told.marks[ScanMark.WITHERS] - whole.marks[ScanMark.WITHERS]) / scan.units_per_mm
    assert off < 15.0
