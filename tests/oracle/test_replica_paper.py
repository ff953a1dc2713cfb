"""Templates measured back from what is printed and cut, by libraries that had no part in making them.

PDF: parsed by pikepdf (content streams) and rasterised by pypdfium2; DXF: ezdxf, audited; SVG: svgelements.
The reference is the surface's own spline, evaluated where the drawing says the skin is.
"""

import dataclasses
import datetime as dt
import io
import re
from dataclasses import dataclass

import ezdxf
import numpy as np
import pikepdf
import pypdf
import pypdfium2
import pytest
from ezdxf import recover
from svgelements import SVG, Path

from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.curves import heights_at
from saddlebench.engine.replica.templates import Form, Template, template_set
from saddlebench.exchange.planar import as_dxf, planar_svg
from saddlebench.exchange.templates import (
    PAPERS,
    PrintScale,
    TemplateNames,
    print_scale_from,
    template_drawing,
)
from saddlebench.report.replica.templates import template_pdf
from support.rebuilt import back_of, off_surface

NAMES = TemplateNames(label="Bramble (invented)", measured_on=dt.date(2026, 5, 14))
MM = 72.0 / 25.4
AGREE_MM = 0.2
PLACE = 190.0
NUMERIC = ("cm", "w", "m", "l", "c")
SKIN_MM, MARK_MM, BAR_MM = 0.35, 0.12, 0.2


def templates(form: Form, *, topline: bool, thickness_mm: float = 0.0) -> tuple[Template, ...]:
    made = template_set(
        back_of().estimated, (PLACE,), forms=(form,), thickness_mm=thickness_mm, topline=topline
    )
    return made[1:] if topline else made


@dataclass(frozen=True)
class Line:
    width_mm: float
    points: FloatArray
    """(n, 2) float, from the sheet's upper left, y down [mm]."""


def lines_of(page: pikepdf.Page) -> list[Line]:
    """Return every stroked line of a page in mm; the typesetter writes straight lines only."""
    height = float(page.mediabox[3])
    matrix, width = np.eye(3), 1.0
    stack: list[tuple[FloatArray, float]] = []
    runs: list[list[tuple[float, float]]] = []
    found: list[Line] = []
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        numbers = [float(one) for one in operands] if name in NUMERIC else []
        match name:
            case "q":
                stack.append((matrix, width))
            case "Q":
                matrix, width = stack.pop()
            case "cm":
                a, b, c, d, e, f = numbers
                matrix = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ matrix
            case "w":
                width = numbers[0]
            case "m":
                runs.append([(numbers[0], numbers[1])])
            case "l" | "c":
                runs[-1].append((numbers[-2], numbers[-1]))
            case "S" | "s":
                found += [stroked(run, matrix, width, height) for run in runs]
                runs = []
            case "n" | "f" | "f*" | "B":
                runs = []
    return found


def stroked(run: list[tuple[float, float]], matrix: FloatArray, width: float, height: float) -> Line:
    scale = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    places = np.column_stack([np.array(run), np.ones(len(run))]) @ matrix
    own = np.stack([places[:, 0], height - places[:, 1]], axis=1) / MM
    return Line(width_mm=width * scale / MM, points=own)


def with_width(lines: list[Line], width_mm: float) -> list[FloatArray]:
    return [line.points for line in lines if abs(line.width_mm - width_mm) < 0.004]


def crosses(lines: list[Line]) -> FloatArray:
    """Return the centres of the registration marks, (n, 2) float [mm]: where two short lines cross."""
    flat, plumb = [], []
    for points in with_width(lines, MARK_MM):
        span = np.ptp(points, axis=0)
        if span[1] < 0.01 and abs(span[0] - 8.0) < 0.05:
            flat.append(points.mean(axis=0))
        elif span[0] < 0.01 and abs(span[1] - 8.0) < 0.05:
            plumb.append(points.mean(axis=0))
    return np.array([one for one in flat if any(np.hypot(*(one - other)) < 0.02 for other in plumb)]).reshape(
        -1, 2
    )


def bars(lines: list[Line]) -> tuple[float, float]:
    """Return the lengths of the bars across and down [mm]."""
    spans = np.array([np.ptp(points, axis=0) for points in with_width(lines, BAR_MM)])
    return float(spans[:, 0].max()), float(spans[:, 1].max())


def joined(pdf: bytes) -> tuple[FloatArray, int]:
    """Lay all sheets together by their registration marks alone; return the skin's points and the count.

    Two sheets are neighbours where at least two of their marks lie apart by one and the same shift.
    """
    with pikepdf.open(io.BytesIO(pdf)) as document:
        pages = [lines_of(page) for page in document.pages]
    marks = [crosses(lines) for lines in pages]
    names = [mark_names(pdf, k) for k in range(len(pages))]
    placed: dict[int, FloatArray] = {0: np.zeros(2)}
    while len(placed) < len(pages):
        before = len(placed)
        for k in set(range(len(pages))) - set(placed):
            for j in list(placed):
                shared = set(names[k]) & set(names[j])
                if len(shared) >= 2:
                    shifts = np.array(
                        [nearest(marks[j], names[j][n]) - nearest(marks[k], names[k][n]) for n in shared]
                    )
                    assert np.abs(shifts - shifts.mean(axis=0)).max() < 0.02
                    placed[k] = placed[j] + shifts.mean(axis=0)
                    break
        assert len(placed) > before, "a sheet shares no two marks with any other"
    skin = [points + placed[k] for k, lines in enumerate(pages) for points in with_width(lines, SKIN_MM)]
    return np.concatenate(skin), len(pages)


def mark_names(pdf: bytes, page: int) -> dict[str, FloatArray]:
    """Return where the marks' names are printed on a page, read by pypdf, from the upper left [mm]."""
    found: dict[str, FloatArray] = {}
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    height = float(reader.pages[page].mediabox.height)

    def seen(text: str, cm: list[float], tm: list[float], _font: object, _size: object) -> None:
        for name in re.findall(r"[ST]\d*[-·]\S*\d+|[ST]-?·\d+", text):
            at = np.array([tm[4], tm[5], 1.0]) @ np.array(
                [[cm[0], cm[1], 0], [cm[2], cm[3], 0], [cm[4], cm[5], 1.0]]
            )
            found[name] = np.array([at[0], height - at[1]]) / MM

    reader.pages[page].extract_text(visitor_text=seen)
    return {name: at for name, at in found.items() if "·" in name}


def nearest(marks: FloatArray, at: FloatArray) -> FloatArray:
    """Return the mark nearest to where its name is printed."""
    return marks[int(np.argmin(np.hypot(*(marks - at).T)))]


def section_off(skin: FloatArray, s_mm: float = PLACE) -> FloatArray:
    """Return how far skin points (x to the right, y down) lie off the surface, shifted as one to lie best."""
    shift = np.zeros(2)
    x, y = skin[:, 0], -skin[:, 1]
    top = float(heights_at(back_of().estimated.surface, np.array([s_mm]), np.zeros(1))[0])
    high = int(np.argmax(y))
    shift = np.array([-x[high], top - y[high]])
    for _ in range(25):
        points = np.stack([-(x + shift[0]), y + shift[1]], axis=1)
        off = off_surface(back_of(), np.full(len(x), s_mm), points)
        steps = np.stack(
            [
                (off_surface(back_of(), np.full(len(x), s_mm), points + np.array(move)) - off) / 0.01
                for move in ([-0.01, 0.0], [0.0, 0.01])
            ],
            axis=1,
        )
        shift = shift - np.linalg.lstsq(steps, off, rcond=None)[0]
    points = np.stack([-(x + shift[0]), y + shift[1]], axis=1)
    return off_surface(back_of(), np.full(len(x), s_mm), points)


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
def test_sheets_joined_by_their_marks_give_the_whole_section(paper: str) -> None:
    pdf = template_pdf(templates(Form.HOLLOW, topline=False), NAMES, PAPERS[paper])
    skin, n_sheets = joined(pdf)
    assert n_sheets >= 2
    width = np.ptp(skin[:, 0])
    assert width > 380.0
    assert np.abs(section_off(skin)).max() < AGREE_MM


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
def test_pages_are_exactly_the_papers_size(paper: str) -> None:
    pdf = template_pdf(templates(Form.FULL, topline=True), NAMES, PAPERS[paper])
    expected = sorted((PAPERS[paper].width_mm, PAPERS[paper].height_mm))
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        size = sorted((float(page.mediabox.width) / MM, float(page.mediabox.height) / MM))
        assert np.abs(np.array(size) - expected).max() < 0.01


def test_every_sheet_carries_two_bars_at_right_angles_and_says_the_scale_is_not_checked() -> None:
    pdf = template_pdf(templates(Form.HOLLOW, topline=False), NAMES, PAPERS["a4"])
    with pikepdf.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            across, down = bars(lines_of(page))
            assert across == pytest.approx(100.0, abs=0.02)
            assert down == pytest.approx(100.0, abs=0.02)
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        words = page.extract_text()
        assert "Scale not checked" in words
        assert "100 mm" in words


def test_a_printer_that_stretches_unevenly_is_corrected_in_both_directions() -> None:
    """Such a printer draws the sheet stretched by what was measured on it: the bars are 100 mm again."""
    scale = print_scale_from(98.5, 101.2)
    made = templates(Form.HOLLOW, topline=False)
    pdf = template_pdf(made, NAMES, PAPERS["a3"], scale)
    with pikepdf.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            across, down = bars(lines_of(page))
            assert across * 0.985 == pytest.approx(100.0, abs=0.02)
            assert down * 1.012 == pytest.approx(100.0, abs=0.02)
    skin, _ = joined(pdf)
    assert np.abs(section_off(skin * np.array([0.985, 1.012]))).max() < AGREE_MM
    assert "Scale not checked" not in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


def test_the_topline_rasterised_lies_on_the_surface() -> None:
    """One A3 sheet at 300 dots an inch: the middle of the black line in each column, by eye of a renderer."""
    pdf = template_pdf(templates(Form.FULL, topline=True), NAMES, PAPERS["a3"], PrintScale())
    with pikepdf.open(io.BytesIO(pdf)) as parsed:
        lines = lines_of(parsed.pages[0])
    (line,) = with_width(lines, SKIN_MM)[:1]
    document = pypdfium2.PdfDocument(pdf)
    dots = 300.0 / 25.4
    picture = np.asarray(document[0].render(scale=300.0 / 72.0, grayscale=True).to_numpy()).squeeze()
    document.close()
    inside = line[(line[:, 0] > line[:, 0].min() + 40.0) & (line[:, 0] < line[:, 0].max() - 20.0)]
    checked = []
    for x, y in inside[:: max(1, len(inside) // 60)]:
        column = picture[int((y - 1.2) * dots) : int((y + 1.2) * dots), int(x * dots)].astype(float)
        dark = np.flatnonzero(column < 90)
        if len(dark):
            checked.append((x, (int((y - 1.2) * dots) + dark.mean() + 0.5) / dots))
    seen = np.array(checked)
    assert len(seen) > 30
    # Where along the back the sheet begins is read off the picture's own left end of the line.
    surface = back_of().estimated.surface
    s = seen[:, 0] - line[0, 0] + float(back_of().estimated.support.s_mm[0])
    z = heights_at(surface, s, np.zeros_like(s))
    off = -seen[:, 1] - z
    assert np.ptp(off) < 2 * AGREE_MM
    assert np.std(off) < 0.5 * AGREE_MM


def dxf_lines(content: bytes, layer: str) -> list[FloatArray]:
    document, auditor = recover.read(io.BytesIO(content))
    assert not auditor.has_errors
    assert document.header["$INSUNITS"] == ezdxf.units.MM
    return [
        np.array([point[:2] for point in line.get_points()])
        for line in document.modelspace().query("LWPOLYLINE")
        if line.dxf.layer == layer
    ]


def svg_lines(text: str, layer: str) -> tuple[list[FloatArray], float, float]:
    """Return lines in mm, and the page's width and height [mm], at one dot to the millimetre."""
    drawing = SVG.parse(io.StringIO(text), ppi=25.4)
    found = []
    for element in drawing.elements(lambda one: isinstance(one, Path)):
        group = element.values.get("id") or ""
        held = element.values.get("attributes", {})
        if (
            layer in (group, held.get("id", ""))
            or element.values.get("stroke-width") == {"SKIN": "0.35"}[layer]
        ):
            points = [element.first_point, *(segment.end for segment in element if segment.end is not None)]
            found.append(np.array([[p.x, p.y] for p in points]))
    return found, float(drawing.width), float(drawing.height)


@pytest.mark.parametrize("form", list(Form))
def test_dxf_and_svg_agree_with_the_surface(form: Form) -> None:
    (made,) = templates(form, topline=False)
    drawing = template_drawing(made, NAMES)
    (skin,) = dxf_lines(as_dxf(drawing), "SKIN")
    points = np.stack([-skin[:, 0], skin[:, 1]], axis=1)
    assert np.abs(off_surface(back_of(), np.full(len(points), PLACE), points)).max() < AGREE_MM

    lines, width, height = svg_lines(planar_svg(drawing), "SKIN")
    left, low, right, high = drawing.bounds()
    assert (width, height) == pytest.approx((right - left, high - low), abs=0.01)
    (skin,) = lines
    assert np.abs(section_off(skin)).max() < AGREE_MM


def test_a_thick_sheet_clears_the_back_when_hollow_and_never_overtops_it_when_full() -> None:
    """Both faces of a sheet 8 mm thick, 3 mm of slope across it: against the surface at each face."""
    thick = 8.0
    for form, sign in ((Form.HOLLOW, 1.0), (Form.FULL, -1.0)):
        made = template_set(back_of().estimated, (-40.0,), forms=(form,), thickness_mm=thick, topline=False)[
            0
        ]
        (skin,) = dxf_lines(as_dxf(template_drawing(made, NAMES)), "SKIN")
        points = np.stack([-skin[:, 0], skin[:, 1]], axis=1)
        across = np.stack(
            [
                sign * off_surface(back_of(), np.full(len(points), -40.0 + share * thick), points)
                for share in np.linspace(-0.5, 0.5, 21)
            ]
        )
        assert across.min() > -0.02
        assert across.min(axis=0).max() < AGREE_MM
        assert across.max() > 0.5


def test_what_was_not_measured_is_not_drawn() -> None:
    """A gap between stations is a dashed line, never skin; ends are named."""
    estimated = back_of().estimated
    support = estimated.support
    holed = dataclasses.replace(support, gap_mm=70.0, near_mm=5.0)
    (made,) = template_set(
        dataclasses.replace(estimated, support=holed), (PLACE,), forms=(Form.HOLLOW,), topline=True
    )[1:]
    drawing = template_drawing(made, NAMES)
    skin = dxf_lines(as_dxf(drawing), "SKIN")
    gaps = dxf_lines(as_dxf(drawing), "NOT_MEASURED")
    assert len(gaps) == len(skin) - 1 >= 1
    places = np.concatenate(skin)[:, 0]
    for gap in gaps:
        assert not np.any((places > gap[0, 0] + 0.1) & (places < gap[1, 0] - 0.1))
    assert {end.name for end in made.ends} == {"not measured in front", "not measured behind"}
    assert any(label.words == "not measured" for label in drawing.labels)
