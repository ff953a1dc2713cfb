"""Whatever points come in: a finite surface and description, or problems in words; nothing else."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from saddlebench.demo.shapes import BACK_SHAPES
from saddlebench.engine.back.descriptors import describe
from saddlebench.engine.back.draws import draw_radii
from saddlebench.engine.back.landmarks import Landmarks
from saddlebench.engine.back.levels import DescriptionSettings
from saddlebench.engine.back.stations import MeasuredPoints
from saddlebench.engine.back.surface import EstimatedBack, estimate_back
from saddlebench.engine.errors import InputProblemsError, Problem, is_known
from support.measured import points_of


@st.composite
def any_points(draw: st.DrawFn) -> tuple[MeasuredPoints, Landmarks]:
    shape = draw(st.sampled_from(list(BACK_SHAPES.values())))
    distances = draw(st.lists(st.integers(-200, 650), min_size=1, max_size=7))
    seed = draw(st.integers(0, 10_000))
    points = points_of(
        shape,
        tuple(float(d) for d in distances),
        n_side=draw(st.integers(1, 14)),
        reach_deg=draw(st.sampled_from([15.0, 45.0, 90.0, 110.0])),
        noise_mm=draw(st.sampled_from([0.0, 0.5, 5.0, 20.0])),
        lift_sd_mm=draw(st.sampled_from([0.0, 2.0, 30.0])),
        rng=np.random.default_rng(seed),
    )
    rng = np.random.default_rng(seed + 1)
    keep = rng.random(len(points.noise_mm)) < draw(st.sampled_from([0.0, 0.1, 0.6, 1.0]))
    wild = draw(st.sampled_from([0.0, 0.0, 60.0, 900.0]))
    moved = points.points_back[keep]
    if len(moved):
        moved[0] += wild * rng.standard_normal(3)
    some = replace(
        points,
        points_back=moved,
        station=points.station[keep],
        side=points.side[keep],
        sensitivity=points.sensitivity[keep],
        noise_mm=points.noise_mm[keep],
    )
    return some, draw(st.sampled_from([shape.landmarks, Landmarks()]))


def estimated_or_problems(points: MeasuredPoints, marks: Landmarks) -> EstimatedBack | tuple[Problem, ...]:
    try:
        return estimate_back(points, marks)
    except InputProblemsError as refused:
        return refused.problems


@settings(max_examples=40, deadline=None)
@given(any_points())
def test_any_points_make_a_finite_back_or_problems_in_words(case: tuple[MeasuredPoints, Landmarks]) -> None:
    points, marks = case
    back = estimated_or_problems(points, marks)
    if isinstance(back, tuple):
        assert back
        assert all(problem.what and problem.cure for problem in back)
        return
    surface = back.surface
    for array in (surface.radius_mm, surface.sd_mm, surface.spline.coefficients, draw_radii(back, 8, seed=0)):
        assert np.all(np.isfinite(array))
    description = describe(back, marks, DescriptionSettings(draws=12))
    for answer in (description.withers_angle, description.volume, description.length):
        assert np.isfinite([answer.value, answer.sd]).all() if is_known(answer) else answer.reason
    for level in description.levels:
        for sides in (*level.widths.values(), *level.heights.values()):
            assert np.isfinite(sides.total.value) if is_known(sides.total) else sides.total.reason
