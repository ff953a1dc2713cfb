"""Photos of trace sheets read back: a fixed sample of the benchmark, and the sheet as it is truly printed.

The renderer’s camera is a pinhole with one term of radial distortion; the printed sheet comes from the PDF,
rasterised by pdfium, so nothing here trusts the layout twice.
"""

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image, ImageDraw

from saddlebench.demo.photographed import PenLine, Picture, Scene, camera_of, photographed, printed, seen_by
from saddlebench.demo.tracing_cases import NEVER_MM, RMS_MM, WORST_MM, answer_of, case_of, off_of
from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.sheets.layout import MARGIN_MM, SheetKind, SheetLayout, layout_of
from saddlebench.exchange.tracings.photo_file import read_photo, upright_pictures
from saddlebench.exchange.tracings.read import read_sheet
from saddlebench.exchange.tracings.sheet_read import Asked, Frame, KnownLength
from saddlebench.report.trace_sheet import trace_sheet_pdf


def _curve(reach: float = 200.0, drop: float = 0.0) -> PenLine:
    x = np.linspace(-reach, reach, 400)
    return PenLine(points=np.column_stack([x, -0.0028 * x**2 - drop]))


@pytest.mark.parametrize("seed", [0, 3, 5])
def test_curves_come_back_within_half_a_millimetre_at_30_degrees(seed: int) -> None:
    answer = answer_of(case_of(seed))
    assert answer.said == ""
    assert answer.lost == 0
    assert answer.rms_mm <= RMS_MM
    assert answer.worst_mm <= WORST_MM


@pytest.mark.parametrize("seed", [7, 17])
def test_hard_photos_are_refused_or_right(seed: int) -> None:
    answer = answer_of(case_of(seed))
    assert answer.said or answer.worst_mm <= NEVER_MM


@pytest.mark.parametrize("kind", [SheetKind.SECTIONS])
def test_the_printed_pdf_drawn_on_and_photographed_reads_back(kind: SheetKind) -> None:
    layout = layout_of(kind, "a3", 1)
    dots = 6.0
    document = pypdfium2.PdfDocument(trace_sheet_pdf(layout))
    page = document[0].render(scale=dots * 25.4 / 72.0).to_pil().convert("RGB")
    document.close()
    assert page.width == pytest.approx(layout.width_mm * dots, abs=2)
    line = _curve(160.0)
    upper_left = np.array([layout.left_mm - MARGIN_MM, layout.top_mm + MARGIN_MM])
    at = (line.points - upper_left) * (dots, -dots)
    ImageDraw.Draw(page).line([tuple(one) for one in at.tolist()], fill=(30, 30, 60), width=5)
    photo = seen_by(np.asarray(page), layout, Scene(tilt_deg=30.0, toward_deg=70.0, seed=4))
    read = read_sheet(photo)
    off = off_of(read.curves[0], line, layout)
    assert np.sqrt((off**2).mean()) <= RMS_MM
    assert off.max() <= WORST_MM
    assert read.scale.source == "the paper’s edges"
    assert read.scale.across == pytest.approx(1.0, abs=0.003)


@pytest.mark.parametrize("size", [0.97, 0.94, 0.925])
def test_a_smaller_print_is_found_by_the_papers_edges_and_put_right(size: float) -> None:
    layout = layout_of(SheetKind.SECTIONS, "a3", 1)
    line = _curve(160.0)
    scene = Scene(tilt_deg=20.0, toward_deg=30.0, print_scale=(size, size))
    read = read_sheet(photographed(layout, [line], scene))
    assert read.scale.across == pytest.approx(size, abs=0.003)
    assert read.scale.down == pytest.approx(size, abs=0.003)
    assert off_of(read.curves[0], line, layout).max() <= WORST_MM
    assert any("printed at 9" in one.what for one in read.remarks)


def test_without_a_seen_edge_the_scale_is_not_trusted_and_a_measured_ruler_settles_it() -> None:
    layout = layout_of(SheetKind.SECTIONS, "a3", 1)
    scene = Scene(print_scale=(0.97, 0.97), table=246)
    photo = photographed(layout, [_curve(160.0)], scene)
    alone = read_sheet(photo)
    assert alone.scale.source == ""
    assert alone.scale.sd == 0.03
    ruled = read_sheet(photo, Asked(ruler_across_mm=97.0, ruler_down_mm=97.0))
    assert ruled.scale.sd < alone.scale.sd
    assert off_of(ruled.curves[0], _curve(160.0), layout).max() <= WORST_MM


def test_lines_that_cross_steeply_go_on_and_those_that_cross_flatly_end_there() -> None:
    """Of two lines at 22° each goes on as itself; of two at 8°, which is which beyond is not guessed."""
    layout = layout_of(SheetKind.SECTIONS, "a3", 2)
    x = np.linspace(-230.0, 230.0, 400)
    falls = PenLine(points=np.column_stack([x, -0.55 * np.abs(x)]))
    for slope, reach in ((0.15, 200.0), (0.41, 170.0)):
        other = PenLine(points=np.column_stack([x, (0.55 - slope) * -120.0 - slope * np.abs(x)]))
        read = read_sheet(photographed(layout, [falls, other], Scene(tilt_deg=10.0)))
        assert len(read.curves) == 2
        for curve, line in zip(read.curves, (falls, other), strict=True):
            assert off_of(curve, line, layout).max() <= WORST_MM
            ends = np.abs(curve.points[[0, -1], 0])
            assert (ends > reach).all() == (slope == 0.15)
        assert any("cannot be told" in one.what for one in read.remarks) == (slope == 0.41)


def test_a_line_that_ends_just_past_a_flat_crossing_does_not_run_on_along_the_other() -> None:
    """There the upper of three curves ends 5 mm past the one that it crosses at 10°."""
    answer = answer_of(case_of(128))
    assert answer.said == ""
    assert answer.lost == 0
    assert answer.worst_mm <= WORST_MM


def test_rings_ticks_and_a_broken_doubled_line_are_recognised() -> None:
    layout = layout_of(SheetKind.SECTIONS, "a3", 2)
    upper = _curve()
    lower = PenLine(points=_curve(190.0, 50.0).points, broken_mm=((90.0, 97.0),), doubled_mm=1.2)
    tick = PenLine(points=np.array([[4.0, 6.5], [4.0, -6.5]]))
    read = read_sheet(photographed(layout, [upper, lower, tick], Scene(tilt_deg=15.0, filled_rings=(2, 5))))
    assert read.stations == (2, 5)
    assert [curve.by_tick for curve in read.curves] == [True, False]
    moved = PenLine(points=upper.points - (4.0, upper.points[np.abs(upper.points[:, 0] - 4.0).argmin(), 1]))
    assert off_of(read.curves[0], PenLine(points=moved.points), _plain(layout)).max() <= 1.0
    assert read.curves[1].is_doubled
    assert not read.curves[1].seen.all()


def _plain(layout: SheetLayout) -> SheetLayout:
    """Return a layout whose curves are compared where they are."""
    return layout_of(SheetKind.TOPLINE, "a3", layout.tiles)


def test_four_corners_and_a_known_size_do_without_markers() -> None:
    layout = layout_of(SheetKind.SECTIONS, "a3", 1)
    paper = printed(layout, [_curve(150.0)], Scene())
    paper[: 36 * 6] = 246
    paper[-30 * 6 :] = 246
    paper[:, : 26 * 6] = 246
    paper[:, -26 * 6 :] = 246
    scene = Scene(tilt_deg=20.0, toward_deg=90.0)
    photo = seen_by(paper, layout, scene)
    with pytest.raises(InputProblemsError, match="square marks"):
        read_sheet(photo)
    corners = _paper_corners(layout, scene)
    middle = -(layout.left_mm - MARGIN_MM)
    frame = Frame(
        kind=SheetKind.SECTIONS,
        corners=corners,
        width_mm=layout.width_mm,
        height_mm=layout.height_mm,
        middle_mm=middle,
    )
    read = read_sheet(photo, Asked(frame=frame))
    assert off_of(read.curves[0], _curve(150.0), layout).max() <= WORST_MM
    assert read.curves[0].point_sd_mm > 0.5
    ends = camera_of(layout, scene).to_photo(np.array([[-120.0, -130.0], [120.0, -120.0]]))
    (x, y), (u, v) = ends.tolist()
    length = KnownLength(start=(x, y), end=(u, v), mm=float(np.hypot(240.0, 10.0)))
    by_length = read_sheet(photo, Asked(frame=replace(frame, width_mm=None, height_mm=None, length=length)))
    assert off_of(by_length.curves[0], _curve(150.0), layout).max() <= NEVER_MM
    assert 0.003 < by_length.scale.sd < 0.05
    agreed = read_sheet(photo, Asked(frame=replace(frame, length=length)))
    assert "agrees" in agreed.scale.source
    with pytest.raises(InputProblemsError, match="by the paper’s size"):
        read_sheet(photo, Asked(frame=replace(frame, length=replace(length, mm=260.0))))
    with pytest.raises(InputProblemsError, match="how large the paper is"):
        read_sheet(photo, Asked(frame=replace(frame, width_mm=None, height_mm=None)))
    with pytest.raises(InputProblemsError, match="make no sheet"):
        read_sheet(photo, Asked(frame=replace(frame, corners=corners[::-1])))


def _paper_corners(layout: SheetLayout, scene: Scene) -> tuple[tuple[float, float], ...]:
    left, right = layout.left_mm - MARGIN_MM, layout.right_mm + MARGIN_MM
    top, low = layout.top_mm + MARGIN_MM, layout.low_mm - MARGIN_MM
    places = np.array([(left, top), (right, top), (right, low), (left, low)])
    return tuple((float(x), float(y)) for x, y in camera_of(layout, scene).to_photo(places))


def test_a_bulge_is_put_right_by_the_printed_grid() -> None:
    """Without the grid the same photo is wrong by what the paper bulges: 2.5 mm."""
    layout = layout_of(SheetKind.SECTIONS, "a4", 3)
    photo = photographed(layout, [_curve()], Scene(bulge_mm=2.5, quality=66, tilt_deg=12.0))
    read = read_sheet(photo)
    assert read.inside_mm == pytest.approx(1.9, abs=0.5)
    assert off_of(read.curves[0], _curve(), layout).max() <= 0.7


def test_a_blurred_photo_from_the_side_is_measured_by_all_its_marks() -> None:
    """Four of its marks cannot be read alone, so far and soft they are; they are found from the others."""
    answer = answer_of(case_of(114))
    assert answer.said == ""
    assert answer.worst_mm <= WORST_MM


def test_an_empty_sheet_and_a_bulging_one_are_refused() -> None:
    layout = layout_of(SheetKind.SECTIONS, "a3", 1)
    with pytest.raises(InputProblemsError, match="no line"):
        read_sheet(photographed(layout, [], Scene()))
    with pytest.raises(InputProblemsError, match="not flat"):
        read_sheet(photographed(layout, [_curve(150.0)], Scene(bulge_mm=4.5)))


def _saved(picture: Picture, path: Path) -> Path:
    Image.fromarray(picture).save(path, "JPEG", quality=90)
    return path


def test_files_are_read_apart_and_hostile_ones_refused(tmp_path: Path) -> None:
    layout = layout_of(SheetKind.SECTIONS, "a3", 1)
    good = _saved(photographed(layout, [_curve(150.0)], Scene(tilt_deg=10.0)), tmp_path / "good.jpg")
    read = read_photo(good)
    assert off_of(read.curves[0], _curve(150.0), layout).max() <= WORST_MM
    words = tmp_path / "words.jpg"
    words.write_bytes(b"no picture at all")
    bomb = tmp_path / "bomb.png"
    out = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(out, "PNG")
    bomb.write_bytes(out.getvalue())
    cut = tmp_path / "cut.jpg"
    cut.write_bytes(good.read_bytes()[:20_000])
    found = upright_pictures([good, words, bomb, cut])
    assert found[0].width_px == 1632  # type: ignore[union-attr]
    assert [getattr(one, "what", "") for one in found[1:]] == [
        "this is no picture that can be read",
        "the picture has more than 80 million dots",
        "the picture is broken",
    ]
    with pytest.raises(InputProblemsError, match="no picture"):
        read_photo(words)


def test_reading_ends_when_a_person_stops_it(tmp_path: Path) -> None:
    layout = layout_of(SheetKind.SECTIONS, "a3", 1)
    path = _saved(photographed(layout, [_curve(150.0)], Scene()), tmp_path / "one.jpg")

    class StoppedError(Exception):
        pass

    def stop(_done: int, _of: int, _doing: str) -> None:
        raise StoppedError

    with pytest.raises(StoppedError):
        read_photo(path, tell=stop)
