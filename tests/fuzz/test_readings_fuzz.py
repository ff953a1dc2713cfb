"""Whatever stands in a file of readings, reading it either gives readings or says what is wrong."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from saddlebench.engine.back.instruments import JointedChain, PinComb, Scale, TracedCurve, even_arm
from saddlebench.engine.back.readings import BackReadings, SectionPoints
from saddlebench.engine.errors import InputProblemsError, NotMeasured
from saddlebench.exchange.readings import read_readings

DIAL = Scale(lowest=-60.0, highest=60.0, step=1.0)
ARM = even_arm(4, 30.0, DIAL)
INSTRUMENTS = (
    JointedChain(name="chain", left=ARM, right=ARM),
    PinComb(name="comb", pitch_mm=20.0, n_pins=8, midline_pin=4.5, scale=Scale(lowest=0, highest=99, step=1)),
    TracedCurve(name="curve"),
)
QUICK = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "readings.csv"


def readings_or_words(path: Path, content: bytes) -> list[BackReadings]:
    path.write_bytes(content)
    read = []
    for instrument in INSTRUMENTS:
        try:
            read.append(read_readings(path, instrument))
        except InputProblemsError as error:
            refusal = error
            assert len(refusal.problems) > 0
            assert all(problem.what and problem.cure for problem in refusal.problems)
            assert all(problem.where.file == str(path) for problem in refusal.problems)
    return read


def all_numbers(readings: BackReadings) -> list[float]:
    numbers = []
    for station in readings.stations:
        numbers += [station.distance_mm, station.tilt_deg]
        if isinstance(station, SectionPoints):
            numbers += [value for point in (*station.left, *station.right) for value in point]
        else:
            cells = (*station.left, *station.right, station.middle)
            numbers += [value for value in cells if value is not None]
    if not isinstance(readings.topline, NotMeasured):
        numbers += [getattr(readings.topline, "start_mm", 0.0), getattr(readings.topline, "level_deg", 0.0)]
    return numbers


@QUICK
@given(content=st.binary(max_size=400))
@example(content=b"\xff\xfe\x00")
@example(content=b"station,distance [mm],L1\n1,0,\x00\n")
def test_any_bytes(path: Path, content: bytes) -> None:
    readings_or_words(path, content)


@QUICK
@given(text=st.text(alphabet=st.characters(codec="utf-8"), max_size=300))
@example(text="#\n#\n")
@example(text='"\n"')
@example(text="station;distance [mm];L1\n1;0;" + "9" * 400)
def test_any_text(path: Path, text: str) -> None:
    readings_or_words(path, text.encode("utf-8"))


columns = st.sampled_from(
    [
        "station",
        "distance [mm]",
        "distance",
        "side",
        "repeat",
        "tilt",
        "height [cm]",
        "level",
        "joint",
        "reading",
        "y",
        "z",
        "notes",
        "L1",
        "L2",
        "R1",
        "R 3",
        "J1",
        "P4",
        "M",
        "T1",
        "y1",
        "z1",
        "",
        "L1001",
    ]
)
cells = st.one_of(
    st.sampled_from(
        ["", "1", "2", "-3,5", "4.25", "left", "off", "middle", "topline", "level", "1e9", "NaN"]
    ),
    st.integers(-(10**12), 10**12).map(str),
    st.floats().map(str),
    st.text(alphabet='0123456789.,-+"; \u2212\u00a0é', max_size=6),
)


@settings(QUICK, max_examples=300)
@given(
    header=st.lists(columns, min_size=1, max_size=9),
    rows=st.lists(st.lists(cells, max_size=9), min_size=1, max_size=8),
    mark=st.sampled_from([";", ",", "\t"]),
)
def test_any_table(path: Path, header: list[str], rows: list[list[str]], mark: str) -> None:
    lines = [mark.join(row) for row in [header, *rows]]
    for readings in readings_or_words(path, "\n".join(lines).encode("utf-8")):
        assert len(readings.stations) > 0
        assert all(abs(number) <= 1e6 for number in all_numbers(readings))
        keys = [(station.number, station.repeat) for station in readings.stations]
        assert len(set(keys)) == len(keys)


@QUICK
@given(
    left=st.lists(st.none() | st.integers(-60, 60), min_size=4, max_size=4),
    right=st.lists(st.none() | st.integers(-600, 600).map(lambda n: n / 10), min_size=4, max_size=4),
    comma=st.booleans(),
    order=st.permutations(range(10)),
)
def test_what_is_written_is_what_is_read(
    path: Path,
    left: list[int | None],
    right: list[float | None],
    comma: bool,
    order: list[int],
) -> None:
    """A chain's readings come back verbatim, whatever the order of columns; blanks stay blank."""
    names = ["station", "distance [mm]", *(f"L{i}" for i in range(1, 5)), *(f"R{i}" for i in range(1, 5))]
    values = [1, -40.5, *left, *right]
    written = ["" if value is None else str(value) for value in values]
    if comma:
        written = [text.replace(".", ",") for text in written]
    rows = [[names[i] for i in order], [written[i] for i in order]]
    path.write_text("\n".join(";".join(row) for row in rows), encoding="utf-8")
    (station,) = read_readings(path, INSTRUMENTS[0]).stations
    assert not isinstance(station, SectionPoints)
    assert station.distance_mm == -40.5
    for read, given_values in ((station.left, left), (station.right, right)):
        padded = [*read, *(None for _ in range(4 - len(read)))]
        assert padded == given_values
