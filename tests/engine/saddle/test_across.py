"""Curves across an upturned saddle: levelled by a rule, set at height by a rod, near against off."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from saddlebench.demo.saddles import ALL_ROUND, BADLY_FLOCKED, TWISTED
from saddlebench.demo.traced_saddle import BEHIND_MM, gaps_mm, leans_deg
from saddlebench.engine.errors import Undetermined
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.panelled import PanelledNumbers
from saddlebench.engine.saddle.sections import sections_of
from saddlebench.engine.saddle.shape_error import SaddleError
from saddlebench.engine.saddle.underside.across import (
    CurveAcross,
    TracedUnderside,
    TracingErrors,
    rule_angle,
    underside_across,
)

PATTERN = model_from_numbers(ALL_ROUND, 1500)


@lru_cache
def model_of(numbers: PanelledNumbers) -> SaddleModel:
    return model_from_numbers(numbers, 800)


def turned(line: FloatArray, sign: float, angle: float) -> FloatArray:
    y, z = sign * line[:, 0], line[:, 1]
    return np.column_stack(
        [sign * (y * np.cos(angle) - z * np.sin(angle)), y * np.sin(angle) + z * np.cos(angle)]
    )


def tracings_of(model: SaddleModel, *, with_leans: bool = True) -> list[CurveAcross]:
    """Return exact tracings, each laid down on its paper at an angle and a height of its own."""
    rng = np.random.default_rng(4)
    leans = leans_deg(model, stand_deg=2.5)
    curves = []
    for one, lean in zip(sections_of(model, BEHIND_MM), leans, strict=True):
        middle = np.array([0.0, one.left[0, 1] + rng.uniform(5.0, 20.0)])
        angle = rng.normal(0.0, 0.1)
        curves.append(
            CurveAcross(
                behind_mm=one.behind_mm,
                near=turned(one.left - middle, 1.0, angle),
                off=turned(one.right * (-1.0, 1.0) - middle, -1.0, angle),
                lean=np.radians(lean) if with_leans else None,
            )
        )
    return curves


def traced(numbers: PanelledNumbers, *, with_leans: bool = True, with_gaps: bool = True) -> TracedUnderside:
    model = model_of(numbers)
    curves = tracings_of(model, with_leans=with_leans)
    assert isinstance(PATTERN, SaddleModel)
    gaps = gaps_mm(model) if with_gaps else None
    return underside_across(curves, ALL_ROUND, PATTERN, TracingErrors(), gaps)


def furthest(underside: TracedUnderside, numbers: PanelledNumbers) -> float:
    exact = sections_of(model_of(numbers), BEHIND_MM)
    return max(
        float(np.abs(one - other).max())
        for mine, true in zip(underside.sections, exact, strict=True)
        for one, other in ((mine.left, true.left), (mine.right, true.right))
    )


def test_a_rule_under_two_circles_leans_as_their_common_tangent() -> None:
    """Two equal circles, their middles 200 mm apart, one 20 mm higher: it lies as their middles' line."""
    turn = np.linspace(0.0, 2.0 * np.pi, 4001)
    circle = 30.0 * np.column_stack([np.cos(turn), np.sin(turn)]) + (100.0, 0.0)
    assert rule_angle(circle + np.array([0.0, 20.0]), circle) == pytest.approx(
        np.arctan2(20.0, 200.0), abs=1e-4
    )


def test_tracings_laid_down_anyhow_make_the_exact_sections_again() -> None:
    """The oracle is the saddle in closed form: rod to 0.1 mm, leans exact."""
    underside = traced(ALL_ROUND)
    assert furthest(underside, ALL_ROUND) < 0.15
    assert underside.off_numbers_mm < 0.1
    assert furthest(traced(ALL_ROUND, with_gaps=False), ALL_ROUND) < 0.15


def test_a_twisted_saddle_is_told_with_its_side_and_a_straight_one_is_not() -> None:
    underside = traced(TWISTED)
    exact = leans_deg(model_of(TWISTED), (45.0, 387.0))
    assert not isinstance(underside.twist, Undetermined)
    assert underside.twist.is_told
    # A line through eight leans against the leans at the two ends: the twist is not quite even.
    assert np.degrees(underside.twist.angle) == pytest.approx(exact[0] - exact[1], abs=0.2)
    rear = underside.told[-1].near_stands_out_mm
    assert not isinstance(rear, Undetermined)
    assert rear == pytest.approx(-12.0, abs=1.5)
    straight = traced(ALL_ROUND).twist
    assert not isinstance(straight, Undetermined)
    assert not straight.is_told


def test_the_stated_deviation_of_the_twist_is_the_one_that_comes_out() -> None:
    """Leans read with errors of half a degree, 400 times: mean and spread of the twist."""
    model = model_of(TWISTED)
    curves, rng = tracings_of(model), np.random.default_rng(8)
    assert isinstance(PATTERN, SaddleModel)
    exact = underside_across(curves, ALL_ROUND, PATTERN, TracingErrors()).twist
    assert not isinstance(exact, Undetermined)
    behind = np.array([one.behind_mm for one in curves])
    leans = np.array([one.lean for one in curves])
    slopes = [
        np.polyfit(behind, -(leans + rng.normal(0.0, TracingErrors().lean, len(leans))), 1)[0]
        for _ in range(400)
    ]
    assert np.std(slopes) * (387.0 - 45.0) == pytest.approx(exact.sd, rel=0.12)


def test_without_leans_neither_twist_nor_the_higher_panel_is_told() -> None:
    underside = traced(TWISTED, with_leans=False)
    assert isinstance(underside.twist, Undetermined)
    assert all(isinstance(one.near_stands_out_mm, Undetermined) for one in underside.told)
    assert not any(one.is_uneven for one in underside.told)
    assert underside.error.twist_mm == TracingErrors().untold_twist_mm
    for one in underside.sections:
        assert rule_angle(one.left, one.right * (-1.0, 1.0)) == pytest.approx(0.0, abs=1e-4)


def test_channel_and_widths_come_out_and_a_flat_panel_is_seen() -> None:
    exact = sections_of(model_of(BADLY_FLOCKED), BEHIND_MM)
    told = traced(BADLY_FLOCKED).told
    for one, true in zip(told, exact, strict=True):
        assert one.channel_mm == pytest.approx(true.left[0, 0] - true.right[0, 0], abs=0.3)
    # Nine millimetres are missing in the near panel's front.
    front = told[1].near_stands_out_mm
    assert not isinstance(front, Undetermined)
    assert front < -2.0


def test_errors_grow_with_the_curve_that_springs_and_without_strokes() -> None:
    curves = tracings_of(model_of(ALL_ROUND))
    assert isinstance(PATTERN, SaddleModel)

    def error(errors: TracingErrors, marked: bool = True) -> SaddleError:
        given = [replace(one, edges_are_marked=marked) for one in curves]
        return underside_across(given, ALL_ROUND, PATTERN, errors).error

    stiff, springy = error(TracingErrors(spring_mm=0.5)), error(TracingErrors(spring_mm=5.0))
    assert stiff.face_angle < springy.face_angle
    assert error(TracingErrors(), marked=False).channel_mm > error(TracingErrors()).channel_mm
    assert stiff.arch_width_mm == SaddleError().arch_width_mm
