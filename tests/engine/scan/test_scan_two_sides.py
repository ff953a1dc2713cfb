"""Left held against right: holes do not choose which part of a bent back gives its heading."""

import numpy as np
import pytest

from saddlebench.engine.scan.two_sides import fit_line, two_sides

PHI = np.deg2rad(4.0) * np.arange(1, 21)
ALONG = np.linspace(-0.5, 0.5, 27)
LENGTH_MM = 520.0
RADIUS_MM = 280.0


def radii(shift, phi):
    """Return radii (c, j) of circles about an axis that lies `shift` (c,) beside their middles."""
    sine = shift[:, None] * np.sin(phi)
    return sine + np.sqrt(RADIUS_MM**2 - shift[:, None] ** 2 + sine**2)


def slope_of(shift, both):
    sides = two_sides(PHI, radii(shift, np.zeros(1))[:, 0], radii(shift, PHI), radii(shift, -PHI), both)
    return fit_line(sides, ALONG, LENGTH_MM / 26.0)[0]


def test_a_straight_back_askew_is_found_through_any_holes():
    both = np.random.default_rng(1).random((27, 20)) > 0.4
    offset, slope = slope_of(1.5 + 4.0 * ALONG, both)
    assert offset == pytest.approx(1.5, abs=0.02)
    assert slope == pytest.approx(4.0, abs=0.05)


def test_a_bent_back_keeps_its_heading_where_holes_hide_some_of_it():
    bent = 8.0 * np.sin(4.0 * ALONG) + 30.0 * ALONG**2
    whole = np.ones((27, 20), dtype=bool)
    holed = whole.copy()
    holed[18:22, 3:15] = holed[5:9, :9] = holed[24:, 10:] = False
    true, found = slope_of(bent, whole), slope_of(bent, holed)
    # By what is seen alone, as weights of zero would have it.
    sides = two_sides(PHI, radii(bent, np.zeros(1))[:, 0], radii(bent, PHI), radii(bent, -PHI), whole)
    design = np.stack([sides.effect[holed], (sides.effect * ALONG[:, None])[holed]], axis=1)
    seen = np.linalg.lstsq(design, sides.difference[holed], rcond=None)[0]
    assert abs(found[1] - true[1]) < 0.5 * abs(seen[1] - true[1])
    assert np.degrees(np.arctan((found[1] - true[1]) / LENGTH_MM)) == pytest.approx(0.0, abs=0.1)
