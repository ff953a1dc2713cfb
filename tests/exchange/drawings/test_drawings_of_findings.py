"""The findings as a strip, the whole check in one picture, and drawings of a real study."""

import itertools
from dataclasses import replace

import pytest
from matplotlib.text import Text

from exchange.studies import study
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.fit.settled import Outcome, Position, Settlement
from saddlebench.engine.fit.verdicts import Verdict
from saddlebench.exchange import phrases
from saddlebench.exchange.drawings import (
    PAGE_WIDTH_MM,
    PHONE_WIDTH_MM,
    Scene,
    as_svg,
    back_view,
    findings_strip,
    line_load,
    overview,
    plan,
    section_row,
    sections,
    side,
)
from saddlebench.exchange.drawings.findings import VERDICT_COLOURS


def scene_of(state="halt"):
    return Scene.of_study(study(), state)


def words_of(drawing):
    drawing.figure.draw_without_rendering()
    return [text for text in drawing.figure.findobj(Text) if text.get_text().strip() and text.get_visible()]


def luminance(colour):
    """Return the relative luminance of a colour: W3C, WCAG 2.1, definition of relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("verdict", list(Verdict))
def test_white_words_on_a_verdicts_colour_are_legible(verdict):
    # WCAG 2.1, success criterion 1.4.3: a contrast of at least 4.5 to 1.
    assert 1.05 / (luminance(VERDICT_COLOURS[verdict]) + 0.05) >= 4.5


@pytest.mark.parametrize("width_mm", [PHONE_WIDTH_MM, PAGE_WIDTH_MM])
def test_every_finding_is_a_row_with_symbol_word_and_number_and_nothing_overlaps(width_mm):
    drawing = findings_strip(study().findings, pair="a on b", width_mm=width_mm)
    texts = words_of(drawing)
    words = [text.get_text() for text in texts]
    for verdict in Verdict:
        count = sum(finding.verdict is verdict for finding in study().findings)
        assert words.count(f"{phrases.SYMBOLS[verdict]} {verdict}") == count
    for finding in study().findings:
        assert phrases.number_of(finding.decided_by.measure) in words
        assert phrases.sentence_of(finding) in drawing.description
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts if text.get_fontsize() >= 7.0]
    for (one, a), (other, b) in itertools.combinations(boxes, 2):
        overlap = min(min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0))
        # Two pixels of 1/200 inch of a font's blank border may be shared.
        assert overlap <= 2.0, (one, other)


def test_the_overview_writes_the_three_worst_findings_and_stays_on_its_sheet():
    drawing = overview(scene_of(), study().findings)
    texts = words_of(drawing)
    worst = phrases.sorted_worst_first(study().findings)[:3]
    badges = [f"{phrases.SYMBOLS[one.verdict]} {one.verdict}" for one in worst]
    shown = [text.get_text() for text in texts if text.get_text()[:1] in phrases.SYMBOLS.values()]
    assert shown == badges
    sheet = drawing.figure.bbox
    for text in texts:
        box = text.get_window_extent()
        assert sheet.x0 <= box.x0, text
        assert box.x1 <= sheet.x1, text
        assert sheet.y0 <= box.y0, text
        assert box.y1 <= sheet.y1, text


@pytest.mark.parametrize("make", [sections, plan, side, line_load, section_row, back_view, overview])
@pytest.mark.parametrize("state", ["placed", "halt"])
def test_every_state_of_a_study_can_be_drawn(make, state):
    drawing = make(scene_of(state))
    assert state in drawing.title or state in as_svg(drawing)
    assert drawing.description


def test_a_state_that_was_not_solved_is_no_scene():
    assert isinstance(Scene.of_study(study(), "piaffe"), Undetermined)
    assert isinstance(scene_of(), Scene)
    empty = replace(study(), settlement=Settlement(steps=()))
    assert isinstance(Scene.of_study(empty, "halt", Position.PUT), Undetermined)


def test_a_saddle_that_does_not_sit_is_drawn_with_that_said():
    made = scene_of()
    why = Undetermined("it rolled to the near side")
    fallen = replace(made, settled=replace(made.settled, outcome=Outcome.SLIDES_OR_ROLLS_OFF, why_not=why))
    assert fallen.state.endswith("slides or rolls off: it rolled to the near side")
    assert "rolled to the near side" in plan(fallen).title
