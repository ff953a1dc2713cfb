"""Undersides from sections and meshes: there and back again, gaps and faults."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from saddlebench.demo.saddles import ALL_ROUND, BARS, SIDE_SADDLE, TWISTED
from saddlebench.engine.errors import InputProblemsError, NotMeasured
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import bearing_length, shape_of, side_grid
from saddlebench.engine.saddle.mesh import model_from_mesh
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import RigidNumbers, model_from_numbers
from saddlebench.engine.saddle.sections import UndersideSection, model_from_sections, sections_of
from saddlebench.engine.units import Length


def off_surface(model: SaddleModel, truth: SaddleModel) -> FloatArray:
    """Distance of a model's points from another's surface, through its nearest point's tangent plane [mm]."""
    _, nearest = cKDTree(truth.bearing.points_saddle).query(model.bearing.points_saddle)
    away = model.bearing.points_saddle - truth.bearing.points_saddle[nearest]
    return np.abs(np.einsum("ij,ij->i", away, truth.bearing.normals_saddle[nearest]))


def sections_every(numbers: RigidNumbers, n: int) -> tuple[UndersideSection, ...]:
    model = model_from_numbers(numbers, 4000)
    length = bearing_length(model.bearing)
    return sections_of(model, np.linspace(31.0, length - 31.0, n))


def mesh_of(model: SaddleModel) -> tuple[FloatArray, FloatArray]:
    rows, columns = shape_of(model.bearing)
    sides = [side_grid(model.bearing, model.bearing.points_saddle, side) for side in (1, -1)]
    vertices = np.vstack([side.reshape(-1, 3) for side in sides])
    i, j = np.indices((rows - 1, columns - 1)).reshape(2, -1)
    corner = i * columns + j
    first = np.stack([corner, corner + 1, corner + columns], axis=1)
    second = np.stack([corner + 1, corner + columns + 1, corner + columns], axis=1)
    faces = np.vstack([first, second])
    return vertices, np.vstack([faces, faces + rows * columns])


@pytest.mark.parametrize("numbers", [ALL_ROUND, TWISTED, SIDE_SADDLE], ids=lambda one: one.label)
def test_sections_of_a_model_make_the_model_again(numbers: RigidNumbers) -> None:
    truth = model_from_numbers(numbers, 20_000)
    again = model_from_sections(sections_every(numbers, 12), numbers, 2000)
    assert isinstance(again, SaddleModel)
    # Twelve sections 33 mm apart of panels that bend over some 300 mm: cubic in between, 0.1 mm.
    assert off_surface(again, truth).max() < 0.1
    np.testing.assert_allclose(again.arch_saddle, truth.arch_saddle, atol=0.2)
    np.testing.assert_allclose(again.seat.z_mm, truth.seat.z_mm, atol=0.2)
    inside = slice(5, -5)
    np.testing.assert_allclose(
        again.channel.half_width_left_mm[inside], truth.channel.half_width_left_mm[inside], atol=0.2
    )


def test_sections_of_bars_make_the_bars_again() -> None:
    plain = replace(BARS, bar=replace(BARS.bar, flare_length_mm=30.0))
    again = model_from_sections(sections_every(plain, 12), plain, 2000)
    assert isinstance(again, SaddleModel)
    assert off_surface(again, model_from_numbers(plain, 20_000)).max() < 0.2
    # A bar's heights count from the middle of its crowned face; its chord's middle stands for it in sections.
    assert abs(again.arch_saddle[:, 2].max() - plain.fork.height_mm) < plain.bar.crown_mm + 0.5


def test_sections_higher_in_their_frame_carry_everything_with_them() -> None:
    raised = [
        UndersideSection(
            behind_mm=one.behind_mm,
            left=one.left + np.array([0.0, 25.0]),
            right=one.right + np.array([0.0, 25.0]),
        )
        for one in sections_every(ALL_ROUND, 12)
    ]
    high = model_from_sections(raised, ALL_ROUND, 500)
    low = model_from_sections(sections_every(ALL_ROUND, 12), ALL_ROUND, 500)
    assert isinstance(high, SaddleModel)
    assert isinstance(low, SaddleModel)
    up = np.array([0.0, 0.0, 25.0])
    np.testing.assert_allclose(high.bearing.points_saddle, low.bearing.points_saddle + up, atol=1e-9)
    np.testing.assert_allclose(high.arch_saddle, low.arch_saddle + up, atol=1e-9)
    np.testing.assert_allclose(high.seat.stirrup_bar_right, low.seat.stirrup_bar_right + up, atol=1e-9)
    np.testing.assert_allclose(high.channel.roof_z_mm, low.channel.roof_z_mm + 25.0, atol=1e-9)


def test_a_section_may_run_either_way_and_sections_in_any_order() -> None:
    sections = sections_every(ALL_ROUND, 8)
    shuffled = [replace(one, left=one.left[::-1]) for one in reversed(sections)]
    one, other = (model_from_sections(held, ALL_ROUND, 250) for held in (sections, shuffled))
    assert isinstance(one, SaddleModel)
    assert isinstance(other, SaddleModel)
    np.testing.assert_allclose(one.bearing.points_saddle, other.bearing.points_saddle, atol=1e-9)


def test_gaps_are_not_measured_and_name_their_sections() -> None:
    sections = sections_every(ALL_ROUND, 12)
    holed = [replace(one, left=one.left[[0, 1, 2, -1]]) if i == 6 else one for i, one in enumerate(sections)]
    answer = model_from_sections(holed, ALL_ROUND)
    assert isinstance(answer, NotMeasured)
    assert answer.stations == (7,)
    far_apart = [sections[i] for i in (0, 1, 2, 7, 11)]
    answer = model_from_sections(far_apart, ALL_ROUND)
    assert isinstance(answer, NotMeasured)
    assert answer.stations == (4, 5)


def test_all_faults_of_sections_are_told_together() -> None:
    good = sections_every(ALL_ROUND, 8)
    swapped = replace(good[1], left=good[1].right, right=good[1].left)
    doubled = replace(good[3], behind_mm=good[2].behind_mm)
    huge = replace(good[5], right=good[5].right * 100.0)
    thin = replace(good[6], left=good[6].left[:2])
    with pytest.raises(InputProblemsError) as caught:
        model_from_sections([good[0], swapped, good[2], doubled, good[4], huge, thin, good[7]], ALL_ROUND)
    told = {(problem.where.station, problem.where.side) for problem in caught.value.problems}
    assert told == {(2, "near"), (2, "off"), (4, ""), (6, "off"), (7, "near")}


def test_too_few_sections_are_refused() -> None:
    with pytest.raises(InputProblemsError, match="at least four"):
        model_from_sections(sections_every(ALL_ROUND, 8)[:3], ALL_ROUND)


@pytest.mark.parametrize("unit", [Length.MM, Length.CM, Length.INCH])
def test_a_mesh_of_a_model_makes_the_model_again_in_any_stated_unit(unit: Length) -> None:
    vertices, faces = mesh_of(model_from_numbers(ALL_ROUND, 2000))
    flipped = faces.copy()
    flipped[::2] = flipped[::2, ::-1]
    again = model_from_mesh(vertices / unit.in_mm, flipped, unit, ALL_ROUND, 1000)
    assert isinstance(again, SaddleModel)
    # Flat triangles of 7 mm on faces bent over 250 mm, and cubics between sections: 0.15 mm.
    assert off_surface(again, model_from_numbers(ALL_ROUND, 20_000)).max() < 0.15


def test_a_mesh_with_the_channel_in_it_is_cut_at_the_marked_channel() -> None:
    vertices, faces = mesh_of(model_from_numbers(ALL_ROUND, 2000))
    rows, columns = shape_of(model_from_numbers(ALL_ROUND, 2000).bearing)
    left = np.arange(rows - 1) * columns
    right = left + rows * columns
    bridge = np.vstack(
        [
            np.stack([left, right, left + columns], axis=1),
            np.stack([right, right + columns, left + columns], axis=1),
        ]
    )
    with_bridge = model_from_mesh(vertices, np.vstack([faces, bridge]), Length.MM, ALL_ROUND, 500)
    assert isinstance(with_bridge, SaddleModel)
    half = np.abs(with_bridge.bearing.points_saddle[:, 1]).min()
    assert half > 0.5 * min(ALL_ROUND.panel.channel_mm)


def test_small_holes_are_bridged_and_large_ones_told() -> None:
    vertices, faces = mesh_of(model_from_numbers(ALL_ROUND, 2000))
    behind = -vertices[faces].mean(axis=1)[:, 0]
    left = vertices[faces].mean(axis=1)[:, 1] > 0.0
    outer = vertices[faces].mean(axis=1)[:, 1] > 70.0
    small = model_from_mesh(
        vertices, faces[~(left & outer & (np.abs(behind - 200.0) < 15.0))], Length.MM, ALL_ROUND, 500
    )
    assert isinstance(small, SaddleModel)
    large = model_from_mesh(
        vertices, faces[~(left & (np.abs(behind - 200.0) < 90.0))], Length.MM, ALL_ROUND, 500
    )
    assert isinstance(large, NotMeasured)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda v, f: (v, f[:0]), "no triangles"),
        (lambda v, f: (v, f + len(v)), "do not exist"),
        (lambda v, f: (v * np.nan, f), "lie nowhere"),
        (lambda v, f: (v / 10.0, f), "mm long"),
        (lambda v, f: (v + np.array([430.0, 0.0, 0.0]), f), "own axes"),
        (lambda v, f: (v + np.array([0.0, 300.0, 0.0]), f), "own axes"),
        (
            lambda v, f: (np.vstack([v, v + np.array([0, 0, 30.0])]), np.vstack([f, f + len(v)])),
            "more than one layer",
        ),
    ],
)
def test_meshes_that_cannot_be_an_underside_are_refused_in_words(change, words: str) -> None:
    vertices, faces = change(*mesh_of(model_from_numbers(ALL_ROUND, 1000)))
    with pytest.raises(InputProblemsError, match=words):
        model_from_mesh(vertices, faces, Length.MM, ALL_ROUND, 500)
