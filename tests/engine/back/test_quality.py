"""What is said about a record: nothing against a good one, the planted fault against a bad one."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.shapes import BACK_SHAPES
from saddlebench.engine.back.backwards import readings_of, sections_of_surface
from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    Scale,
    TracedCurve,
    even_arm,
)
from saddlebench.engine.back.landmarks import Landmarks, Mark
from saddlebench.engine.back.plausible import readings_problems
from saddlebench.engine.back.quality import RecordQuality, Verdict, check_record, judge_record
from saddlebench.engine.back.readings import BackReadings, SectionPoints, StationReadings, ToplineHeights
from saddlebench.engine.back.record import BackRecord, measure_points
from saddlebench.engine.back.stance import Stance
from saddlebench.engine.errors import InputProblemsError, NotMeasured, Problem, Weight

DIAL = Scale(lowest=-60.0, highest=60.0, step=1.0)
ARM = even_arm(9, 30.0, DIAL)
CHAIN = JointedChain(name="nine links of 30 mm", left=ARM, right=ARM)
COMB = PinComb(
    name="31 pins of 12 mm",
    pitch_mm=12.0,
    n_pins=31,
    midline_pin=16.0,
    scale=Scale(lowest=0, highest=300, step=1),
)
CURVE = TracedCurve(name="flexible curve")
FAMILIES: dict[str, Instrument] = {"chain": CHAIN, "comb": COMB, "curve": CURVE}
DISTANCES = (-60.0, 20.0, 100.0, 180.0, 260.0, 340.0, 420.0, 480.0)


def record_of(shape: str = "plain", instrument: Instrument = CHAIN) -> BackRecord:
    demo = BACK_SHAPES[shape]
    landmarks = demo.landmarks
    return BackRecord(
        label="invented",
        measured_on=dt.date(2026, 5, 4),
        instrument=instrument,
        readings=readings_of(sections_of_surface(demo.surface()), instrument, DISTANCES),
        landmarks=landmarks,
    )


@pytest.fixture(scope="module")
def plain() -> BackRecord:
    return record_of()


def judged(record: BackRecord) -> RecordQuality:
    return judge_record(record, measure_points(record))


def with_station(record: BackRecord, which: int, **change: object) -> BackRecord:
    stations = tuple(
        replace(s, **change) if s.number == which else s  # type: ignore[arg-type]
        for s in record.readings.stations
    )
    return replace(record, readings=replace(record.readings, stations=stations))


def only_problem(record: BackRecord) -> str:
    (problem,) = check_record(record, measure_points(record))
    return str(problem)


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("shape", BACK_SHAPES)
def test_nothing_is_said_against_a_well_measured_back(shape: str, family: str) -> None:
    record = record_of(shape, FAMILIES[family])
    assert check_record(record, measure_points(record)) == ()


@pytest.mark.parametrize("family", FAMILIES)
def test_a_complete_record_is_good(family: str) -> None:
    quality = judged(record_of("plain", FAMILIES[family]))
    assert quality.must_haves_left == ()
    assert quality.verdict is Verdict.GOOD
    assert quality.words == "good"
    assert quality.repeat_difference_mm == NotMeasured("no section was measured twice")


def test_a_typing_error_in_one_joint_is_a_kink(plain: BackRecord) -> None:
    station = plain.readings.stations[3]
    assert isinstance(station, StationReadings)
    left = list(station.left)
    left[4] = 52.0
    record = with_station(plain, 4, left=tuple(left))
    said = str(check_record(record, measure_points(record))[0])
    assert said.startswith("station 4, left: A kink no back has, ")
    quality = judged(record)
    assert quality.verdict is Verdict.REPEAT
    assert quality.repeat_stations == (4,)
    assert quality.words == "repeat station 4"


def test_a_pin_misread_by_40_mm_is_a_kink() -> None:
    record = record_of("plain", COMB)
    station = record.readings.stations[2]
    assert isinstance(station, StationReadings)
    right = list(station.right)
    assert right[8] is not None
    right[8] += 40.0
    assert only_problem(with_station(record, 3, right=tuple(right))).startswith(
        "station 3, right: A kink no back has, "
    )


def test_sides_called_the_wrong_way_round_are_found() -> None:
    record = record_of("left-shoulder")
    station = record.readings.stations[1]
    assert isinstance(station, StationReadings)
    swapped = with_station(record, 2, left=station.right, right=station.left)
    assert only_problem(swapped) == (
        "station 2: Left and right look swapped: its neighbours differ the other way round. "
        "Check which side was called first here, or measure this section again."
    )


def test_two_sections_written_under_each_others_number_are_found(plain: BackRecord) -> None:
    second, third = plain.readings.stations[1], plain.readings.stations[2]
    assert isinstance(second, StationReadings)
    assert isinstance(third, StationReadings)
    record = with_station(plain, 2, left=third.left, right=third.right)
    record = with_station(record, 3, left=second.left, right=second.right)
    assert only_problem(record) == (
        "station 2: Stations 2 and 3 look swapped: traded, the back is smooth. "
        "Check which section was written under which station, or measure both again."
    )


def test_a_few_long_links_are_too_coarse() -> None:
    arm = even_arm(3, 95.0, DIAL)
    record = record_of("plain", JointedChain(name="three links", left=arm, right=arm))
    said = [str(problem) for problem in check_record(record, measure_points(record))]
    assert said
    assert all("Too coarse for the curve" in words and "95 mm apart" in words for words in said)


def test_a_repeat_is_compared_and_kept(plain: BackRecord) -> None:
    again = replace(plain.readings.stations[0], repeat=1)
    record = replace(plain, readings=replace(plain.readings, stations=(*plain.readings.stations, again)))
    points = measure_points(record)
    assert np.sum(points.station == 0) == 2 * np.sum(measure_points(plain).station == 0)
    assert len(points.stations) == len(DISTANCES)
    assert judged(record).repeat_difference_mm == {1: 0.0}
    assert isinstance(again, StationReadings)
    moved = replace(again, left=tuple(r + 3.0 for r in again.left if r is not None))
    record = replace(record, readings=replace(record.readings, stations=(*plain.readings.stations, moved)))
    quality = judged(record)
    assert isinstance(quality.repeat_difference_mm, dict)
    assert 6.0 < quality.repeat_difference_mm[1] < 60.0
    assert quality.words == "repeat station 1"
    assert "the horse or the instrument moved" in str(quality.problems[-1])


def test_must_haves_left_are_named(plain: BackRecord) -> None:
    bare = replace(plain, landmarks=Landmarks(lowest=Mark(800.0, 10.0)))
    quality = judged(bare)
    assert quality.verdict is Verdict.TREND_ONLY
    assert quality.words == "enough for a trend, not for an order"
    assert quality.must_haves_left == (
        "the mark: highest spine of the withers",
        "the mark: last-rib mark",
        "the mark: shoulder edge, left (near)",
        "the mark: shoulder edge, right (off)",
        "a section at the lowest point (800 mm)",
    )


def test_a_stance_off_level_is_said(plain: BackRecord) -> None:
    assert "The stance is 3.0° off level." in only_problem(replace(plain, stance=Stance(pitch_deg=3.0)))
    said = only_problem(replace(plain, stance=Stance(roll_deg=-9.0)))
    assert said == (
        "“stance”: The stance is 9.0° off level: no horse stands square on that. "
        "Move to level ground and measure again."
    )


def test_a_mistyped_height_of_the_topline_is_said(plain: BackRecord) -> None:
    topline = plain.readings.topline
    assert isinstance(topline, ToplineHeights)
    heights = list(topline.height_mm)
    heights[4] -= 90.0
    record = replace(
        plain, readings=replace(plain.readings, topline=replace(topline, height_mm=tuple(heights)))
    )
    said = only_problem(record)
    assert said.startswith("“topline”: The topline turns by ")
    assert said.endswith(" at 180 mm, as no back does. Read the heights around that place again.")


def test_a_gap_in_the_row_is_said(plain: BackRecord) -> None:
    kept = tuple(s for s in plain.readings.stations if s.number not in (3, 4))
    record = replace(plain, readings=replace(plain.readings, stations=kept))
    assert only_problem(record) == (
        "“distance”: There is no section between 20 and 260 mm. Measure one near 140 mm."
    )


Fault = Callable[[BackRecord], BackRecord]


def _stations(record: BackRecord, keep: Callable[[StationReadings], StationReadings | None]) -> BackRecord:
    changed = [keep(s) for s in record.readings.stations if isinstance(s, StationReadings)]
    return replace(
        record, readings=replace(record.readings, stations=tuple(s for s in changed if s is not None))
    )


def _inches(record: BackRecord) -> BackRecord:
    topline = record.readings.topline
    assert isinstance(topline, ToplineHeights)
    record = _stations(record, lambda s: replace(s, distance_mm=round(s.distance_mm / 25.4, 1)))
    heights = replace(topline, distance_mm=tuple(round(d / 25.4, 1) for d in topline.distance_mm))
    return replace(record, readings=replace(record.readings, topline=heights))


STOPS: dict[str, tuple[Fault, str]] = {
    "one station only": (
        lambda r: _stations(r, lambda s: s if s.number == 3 else None),
        (
            "station 3: There is one station only. "
            "Measure at least three: behind the shoulder, at the lowest point, at the last rib."
        ),
    ),
    "two at the same place": (
        lambda r: with_station(r, 4, distance_mm=100.0),
        (
            "station 4, “distance”: Stations 3 and 4 are at the same place. "
            "Correct a distance; if it is one section measured twice, mark the second as a repeat."
        ),
    ),
    "left missing": (
        lambda r: _stations(r, lambda s: replace(s, left=())),
        (
            "left: The left (near) side was not read at any station. "
            "Measure the left side too: half a back is not mirrored into a whole one."
        ),
    ),
    "10⁹ mm": (
        lambda r: with_station(r, 5, distance_mm=1e9),
        (
            "station 5, “distance”: A distance of 1e+09 mm behind the shoulder mark lies on no back. "
            "Check the number and its unit (mm, not inches or centimetres), and type it again."
        ),
    ),
    "not a number": (
        lambda r: with_station(r, 5, distance_mm=float("nan")),
        (
            "station 5, “distance”: A distance of nan mm behind the shoulder mark lies on no back. "
            "Check the number and its unit (mm, not inches or centimetres), and type it again."
        ),
    ),
    "inches by mistake": (
        _inches,
        (
            "“distance”: The stations are at most 3.2 mm apart. "
            "Were the distances written in inches or centimetres? State the unit; it is not guessed."
        ),
    ),
    "off the scale": (
        lambda r: with_station(r, 2, right=(5.0, 90.0)),
        (
            "station 2, right, “joint 2”: Joint 2 reads 90, beyond the range of -60 to 60. "
            "Read it again, or correct the instrument's range."
        ),
    ),
    "another instrument": (
        lambda r: with_station(r, 2, left=(1.0,) * 10),
        (
            "station 2, left: There are readings of 10 joints, but the instrument has 9. "
            "Choose the instrument that was used, or remove the extra readings."
        ),
    ),
    "a number twice": (
        lambda r: with_station(r, 2, number=1),
        (
            "station 1: Station 1 appears twice. "
            "Correct the station's number, or mark the second one as measured again."
        ),
    ),
    "a repeat of nothing": (
        lambda r: with_station(r, 2, repeat=1),
        (
            "station 2, “repeat”: Station 2 was measured again, but never a first time. "
            "Correct the station's number, or its repeat to 0."
        ),
    ),
    "no topline": (
        lambda r: replace(r, readings=BackReadings(stations=r.readings.stations)),
        (
            "“topline”: The topline was not measured, so the sections have no height. "
            "Measure the height of the midline at every station."
        ),
    ),
}


@pytest.mark.parametrize("fault", STOPS)
def test_what_stops_a_record_is_said_in_a_sentence(plain: BackRecord, fault: str) -> None:
    plant, words = STOPS[fault]
    with pytest.raises(InputProblemsError) as raised:
        measure_points(plant(plain))
    assert words in str(raised.value).splitlines()


def test_readings_of_another_family_are_refused(plain: BackRecord) -> None:
    with pytest.raises(InputProblemsError) as raised:
        measure_points(replace(plain, instrument=CURVE))
    assert len(raised.value.problems) == len(DISTANCES)
    assert "The readings are joints or pins, which “flexible curve” does not give" in str(raised.value)


def test_blank_cells_take_away_points_and_nothing_else(plain: BackRecord) -> None:
    station = plain.readings.stations[2]
    assert isinstance(station, StationReadings)
    full = measure_points(plain)
    blank = measure_points(with_station(plain, 3, left=(*station.left[:4], None, *station.left[5:])))
    lost = (full.station == 2) & (full.side == 1)
    kept = np.flatnonzero(~lost | (np.cumsum(lost) <= 4))
    np.testing.assert_array_equal(blank.points_back, full.points_back[kept])
    (problem,) = check_record(
        with_station(plain, 3, left=(*station.left[:4], None, *station.left[5:])), blank
    )
    assert str(problem) == (
        "station 3, left, “joint 5”: Joint 5 was not read, so everything beyond it is lost. "
        "Read joint 5 of this station again."
    )


def test_a_blank_pin_takes_away_its_own_point_only() -> None:
    record = record_of("plain", COMB)
    station = record.readings.stations[2]
    assert isinstance(station, StationReadings)
    left = list(station.left)
    left[3] = None
    full, blank = measure_points(record), measure_points(with_station(record, 3, left=tuple(left)))
    gone = np.isclose(full.points_back[:, 1], 48.0) & (full.station == 2)
    assert gone.sum() == 1
    np.testing.assert_array_equal(blank.points_back, full.points_back[~gone])


def test_one_side_missing_at_one_station_is_a_remark_not_a_stop(plain: BackRecord) -> None:
    record = with_station(plain, 3, left=())
    problems = check_record(record, measure_points(record))
    assert [p.weight for p in problems] == [Weight.WARNING]
    assert str(problems[0]) == (
        "station 3, left: The left (near) side was not read. Measure the left side of station 3."
    )


def test_a_tracing_in_inches_is_asked_about() -> None:
    record = record_of("plain", CURVE)
    stations = [s for s in record.readings.stations if isinstance(s, SectionPoints)]
    small = tuple(
        replace(
            s,
            left=tuple((out / 25.4, up / 25.4) for out, up in s.left),
            right=tuple((out / 25.4, up / 25.4) for out, up in s.right),
        )
        for s in stations
    )
    record = replace(record, readings=replace(record.readings, stations=small))
    said = [str(problem) for problem in check_record(record, measure_points(record))]
    assert len(said) == 2 * len(DISTANCES)
    assert all("Was it written in inches or centimetres?" in words for words in said)


def test_stations_out_of_order_are_a_remark(plain: BackRecord) -> None:
    record = with_station(plain, 5, distance_mm=300.0)
    record = with_station(record, 6, distance_mm=260.0)
    said = [str(problem) for problem in readings_problems(record.instrument, record.readings)]
    assert said == [
        (
            "station 6, “distance”: Station 6 lies in front of station 5: out of order. "
            "Check both distances, and that neither section was written under the other's number."
        )
    ]


def test_ordinary_errors_make_no_fuss() -> None:
    """Joints read with the errors the instrument states: false alarms stay rare on every invented back."""
    rng = np.random.default_rng(7)
    sd = float(np.hypot(0.5, DIAL.rounding_sd))
    alarms = 0
    for shape in BACK_SHAPES:
        record = record_of(shape)
        stations = []
        for s in record.readings.stations:
            assert isinstance(s, StationReadings)
            left, right = (
                tuple(None if r is None else float(round(r + rng.normal(0.0, sd))) for r in side)
                for side in (s.left, s.right)
            )
            stations.append(replace(s, left=left, right=right))
        noisy = replace(record, readings=replace(record.readings, stations=tuple(stations)))
        alarms += len(check_record(noisy, measure_points(noisy)))
    # 88 sections; one in fifty may be called doubtful.
    assert alarms <= 2


def test_a_record_cut_from_a_questioned_scan_is_not_good(plain: BackRecord) -> None:
    odd = Problem(what="the topline has a step", cure="Take the rug off.", weight=Weight.WARNING)
    assert judged(plain).verdict is Verdict.GOOD
    questioned = judged(replace(plain, questioned=(odd,)))
    assert questioned.verdict is Verdict.TREND_ONLY
    assert questioned.problems == (odd,)
