"""Words set by hand, the lines of an order, the underside drawn, and plan and order files read back."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.demo.saddles import FLOCK_GONE_IN_FRONT
from saddlebench.engine.alter import Alteration, Shim, ShimPlace
from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.engine.saddle.model import SaddleModel, Zone
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.zones import Filling
from saddlebench.exchange.altering import needs_panel_off, others_of, work_lines
from saddlebench.exchange.drawings import as_svg, underside
from saddlebench.exchange.hand import by_hand
from saddlebench.exchange.records import parse_document, schema_of
from saddlebench.exchange.records.order import OrderDocument

WORDS = (
    "near front +6",
    "near front outer 3",
    "off rear inner −4 mm",
    "arch=+10",
    "off waist shim 5 gel removable",
)


def test_words_become_an_alteration() -> None:
    held = by_hand(WORDS)
    assert held.fill_left == Filling(inner_mm=(6.0, 0, 0, 0), outer_mm=(3.0, 0, 0, 0))
    assert held.fill_right == Filling(inner_mm=(0, 0, 0, -4.0))
    assert held.arch_mm == 10.0
    assert held.shims == (
        Shim(on_left=False, zone=Zone.WAIST, thickness_mm=5.0, stuff="gel", place=ShimPlace.IN_PAD),
    )
    assert by_hand(["near seat 2,5"]).fill_left.inner_mm[2] == 2.5


def test_every_word_that_is_not_understood_is_told() -> None:
    with pytest.raises(InputProblemsError) as told:
        by_hand(["left front 3", "near front +3", "near middle 3", "off front shim 5 wood"])
    assert len(told.value.problems) == 3
    assert all(problem.cure for problem in told.value.problems)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_an_alteration_or_a_problem(text: str) -> None:
    try:
        held: Alteration | tuple[Problem, ...] = by_hand([text])
    except InputProblemsError as error:
        held = error.problems
    assert held


def test_lines_say_place_amount_and_how() -> None:
    held = Alteration(
        fill_left=Filling(inner_mm=(3.0, 0, 0, 0), outer_mm=(9.0, 0, 0, 0)),
        fill_right=Filling.even((0, 4.0, 0, -3.0)),
        arch_mm=-5.0,
    )
    lines = {line.place: line for line in work_lines(held)}
    assert list(lines) == ["near front, inner half", "near front, outer half", "off waist", "off rear"]
    assert lines["near front, inner half"].how == "through the slits"
    assert lines["near front, outer half"].how == "full reflock"
    assert lines["off waist"].how == "panel off"
    assert lines["off rear"].bench_mm == -3.0
    assert needs_panel_off(held)
    assert not needs_panel_off(Alteration(fill_left=Filling.even((4.0, 0, 0, 4.0))))
    assert others_of(held) == ("front arch 5 mm narrower between the point ends",)


def test_the_underside_lies_upside_down_with_near_on_the_right() -> None:
    model = model_from_numbers(FLOCK_GONE_IN_FRONT, 400)
    assert isinstance(model, SaddleModel)
    drawing = underside(model, Alteration(fill_left=Filling.even((6.0, 0, 0, 0))))
    axes = drawing.figure.axes[0]
    patches = {patch.get_gid(): patch.get_xy() for patch in axes.patches if patch.get_gid()}
    near, rear = patches["zone-near-front-0"], patches["zone-near-rear-0"]
    off = patches["zone-off-front-0"]
    assert near[:, 0].min() > 0.0 > off[:, 0].max()
    assert near[:, 1].min() > rear[:, 1].max() - 1e-6
    words = [text.get_text() for text in axes.texts]
    assert words.count("+7") == 1
    around = {text.get_text(): text.get_position() for text in drawing.figure.texts}
    assert around["NEAR"][0] > around["POMMEL"][0] > around["OFF"][0]
    # to scale: the panel's width on paper is its width in the saddle
    assert drawing.scale is not None
    left, right = axes.get_xlim()
    paper = axes.get_position().width * drawing.figure.get_figwidth() * 25.4
    assert paper / (right - left) == pytest.approx(drawing.scale, rel=1e-6)
    assert "near side on the right" in as_svg(drawing)


def test_an_order_of_another_kind_or_with_more_in_it_is_refused() -> None:
    with pytest.raises(InputProblemsError, match="not a work order"):
        parse_document(OrderDocument, '{"format": "saddlebench fit check", "version": 1}', "x.json")
    with pytest.raises(InputProblemsError):
        parse_document(
            OrderDocument, '{"format": "saddlebench work order", "version": 1, "more": 1}', "x.json"
        )
    assert schema_of(OrderDocument)["properties"]["format"]["const"] == "saddlebench work order"
