"""One picture of a fit check: the back with the pressures on it, three sections, the worst findings."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from saddlebench.engine.errors import is_known
from saddlebench.engine.fit.findings import Finding
from saddlebench.engine.frames import FloatArray
from saddlebench.exchange import phrases
from saddlebench.exchange.drawings import ink
from saddlebench.exchange.drawings.findings import VERDICT_COLOURS, verdict_badge
from saddlebench.exchange.drawings.geometry import lattice, saddle_reach
from saddlebench.exchange.drawings.oblique import (
    View,
    back_facets,
    draw_facets,
    draw_line,
    draw_on_skin,
    pressure_colours,
)
from saddlebench.exchange.drawings.plan import PRESSURE
from saddlebench.exchange.drawings.scene import Scene
from saddlebench.exchange.drawings.section import ROW_PLACES, SectionPlace, draw_section, key_places
from saddlebench.exchange.drawings.sheet import PAGE_WIDTH_MM, Drawing, Sheet, drawing_style
from saddlebench.exchange.vocabulary import said

WIDTH_MM, HEIGHT_MM = 250.0, 172.0
MARGIN_MM = 6.0
SECTION_SCALE = 1 / 6
SECTION_BOX_MM = (74.0, 54.0)
VIEW = View.from_angles(17.0, 55.0)
PHI_LIMIT = np.deg2rad(76.0)
N_WORST = 3
LEAST_FOR_ONE_LINE_MM = 130.0
"""Narrower, the colour key and the note on the view stand on lines of their own."""


def overview(scene: Scene, findings: Sequence[Finding] = ()) -> Drawing:
    """Return the overview picture: an oblique view coloured by pressure, key sections, the worst findings.

    Parameters
    ----------
    scene
        The back, the saddle, and how it sits.
    findings
        As judged; the worst three are written out.
    """
    worst = phrases.sorted_worst_first(findings)[:N_WORST]
    chosen = _three(key_places(scene))
    left_width = WIDTH_MM - 3 * MARGIN_MM - SECTION_BOX_MM[0]
    with drawing_style():
        sheet = Sheet(WIDTH_MM, HEIGHT_MM)
        sheet.text(MARGIN_MM, 9.5, scene.saddle.label, size=13.0, weight="bold", room=left_width)
        sheet.text(MARGIN_MM, 15.0, f"{said('on')} {scene.back_label}", size=ink.HEADING_PT, room=left_width)
        sheet.text(MARGIN_MM, 19.4, scene.state, color=ink.SOFT, size=ink.HEADING_PT, room=left_width)
        picture_height = 99.0
        _oblique_picture(sheet, scene, chosen, (MARGIN_MM, 21.0, left_width, picture_height))
        for k, finding in enumerate(worst):
            width = (left_width - 2 * MARGIN_MM) / N_WORST
            _finding_card(sheet, finding, MARGIN_MM + k * (width + MARGIN_MM), 134.0, width)
        left = WIDTH_MM - MARGIN_MM - SECTION_BOX_MM[0]
        for k, (letter, place) in enumerate(zip("ABC", chosen, strict=False)):
            named = SectionPlace(name=f"{letter}  {said(place.name)}", s_mm=place.s_mm)
            draw_section(sheet, scene, named, (left, 4.0 + k * 55.5, *SECTION_BOX_MM), scale=SECTION_SCALE)
    findings_said = " ".join(phrases.sentence_of(finding) for finding in worst)
    shown = said("The back from the near side, pressure under both panels; three sections.")
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Fit check')}: {scene.pair}, {scene.state}",
        description=f"{shown} {findings_said}",
        scale=None,
    )


def back_view(scene: Scene, *, width_mm: float = PAGE_WIDTH_MM) -> Drawing:
    """Return the oblique view alone, coloured by pressure, 45 % as high as it is wide.

    Parameters
    ----------
    scene
        The back, the saddle, and how it sits.
    width_mm
        Paper width [mm].
    """
    picture_height = 0.45 * width_mm
    with drawing_style():
        sheet = Sheet(width_mm, picture_height + (9.0 if width_mm >= LEAST_FOR_ONE_LINE_MM else 12.5))
        _oblique_picture(sheet, scene, _three(key_places(scene)), (2.0, 0.0, width_mm - 4.0, picture_height))
    return Drawing(
        figure=sheet.figure,
        title=f"{said('Pressure on the back')}: {scene.pair}, {scene.state}",
        description=said(
            "From the near side and above, head to the left; pressure under both panels by shade."
        ),
        scale=None,
    )


def _oblique_picture(
    sheet: Sheet, scene: Scene, places: Sequence[SectionPlace], box: tuple[float, float, float, float]
) -> None:
    left, top, width, height = box
    axes = sheet.axes(left, top, width, height)
    axes.set_gid("oblique")
    _draw_oblique(axes, scene, places, width / height)
    _pressure_key(sheet, left, top + height)
    is_narrow = width < LEAST_FOR_ONE_LINE_MM - 4.0
    sheet.text(
        left + width,
        top + height + (10.4 if is_narrow else 6.2),
        said("near side towards you, head to the left; A, B, C: sections"),
        ha="right",
        color=ink.SOFT,
    )


def _three(places: Sequence[SectionPlace]) -> tuple[SectionPlace, ...]:
    return tuple(place for place in places if place.name in ROW_PLACES)


def _draw_oblique(axes: Axes, scene: Scene, places: Sequence[SectionPlace], aspect: float) -> None:
    front, rear = saddle_reach(scene)
    marks = scene.landmarks
    first = marks.withers.value_mm - 50.0 if is_known(marks.withers) else front - 140.0
    last = marks.last_rib.value_mm + 60.0 if is_known(marks.last_rib) else rear + 120.0
    skin = back_facets(scene, (min(first, front - 40.0), max(last, rear + 40.0)), PHI_LIMIT)
    draw_facets(axes, VIEW, skin)
    above = _saddle_lines(scene)
    _fit(axes, VIEW.flat(np.concatenate([skin.corners.reshape(-1, 3), *above])), aspect)
    phi = np.linspace(-PHI_LIMIT, PHI_LIMIT, 90)
    for letter, place in zip("ABC", places, strict=False):
        at = np.full(phi.size, place.s_mm)
        draw_on_skin(axes, VIEW, scene.surface, at, phi, lw=0.9, ls=(0, (5, 2)))
        foot = _on_skin(scene, place.s_mm, PHI_LIMIT)
        axes.text(
            foot[0],
            foot[1] - 6.0,
            letter,
            ha="center",
            va="top",
            size=ink.HEADING_PT,
            weight="bold",
            zorder=5,
        )
    for side in (1, -1):
        _outline(axes, scene, side)
    _draw_marks(axes, scene)
    for line in above:
        draw_line(axes, VIEW, line, lw=1.8, zorder=6)


def _saddle_lines(scene: Scene) -> tuple[FloatArray, FloatArray]:
    seat = scene.saddle.seat
    line = np.column_stack([seat.x_mm, np.zeros(seat.x_mm.size), seat.z_mm])
    move = scene.settled.saddle_to_back
    return move.points(line), move.points(scene.saddle.arch_saddle)


def _on_skin(scene: Scene, s_mm: float, phi: float) -> FloatArray:
    s, angle = np.array([s_mm]), np.array([phi])
    surface = scene.surface
    return VIEW.flat(surface.grid.cartesian(s, angle, surface.spline.radius(s, angle)[:, 0]))[0]


def _fit(axes: Axes, flat: FloatArray, aspect: float) -> None:
    low, high = flat.min(axis=0), flat.max(axis=0)
    centre, size = (low + high) / 2, (high - low) * 1.06
    size = np.maximum(size, [size[1] * aspect, size[0] / aspect])
    axes.set_xlim(centre[0] - size[0] / 2, centre[0] + size[0] / 2)
    axes.set_ylim(centre[1] - size[1] / 2, centre[1] + size[1] / 2)


def _outline(axes: Axes, scene: Scene, side: int) -> None:
    points = lattice(scene, side).points
    ring = np.concatenate([points[0], points[1:, -1], points[-1, -2::-1], points[-2::-1, 0]])
    s, phi, _ = scene.surface.grid.polar(ring)
    draw_on_skin(axes, VIEW, scene.surface, s, phi, lw=1.0, zorder=2)


def _draw_marks(axes: Axes, scene: Scene) -> None:
    named = (("last rib", scene.landmarks.last_rib), ("withers", scene.landmarks.withers))
    for name, mark in named:
        if not is_known(mark):
            continue
        flat = _on_skin(scene, mark.value_mm, 0.0)
        axes.plot(flat[0], flat[1] + 5.0, marker="v", ms=4.0, color=ink.INK, zorder=7)
        axes.text(flat[0], flat[1] + 14.0, said(name), ha="center", va="bottom", size=ink.TEXT_PT, zorder=7)


def _pressure_key(sheet: Sheet, left: float, top: float) -> None:
    axes = sheet.axes(left, top, 60.0, 3.0)
    highest = PRESSURE.levels[-2]
    ramp = pressure_colours(np.linspace(0.0, highest, 240))
    axes.imshow(ramp[None, :, :], extent=(0.0, highest, 0.0, 1.0), aspect="auto", interpolation="nearest")
    for spine in axes.spines.values():
        spine.set_visible(True)
    sheet.text(left, top - 1.4, said("Pressure under the panels, kPa"), weight="bold")
    for level in (0.0, *PRESSURE.levels[1:-1]):
        words = f"{level:g}+" if level == highest else f"{level:g}"
        sheet.text(left + 60.0 * level / highest, top + 6.2, words, ha="center")


def _finding_card(sheet: Sheet, finding: Finding, left: float, top: float, width: float) -> None:
    sheet.box(left, top, width, 0.6, facecolor=VERDICT_COLOURS[finding.verdict])
    verdict_badge(sheet, finding.verdict, left, top + 2.4, 24.0)
    sheet.text(left + 27.0, top + 5.5, phrases.number_of(finding.decided_by.measure), weight="bold")
    title = phrases.title_of(finding)
    base = top + 11.6
    base += 3.8 * sheet.paragraph(left, base, title, room=width, n_lines=2, weight="bold") + 0.6
    lines = (
        phrases.limits_of(finding.decided_by.limit),
        phrases.remark_of(finding),
        phrases.agreement_of(finding),
    )
    for words in lines:
        base += 3.8 * sheet.paragraph(left, base, words, room=width, n_lines=2, color=ink.SOFT)
