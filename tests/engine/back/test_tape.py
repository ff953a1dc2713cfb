"""Tape and hand: where its points lie, what moves them, what is said of what was read."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from saddlebench.demo.shapes import BACK_SHAPES, PLAIN
from saddlebench.engine.back.backwards import readings_of, sections_of_surface
from saddlebench.engine.back.instruments import JointedChain, Scale, TapeAndHand, even_arm, only_rounds
from saddlebench.engine.back.plausible import readings_problems
from saddlebench.engine.back.quality import Verdict, judge_record
from saddlebench.engine.back.readings import BackReadings, StationReadings
from saddlebench.engine.back.record import BackRecord, measure_points, section_of
from saddlebench.engine.back.surface import estimate_back
from saddlebench.engine.back.tape import SIDES_ALIKE
from saddlebench.engine.errors import InputProblemsError, Weight
from saddlebench.engine.replica.settings import settings_for
from saddlebench.exchange.instruments import example_instrument

TAPE = TapeAndHand(name="tape", width=Scale(lowest=0.0, highest=900.0, step=1.0))
READ = StationReadings(number=2, distance_mm=100.0, left=(60.0,), right=(30.0,), widths=(120.0, 320.0))
PLACES = (-60.0, 20.0, 130.0, 240.0, 350.0, 460.0)


def record_of(shape: str = "plain", tape: TapeAndHand = TAPE) -> BackRecord:
    demo = BACK_SHAPES[shape]
    readings = readings_of(sections_of_surface(demo.surface()), tape, PLACES)
    return BackRecord(
        label="invented",
        measured_on=date(2026, 5, 4),
        instrument=tape,
        readings=readings,
        landmarks=demo.landmarks,
    )


def said(station: StationReadings, tape: TapeAndHand = TAPE) -> list[str]:
    alone = BackReadings(stations=(station,))
    return [p.what for p in readings_problems(tape, alone) if p.where.station == 2 and "only" not in p.what]


def test_points_lie_at_half_the_widths_and_at_the_cards_end() -> None:
    section = section_of(TAPE, READ)
    sin, cos = np.sin(np.pi / 3), 0.5
    wanted = [
        (60.0, -30.0),
        (60.0 + 100.0 * cos, -30.0 - 100.0 * sin),
        (160.0, -150.0),
        (-60.0, -30.0),
        (-60.0 - 100.0 * sin, -30.0 - 100.0 * cos),
        (-160.0, -150.0),
    ]
    np.testing.assert_allclose(section.points, wanted, atol=1e-9)
    assert section.side.tolist() == [1, 1, 1, -1, -1, -1]


@pytest.mark.parametrize(
    ("source", "changed", "by"),
    [
        ("station 2, width 1", replace(READ, widths=(120.0 + 1e-4, 320.0)), 1e-4),
        ("station 2, width 2", replace(READ, widths=(120.0, 320.0 + 1e-4)), 1e-4),
        ("station 2, left, angle", replace(READ, left=(60.0 + 1e-4,)), np.radians(1e-4)),
        ("station 2, right, angle", replace(READ, right=(30.0 + 1e-4,)), np.radians(1e-4)),
    ],
)
def test_an_error_moves_points_as_the_reading_itself_does(
    source: str, changed: StationReadings, by: float
) -> None:
    section = section_of(TAPE, READ)
    (error,) = [one for one in section.errors if one.source == source]
    moved = (section_of(TAPE, changed).points - section.points) / by
    np.testing.assert_allclose(error.moves, moved, atol=1e-3)


def test_which_side_is_the_larger_is_one_error_of_all_stations() -> None:
    points = measure_points(record_of())
    column = points.error_source.index(SIDES_ALIKE)
    sideways = points.sensitivity[points.station >= 0, 1, column]
    np.testing.assert_allclose(sideways, 1.0, atol=1e-9)
    assert points.error_sd[column] == TAPE.sides_sd_mm


def test_what_was_not_read_gives_no_point() -> None:
    assert len(section_of(TAPE, replace(READ, widths=(120.0,))).points) == 4
    assert len(section_of(TAPE, replace(READ, left=(), right=())).points) == 4
    # Without the first width a card has no place to hang from.
    assert len(section_of(TAPE, replace(READ, widths=(None, 320.0))).points) == 2
    assert len(section_of(TAPE, replace(READ, widths=())).points) == 0


def test_what_is_said_of_readings() -> None:
    assert said(READ) == []
    assert said(replace(READ, left=(), right=())) == []
    (swapped,) = said(replace(READ, widths=(320.0, 120.0)))
    assert "less than width 1 above it" in swapped
    (narrow,) = said(
        replace(READ, widths=(12.0, 31.0)), replace(TAPE, width=Scale(lowest=20, highest=900, step=1))
    )
    assert narrow == "Width 1 reads 12, beyond the range of 20 to 900"
    assert (
        said(replace(READ, widths=(None, 320.0)))
        == ["The angle has no place: the first width was not taken"] * 2
    )
    assert "No width was taken" in said(replace(READ, widths=()))
    assert said(replace(READ, left=(60.0, 50.0)))[0].startswith("There are readings of 2 angles on this side")
    assert said(replace(READ, widths=(120.0, 320.0, 400.0)))[0].startswith("There are readings of 3 widths")


def test_a_tapes_widths_are_no_readings_of_a_chain() -> None:
    arm = even_arm(9, 30.0, Scale(lowest=-90.0, highest=90.0, step=1.0))
    chain = JointedChain(name="nine links", left=arm, right=arm)
    with pytest.raises(InputProblemsError, match="The readings are widths, which “nine links” does not give"):
        measure_points(replace(record_of(), instrument=chain))


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"width_depths_mm": ()}, "number of depths"),
        ({"width_depths_mm": (150.0, 30.0)}, "must rise by at least 10 mm"),
        ({"width_depths_mm": (30.0, float("nan"))}, "width_depths_mm, value 2"),
        ({"card_mm": 5.0}, "card_mm"),
        ({"angle_sd_deg": -1.0}, "angle_sd_deg"),
        ({"sides_sd_mm": float("inf")}, "sides_sd_mm"),
        ({"width": Scale(lowest=10.0, highest=5.0, step=1.0)}, "width.highest"),
    ],
)
def test_an_impossible_description_is_refused(change: dict[str, object], what: str) -> None:
    with pytest.raises(InputProblemsError, match=what):
        TapeAndHand(name="tape", **change)  # type: ignore[arg-type]


def test_the_shipped_tape_is_the_engines_own() -> None:
    assert replace(example_instrument("tape-hand"), name="t") == TapeAndHand(name="t")
    assert not only_rounds(TapeAndHand(name="t"))


@pytest.mark.parametrize("shape", ["plain", "a-shaped", "wide-cob", "guttered-native"])
def test_well_taken_it_is_coarse_and_never_good(shape: str) -> None:
    record = record_of(shape)
    quality = judge_record(record, measure_points(record))
    assert quality.verdict is Verdict.COARSE, quality.problems
    assert not [p for p in quality.problems if p.weight is Weight.ERROR]
    assert quality.words == "coarse: enough for a first look, not for an order"


def test_a_repeat_is_held_to_what_a_tape_can_do() -> None:
    record = record_of()
    first = record.readings.stations[0]
    assert isinstance(first, StationReadings)
    for more, is_named in ((8.0, False), (60.0, True)):
        widths = tuple(width + more for width in first.widths if width is not None)
        again = replace(first, repeat=1, widths=widths)
        stations = (*record.readings.stations, again)
        twice = replace(record, readings=replace(record.readings, stations=stations))
        quality = judge_record(twice, measure_points(twice))
        assert (quality.verdict is Verdict.REPEAT) is is_named
        assert (1 in quality.repeat_stations) is is_named


def test_a_tape_is_set_to_nothing() -> None:
    estimated = estimate_back(measure_points(record_of()), PLAIN.landmarks)
    with pytest.raises(InputProblemsError, match="“tape” measures a shape and cannot hold one"):
        settings_for(estimated, TAPE)
