"""What the drawings show, in words, hatches and files."""

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Text

from exchange.drawings.svg import SVG, root_of
from exchange.hand_made import scene
from saddlebench.demo.shapes import PLAIN
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.fit.measures.cells import row_lengths
from saddlebench.exchange.drawings import (
    PAGE_WIDTH_MM,
    PHONE_WIDTH_MM,
    as_pdf,
    as_png,
    as_svg,
    line_load,
    plan,
    sections,
    side,
    write_drawing,
)
from saddlebench.exchange.drawings.geometry import centre_of_pressure, line_load_of
from saddlebench.exchange.drawings.ink import drawable, shortened
from saddlebench.exchange.drawings.line_load import open_stretches, third_shares
from saddlebench.exchange.drawings.plan import side_shares
from saddlebench.exchange.drawings.section import key_places
from saddlebench.exchange.drawings.side import tilt_deg
from saddlebench.exchange.whole_file import write_whole

MAKERS = [sections, plan, side, line_load]
WIDTHS = [PHONE_WIDTH_MM, PAGE_WIDTH_MM]
HOSTILE = "<script>&\"'$\\frac{1}{2}$ \u0000\u202eevil 日本 🐎 " + "very long " * 30


def texts_of(drawing):
    return [text for text in drawing.figure.findobj(Text) if text.get_text().strip() and text.get_visible()]


@pytest.mark.parametrize("width_mm", WIDTHS)
@pytest.mark.parametrize("make", MAKERS)
def test_words_are_large_enough_inside_the_sheet_and_do_not_overlap(make, width_mm):
    drawing = make(scene(), width_mm=width_mm)
    drawing.figure.draw_without_rendering()
    sheet = drawing.figure.bbox
    boxes = {}
    for text in texts_of(drawing):
        # 6.5 pt is 8.7 CSS pixels on a phone: the numbers on contour lines; all other words are larger.
        assert text.get_fontsize() >= 6.5
        box = text.get_window_extent()
        assert box.x0 >= sheet.x0 - 1.0, text
        assert box.x1 <= sheet.x1 + 1.0, text
        boxes[text] = box
    for (one, a), (other, b) in itertools.combinations(boxes.items(), 2):
        if re.fullmatch(r"[\d.]+", one.get_text()) or re.fullmatch(r"[\d.]+", other.get_text()):
            continue  # numbers on contour lines sit on their lines, wherever these run
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        along = min(a.y1, b.y1) - max(a.y0, b.y0)
        # A pixel of 1/200 inch of blank border may be shared.
        assert min(across, along) <= 2.0, (one.get_text(), other.get_text())


@pytest.mark.parametrize("make", MAKERS)
def test_svg_is_the_same_every_time_and_bears_title_and_description(make):
    first, second = make(scene()), make(scene())
    assert as_svg(first) == as_svg(second)
    root = root_of(first)
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title.text == first.title
    assert description.text == drawable(first.description)
    assert root.get("aria-labelledby").split() == [title.get("id"), description.get("id")]
    assert "202" not in re.sub(r"3 May 2026|[\d.]+", "", as_svg(first))


@pytest.mark.parametrize("make", MAKERS)
def test_hostile_names_are_shown_as_text_or_boxes_and_break_nothing(make):
    made = scene()
    drawing = make(replace(made, back_label=HOSTILE, saddle=replace(made.saddle, label=HOSTILE)))
    root = root_of(drawing)
    assert root.find(f"{SVG}title").text.count("<script>&") == 2
    assert not list(root.iter(f"{SVG}script"))
    assert as_png(drawing).startswith(b"\x89PNG")
    assert as_pdf(drawing).startswith(b"%PDF")
    sheet = drawing.figure.bbox
    assert all(text.get_window_extent().x1 <= sheet.x1 for text in drawing.figure.texts)


def test_text_the_font_has_not_got_becomes_a_box_and_long_text_is_cut():
    assert drawable("a\u0000b\u202e 🐎\n日 é") == "a▯b ▯ ▯ é"
    assert shortened("abcdef", 4) == "abc…"
    assert shortened("abcd", 4) == "abcd"


def hatched(drawing, hatch):
    return [
        artist
        for axes in drawing.figure.axes
        for artist in axes.collections
        if (getattr(artist, "hatches", None) or [artist.get_hatch()])[0] == hatch
    ]


def test_what_was_not_measured_is_hatched_and_named():
    made = scene()
    everywhere = replace(made, settled=replace(made.settled, measured=np.ones_like(made.settled.measured)))
    assert hatched(plan(made), "xxxx")
    assert not hatched(plan(everywhere), "xxxx")
    assert "not measured" in {text.get_text() for text in texts_of(plan(everywhere))}


def test_key_places_leave_out_marks_that_were_not_made():
    made = scene()
    names = [place.name for place in key_places(made)]
    assert names == ["Front arch", "Waist", "Lowest point", "Rear", "Last rib"]
    bare = replace(made, landmarks=Landmarks())
    assert [place.name for place in key_places(bare)] == ["Front arch", "Waist", "Rear"]
    for make in MAKERS:
        assert as_svg(make(bare)).startswith("<?xml")


def test_line_load_adds_up_to_the_load():
    made = scene(PLAIN)
    total = float((made.settled.pressure_kpa * made.saddle.bearing.area_mm2).sum()) * 1e-3
    summed = 0.0
    for which in (1, -1):
        s, load = line_load_of(made, which)
        summed += float((load * row_lengths(s)).sum())
    # The same sum in another order.
    assert summed == pytest.approx(total, rel=1e-12)


def test_shares_add_up_and_follow_the_load():
    made = scene()
    assert sum(third_shares(made)) == pytest.approx(1.0, abs=1e-12)
    near, off = side_shares(made)
    load = made.settled.pressure_kpa * made.saddle.bearing.area_mm2
    assert near == pytest.approx(load[made.saddle.bearing.points_saddle[:, 1] > 0].sum() / load.sum())
    assert near + off == pytest.approx(1.0, abs=1e-12)
    assert np.sign(near - off) == np.sign(centre_of_pressure(made)[1])


def test_a_bridge_is_an_open_stretch_between_rows_that_bear():
    made = scene()
    (stretch,) = open_stretches(made, 1)
    # The made-up underside is hollowed about the middle of its length (20 + 430/2 = 235 mm).
    assert stretch[0] < 235.0 < stretch[1]
    assert open_stretches(scene(press_mm=60.0), 1) == []


def test_no_load_is_drawn_without_centre_or_shares():
    unloaded = scene(press_mm=-40.0)
    assert centre_of_pressure(unloaded) is None
    assert side_shares(unloaded) == (0.0, 0.0)
    for make in MAKERS:
        assert as_svg(make(unloaded)).startswith("<?xml")


def test_tilt_is_positive_with_the_front_higher():
    # The hand-made saddle is turned by 0.9° about y, which lowers its front.
    assert tilt_deg(scene()) == pytest.approx(-0.9, abs=0.02)


@pytest.mark.parametrize("suffix", [".svg", ".png", ".pdf"])
def test_files_are_written_whole_beside_nothing_else(tmp_path, suffix):
    path = tmp_path / "new folder" / f"plan{suffix}"
    write_drawing(plan(scene()), path)
    assert [held.name for held in path.parent.iterdir()] == [path.name]
    assert path.stat().st_size > 5000


def test_another_ending_is_refused_with_the_endings_that_work(tmp_path):
    with pytest.raises(InputProblemsError, match=r"\.svg, \.png or \.pdf") as raised:
        write_drawing(plan(scene()), tmp_path / "plan.bmp")
    assert raised.value.problems[0].where.file.endswith("plan.bmp")
    assert list(tmp_path.iterdir()) == []


def test_a_write_that_fails_keeps_the_old_file_and_leaves_no_part(tmp_path):
    path = tmp_path / "kept.svg"
    path.write_bytes(b"old")
    with pytest.raises(TypeError):
        write_whole(path, "text, not bytes")
    assert path.read_bytes() == b"old"
    assert [held.name for held in tmp_path.iterdir()] == ["kept.svg"]
