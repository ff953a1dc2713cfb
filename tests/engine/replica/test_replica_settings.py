"""Settings for another instrument: rounding together, reach, order, and what to move."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.backwards import readings_of, sections_of_surface
from saddlebench.engine.back.instruments import Instrument, JointedChain, Scale, even_arm
from saddlebench.engine.back.readings import BackReadings, SectionPoints, StationReadings, ToplineJoints
from saddlebench.engine.errors import InputProblemsError, Weight
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.replica.set_check import check_set
from saddlebench.engine.replica.settings import InstrumentSettings, set_points_off, settings_for
from saddlebench.exchange.back_job import MeasuredBack
from saddlebench.exchange.instruments import example_instrument
from support.rebuilt import back_of, rebuilt

PLACES = (-80.0, 40.0, 190.0, 370.0)


def settings(name: str) -> InstrumentSettings:
    return settings_for(back_of().estimated, example_instrument(name), PLACES)


def fourth_powers(tool: Instrument, readings: BackReadings) -> FloatArray:
    section_at = sections_of_surface(back_of().estimated.surface)
    return np.array([np.sum(set_points_off(section_at, tool, one) ** 4) for one in readings.stations])


@pytest.mark.parametrize("name", ["chain-12x30", "chain-8-uneven"])
def test_rounding_together_is_never_worse_than_one_by_one(name: str) -> None:
    tool = example_instrument(name)
    one_by_one = readings_of(sections_of_surface(back_of().estimated.surface), tool, PLACES)
    assert np.all(fourth_powers(tool, settings(name).readings) <= fourth_powers(tool, one_by_one) + 1e-9)


def test_rounding_together_is_clearly_better_where_pads_sit_off_the_joints() -> None:
    tool = example_instrument("chain-8-uneven")
    # At one place the better rounding may be the same one; over the whole back it is not.
    places = tuple(np.arange(-80.0, 401.0, 40.0).tolist())
    one_by_one = readings_of(sections_of_surface(back_of().estimated.surface), tool, places)
    together = fourth_powers(tool, settings_for(back_of().estimated, tool, places).readings)
    assert together.sum() < 0.8 * fourth_powers(tool, one_by_one).sum()


def test_no_other_readings_within_two_divisions_do_better() -> None:
    arm = even_arm(4, 45.0, Scale(lowest=-90.0, highest=90.0, step=5.0))
    tool = JointedChain(name="four links", left=arm, right=arm)
    section_at = sections_of_surface(back_of().estimated.surface)
    found = settings_for(back_of().estimated, tool, (190.0,)).readings.stations[0]
    assert isinstance(found, StationReadings)
    held = np.array([one for one in found.left if one is not None])
    left_only = replace(found, right=())
    best = float(np.sum(set_points_off(section_at, tool, left_only) ** 4))
    for moves in itertools.product((-10.0, -5.0, 0.0, 5.0, 10.0), repeat=len(held)):
        other = replace(left_only, left=tuple(held + np.array(moves)))
        assert float(np.sum(set_points_off(section_at, tool, other) ** 4)) >= best - 1e-9


def test_errors_do_not_grow_outward_along_a_chain() -> None:
    section_at = sections_of_surface(back_of().estimated.surface)
    found = settings("chain-12x30")
    off = [set_points_off(section_at, found.instrument, one.readings) for one in found.stations]
    outer = np.concatenate([part[len(part) // 4 : len(part) // 2] for part in off])
    # A division is half a degree: rounding that piles up over 300 mm of chain would reach millimetres.
    assert outer.max() < 0.3


def test_steps_come_topline_first_then_stations_near_before_off_and_outward() -> None:
    found = settings("chain-8-uneven")
    assert [step.station for step in found.steps] == sorted(
        (step.station for step in found.steps), key=lambda one: -1 if one is None else one
    )
    first = [(step.side, step.part) for step in found.steps if step.station == 1]
    assert first == [(side, f"joint {k}") for side in ("near", "off") for k in range(1, 1 + len(first) // 2)]
    assert found.steps[0].part in ("level", "height")


def test_readings_lie_on_the_scale_in_whole_divisions() -> None:
    for name in ("chain-12x30", "comb-24x15-foot"):
        found = settings(name)
        tool = found.instrument
        scale = tool.left.scale if isinstance(tool, JointedChain) else tool.scale  # type: ignore[union-attr]
        for station in found.readings.stations:
            assert isinstance(station, StationReadings)
            held = np.array([one for one in (*station.left, *station.right) if one is not None])
            assert np.abs(held / scale.step - np.rint(held / scale.step)).max() < 1e-6
            assert held.min() >= scale.lowest
            assert held.max() <= scale.highest


def test_an_instrument_that_cannot_bend_far_enough_is_warned_of_with_the_joint() -> None:
    stiff = JointedChain(
        name="stiff",
        left=even_arm(8, 30.0, Scale(lowest=-8.0, highest=8.0, step=1.0)),
        right=even_arm(8, 30.0, Scale(lowest=-8.0, highest=8.0, step=1.0)),
    )
    found = settings_for(back_of().estimated, stiff, (-80.0, 40.0))
    told = [str(problem) for problem in found.problems]
    assert found.off_by_mm > 10.0
    assert any("comes no nearer" in words and "end of its scale" in words for words in told)


def test_an_instrument_that_is_too_short_is_warned_of_once_a_side() -> None:
    short = JointedChain(
        name="short",
        left=even_arm(4, 25.0, Scale(lowest=-90.0, highest=90.0, step=1.0)),
        right=even_arm(4, 25.0, Scale(lowest=-90.0, highest=90.0, step=1.0)),
    )
    found = settings_for(back_of().estimated, short, PLACES)
    assert [problem.where.side for problem in found.problems] == ["near", "off"]
    assert all("stations 1, 2, 3, 4" in problem.what for problem in found.problems)


def test_a_scan_holds_no_shape() -> None:
    with pytest.raises(InputProblemsError, match="cannot hold one"):
        settings_for(back_of().estimated, example_instrument("scan"))


def test_a_place_that_was_not_measured_is_refused() -> None:
    with pytest.raises(InputProblemsError, match="measure a station there"):
        settings_for(back_of().estimated, example_instrument("comb-41x10"), (40.0, 900.0))


def test_a_topline_chain_is_set_too() -> None:
    found = settings("chain-12x30")
    assert isinstance(found.readings.topline, ToplineJoints)
    assert found.topline_off_by_mm < 1.0


def set_wrong(found: InstrumentSettings, side: str, k: int, by: float) -> BackReadings:
    station = found.readings.stations[1]
    assert isinstance(station, StationReadings)
    row = list(getattr(station, side))
    row[k] += by
    wrong = replace(station, **{side: tuple(row)})
    return replace(found.readings, stations=(found.readings.stations[0], wrong))


def test_as_asked_every_station_is_good() -> None:
    for name in ("chain-12x30", "chain-8-uneven", "comb-24x15-foot", "comb-41x10", "curve-mm"):
        found = settings(name)
        checked = check_set(back_of().estimated, found, found.readings)
        assert [one.good for one in checked] == [True] * len(PLACES)
        assert all(one.moves == () for one in checked)


@pytest.mark.parametrize(
    ("name", "side", "k", "by"), [("chain-12x30", "left", 2, 6.0), ("comb-41x10", "right", 5, -7.0)]
)
def test_a_wrong_joint_or_pin_is_named_with_how_far_to_move_it(
    name: str, side: str, k: int, by: float
) -> None:
    found = settings(name)
    first, second = check_set(back_of().estimated, found, set_wrong(found, side, k, by))
    assert first.good
    assert not second.good
    assert [move.by for move in second.moves] == [-by]
    number = second.moves[0].part.split(" ")[1]
    expected = k + 1 if name.startswith("chain") else 21 + k + 1
    assert int(number) == expected
    assert second.moves[0].side == ("near" if side == "left" else "off")


def test_joints_that_make_up_for_each_other_are_left_alone() -> None:
    found = settings("chain-12x30")
    step = found.instrument.left.scale.step  # type: ignore[union-attr]
    station = found.readings.stations[1]
    assert isinstance(station, StationReadings)
    row = [one for one in station.left if one is not None]
    row[3] += step
    row[4] -= step
    near = replace(station, left=(*row, *(None for _ in range(len(station.left) - len(row)))))
    (checked,) = check_set(back_of().estimated, found, BackReadings(stations=(near,)))
    assert checked.good
    assert checked.moves == ()


def test_a_blank_joint_is_said_to_be_not_set_and_a_strange_station_is_refused() -> None:
    found = settings("chain-12x30")
    station = found.readings.stations[0]
    assert isinstance(station, StationReadings)
    short = replace(station, left=(*station.left[:3], *(None for _ in station.left[3:])))
    (checked,) = check_set(back_of().estimated, found, BackReadings(stations=(short,)))
    assert not checked.good
    assert checked.not_set[0] == "joint 4, near"
    with pytest.raises(InputProblemsError, match="not a station of these settings"):
        check_set(back_of().estimated, found, BackReadings(stations=(replace(station, number=9),)))


def test_a_traced_point_too_far_out_is_to_be_moved_inward() -> None:
    found = settings("curve-mm")
    station = found.readings.stations[2]
    assert isinstance(station, SectionPoints)
    points = list(station.left)
    points[4] = (points[4][0], points[4][1] + 9.0)
    (checked,) = check_set(
        back_of().estimated, found, BackReadings(stations=(replace(station, left=tuple(points)),))
    )
    assert checked.moves[0].part == "point 5"
    assert checked.moves[0].by < -4.0


@pytest.mark.parametrize("beyond_mm", [4.0, 17.0])
def test_outermost_stations_that_stand_on_no_node_are_set_like_the_others(beyond_mm: float) -> None:
    """The nearest node may lie in front of the first station: it was measured all the same."""
    places = (-120.0 - beyond_mm, -60.0, 40.0, 140.0, 260.0, 380.0 + beyond_mm)
    shape, tool = YARD[0].shape, example_instrument("comb-41x10")
    read = measured_at(shape, tool, places, np.random.default_rng(5))
    found = settings_for(rebuilt(read, tool).estimated, example_instrument("chain-12x30"))
    assert [one.readings.distance_mm for one in found.stations] == pytest.approx(list(places))
    assert max(one.off_by_mm for one in found.stations) < 2.0


def one_sided(numbers: tuple[int, ...]) -> MeasuredBack:
    """Return a back of which some stations were measured on the near side alone."""
    places = (-120.0, -40.0, 40.0, 140.0, 260.0)
    shape, tool = YARD[0].shape, example_instrument("comb-41x10")
    read = measured_at(shape, tool, places, np.random.default_rng(5))
    stations = [
        replace(one, right=tuple(None for _ in one.right)) if one.number in numbers else one
        for one in read.stations
        if isinstance(one, StationReadings)
    ]
    return rebuilt(replace(read, stations=tuple(stations)), tool)


def test_stations_that_cannot_be_set_are_left_out_and_named() -> None:
    back = one_sided((1,))
    found = settings_for(back.estimated, example_instrument("comb-24x15-foot"))
    assert [one.number for one in found.stations] == [2, 3, 4, 5]
    first = found.problems[0]
    assert (first.weight, first.where.station) == (Weight.WARNING, 1)
    assert first.what == "nothing was measured on the off side at -120 mm"
    assert {step.station for step in found.steps} == {None, 2, 3, 4, 5}
    assert all(one.good for one in check_set(back.estimated, found, found.readings))


def test_a_place_that_was_asked_for_is_refused_not_left_out() -> None:
    with pytest.raises(InputProblemsError) as refused:
        settings_for(one_sided((1,)).estimated, example_instrument("comb-24x15-foot"), (-120.0, 40.0))
    assert [one.where.station for one in refused.value.problems] == [1]
