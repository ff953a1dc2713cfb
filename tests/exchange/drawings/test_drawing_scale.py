"""Lengths on paper against true lengths: a picture that looks right may still be at the wrong scale."""

import io

import numpy as np
import pypdf
import pytest

from exchange.drawings.svg import paths_mm, root_of, size_mm
from exchange.hand_made import scene
from saddlebench.exchange.drawings import SectionPlace, as_pdf, plan, sections, side
from saddlebench.exchange.drawings.geometry import lattice, underside

# SVG coordinates are written with six decimals of a point: 4e-7 mm; the rest is float rounding.
ON_PAPER_MM = 1e-4
PLACE = SectionPlace(name="waist", s_mm=180.0)


@pytest.mark.parametrize("width_mm", [103.0, 180.0])
@pytest.mark.parametrize("make", [sections, plan, side])
def test_scale_bar_is_as_long_as_it_says(make, width_mm):
    drawing = make(scene(), width_mm=width_mm)
    root = root_of(drawing)
    gids = {g.get("id") for g in root.iter() if (g.get("id") or "").startswith("scale-bar-line-")}
    bars = [line for gid in gids for line in paths_mm(root, gid)]
    assert len(bars) >= 1
    for bar in bars:
        assert np.ptp(bar[:, 0]) == pytest.approx(100.0 * drawing.scale, abs=ON_PAPER_MM)
        assert np.ptp(bar[:, 1]) == pytest.approx(0.0, abs=ON_PAPER_MM)


@pytest.mark.parametrize("gid_and_side", [("underside-near", 1), ("underside-off", -1)])
def test_a_panel_in_section_has_its_true_width_and_height(gid_and_side):
    gid, which = gid_and_side
    made = scene()
    drawing = sections(made, [PLACE])
    (line,) = paths_mm(root_of(drawing), gid)
    cut = underside(made, which, PLACE.s_mm)
    assert np.ptp(line[:, 0]) == pytest.approx(np.ptp(cut.y) * drawing.scale, abs=ON_PAPER_MM)
    assert np.ptp(line[:, 1]) == pytest.approx(np.ptp(cut.z) * drawing.scale, abs=ON_PAPER_MM)


def test_a_section_is_seen_from_behind_with_the_near_side_on_the_left():
    root = root_of(sections(scene(), [PLACE]))
    (near,), (off,) = paths_mm(root, "underside-near"), paths_mm(root, "underside-off")
    assert near[:, 0].max() < off[:, 0].min()
    # The outer edges lie below the inner ones: up is up.
    assert near[np.argmin(near[:, 0]), 1] > near[np.argmax(near[:, 0]), 1]


def test_the_plan_has_the_head_up_the_near_side_left_and_true_lengths():
    made = scene()
    drawing = plan(made, width_mm=180.0)
    root = root_of(drawing)
    near, off = paths_mm(root, "panel-near-inner")[0], paths_mm(root, "panel-off-inner")[0]
    assert near[:, 0].max() < off[:, 0].min()
    # Rows run from the front; on paper, down is positive.
    assert near[0, 1] < near[-1, 1]
    true = lattice(made, 1).points[:, 0]
    assert np.ptp(near[:, 1]) == pytest.approx(np.ptp(true[:, 0]) * drawing.scale, abs=ON_PAPER_MM)


def test_the_side_view_has_the_head_to_the_left():
    drawing = side(scene())
    axes = drawing.figure.axes[0]
    low, high = axes.get_xlim()
    words = {text.get_text(): text.get_position()[0] for text in axes.texts}
    assert low < words["withers"] < words["lowest point"] < words["last rib"] < high


@pytest.mark.parametrize("make", [sections, plan, side])
def test_svg_and_pdf_state_the_sheet_size_in_true_millimetres(make):
    drawing = make(scene(), width_mm=180.0)
    width, height = size_mm(root_of(drawing))
    assert width == pytest.approx(180.0, abs=ON_PAPER_MM)
    (page,) = pypdf.PdfReader(io.BytesIO(as_pdf(drawing))).pages
    # PDF boxes are written to a thousandth of a point or finer.
    assert float(page.mediabox.width) / 72.0 * 25.4 == pytest.approx(width, abs=1e-3)
    assert float(page.mediabox.height) / 72.0 * 25.4 == pytest.approx(height, abs=1e-3)
