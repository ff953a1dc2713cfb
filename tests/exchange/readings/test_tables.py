"""Tables of readings: the documented examples, the ways a fitter keeps them, and what is refused."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from saddlebench.engine.back.instruments import (
    Instrument,
    JointedChain,
    PinComb,
    Scale,
    Scan,
    TapeAndHand,
    ToplineChain,
    TracedCurve,
    even_arm,
)
from saddlebench.engine.back.readings import (
    BackReadings,
    SectionPoints,
    StationReadings,
    ToplineHeights,
    ToplineJoints,
)
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.units import Length
from saddlebench.exchange.readings import read_readings
from saddlebench.exchange.readings.header import (
    LEFT_WORDS,
    MIDDLE,
    MIDDLE_WORDS,
    NUMBERED,
    RIGHT_WORDS,
    SYNONYMS,
    TOPLINE_WORDS,
)

PAGE = Path(__file__).parents[3] / "docs" / "reference" / "readings-tables.md"
EXAMPLES = re.findall(r"```csv ([a-z ]+)\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)

DIAL = Scale(lowest=-60.0, highest=60.0, step=0.5)
CHAIN = JointedChain(name="chain", left=even_arm(3, 40.0, DIAL), right=even_arm(3, 40.0, DIAL))
LAID = replace(CHAIN, topline=ToplineChain(arm=even_arm(9, 25.0, DIAL)))
COMB = PinComb(
    name="comb", pitch_mm=40.0, n_pins=5, midline_pin=3.0, scale=Scale(lowest=0, highest=200, step=1)
)
CURVE = TracedCurve(name="curve")
INSTRUMENTS: dict[str, Instrument] = {"chain": CHAIN, "laid chain": LAID, "comb": COMB, "curve": CURVE}
INSTRUMENTS["tape"] = TapeAndHand(name="tape")


def table(tmp_path: Path, content: str | bytes) -> Path:
    path = tmp_path / "readings.csv"
    path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    return path


def said_of(tmp_path: Path, content: str | bytes, instrument: Instrument = CHAIN) -> list[str]:
    path = table(tmp_path, content)
    with pytest.raises(InputProblemsError) as raised:
        read_readings(path, instrument)
    assert all(problem.where.file == str(path) for problem in raised.value.problems)
    return [str(problem).removeprefix(str(path)).lstrip(",: ") for problem in raised.value.problems]


def example(family: str, which: int, tmp_path: Path) -> BackReadings:
    text = [text for name, text in EXAMPLES if name == family][which]
    return read_readings(table(tmp_path, text), INSTRUMENTS[family])


def test_every_family_of_the_page_has_its_examples() -> None:
    assert [name for name, _ in EXAMPLES] == [
        "chain",
        "chain",
        "laid chain",
        "comb",
        "comb",
        "curve",
        "curve",
        "tape",
    ]


def test_the_page_names_every_word_a_header_may_use() -> None:
    words = [word for words in SYNONYMS.values() for word in words]
    words += [*LEFT_WORDS, *RIGHT_WORDS, *MIDDLE_WORDS, *TOPLINE_WORDS]
    page = PAGE.read_text(encoding="utf-8").lower()
    assert [word for word in [*words, *MIDDLE] if f"`{word}`" not in page] == []
    numbered = [f"{word} 1".strip() for words in NUMBERED.values() for word in words if len(word) != 1]
    assert [word for word in numbered if f"`{word}`" not in page] == []


def test_the_chain_read_wide_is_the_chain_read_long(tmp_path: Path) -> None:
    wide = example("chain", 0, tmp_path)
    assert wide == BackReadings(
        stations=(
            StationReadings(number=1, distance_mm=-40.0, left=(14.0, 10.5, 6.0), right=(13.0, 10.0, 6.5)),
            StationReadings(number=2, distance_mm=60.0, left=(13.0, 10.0, 5.5), right=(13.0, 9.5)),
            StationReadings(number=3, distance_mm=160.0, left=(11.0, 9.0, 5.0), right=(11.0, 9.0, 5.0)),
        ),
        topline=ToplineHeights(
            distance_mm=(-40.0, 60.0, 110.0, 160.0), height_mm=(1562.0, 1541.0, 1530.0, 1524.0)
        ),
    )
    assert example("chain", 1, tmp_path) == wide


def test_a_topline_chain_is_read_with_its_start_and_level(tmp_path: Path) -> None:
    readings = example("laid chain", 0, tmp_path)
    assert readings.topline == ToplineJoints(
        start_mm=-80.0, level_deg=9.5, joints=(0.0, -1.0, -2.0, -3.0, -2.0, -1.0, 0.0, 0.0)
    )
    assert [station.distance_mm for station in readings.stations] == [-40.0, 60.0]


def test_a_topline_chain_may_stand_in_a_long_table(tmp_path: Path) -> None:
    text = "station,distance [cm],side,joint,reading\n,-8,topline,level,9.5\n,,topline,2,-1\n,,topline,1,0\n"
    text += "1,-4,left,1,14\n1,,right,1,13\n"
    topline = read_readings(table(tmp_path, text), LAID).topline
    assert topline == ToplineJoints(start_mm=-80.0, level_deg=9.5, joints=(0.0, -1.0))


def test_the_comb_read_wide_is_the_comb_read_long(tmp_path: Path) -> None:
    wide = example("comb", 0, tmp_path)
    assert wide.stations == (
        StationReadings(number=1, distance_mm=0.0, left=(21.0, 38.0), right=(22.0, 40.0), middle=12.0),
        StationReadings(number=2, distance_mm=100.0, left=(19.0, 35.0), right=(19.0, 36.0), middle=11.0),
        StationReadings(number=3, distance_mm=200.0, left=(17.0,), right=(18.0, 35.0), middle=10.0),
    )
    assert example("comb", 1, tmp_path) == wide


def test_the_tracing_read_long_is_the_tracing_read_wide(tmp_path: Path) -> None:
    long = example("curve", 0, tmp_path)
    assert long.stations[1] == SectionPoints(
        number=2, distance_mm=100.0, left=((40.0, -10.0), (80.0, -36.0)), right=((40.0, -10.0), (80.0, -35.5))
    )
    assert example("curve", 1, tmp_path) == long


def test_a_tapes_widths_stand_beside_its_angles(tmp_path: Path) -> None:
    readings = example("tape", 0, tmp_path)
    assert readings.stations == (
        StationReadings(number=1, distance_mm=20.0, left=(57.0,), right=(55.0,), widths=(110.0, 315.0)),
        StationReadings(number=2, distance_mm=160.0, left=(41.0,), right=(42.0,), widths=(150.0,)),
        StationReadings(number=3, distance_mm=300.0, widths=(185.0, 400.0)),
    )


def test_a_tapes_widths_keep_their_own_unit(tmp_path: Path) -> None:
    text = "station,distance [mm],W1 [cm],L1 [mm]\n1,20,11,57\n2,160,15,41\n"
    said = said_of(tmp_path, text, INSTRUMENTS["tape"])
    assert "The header says “cm”, but one division of “tape” is 1 mm" in said[0]
    assert "The header says “mm”, but one division of “tape” is 1 degrees" in said[1]


WIDE = "station;distance [mm];L1;L2;R1;R2\n1;0;10;5,5;9;5\n2;100;9;5;8;4,5\n"
EXPECTED = (
    StationReadings(number=1, distance_mm=0.0, left=(10.0, 5.5), right=(9.0, 5.0)),
    StationReadings(number=2, distance_mm=100.0, left=(9.0, 5.0), right=(8.0, 4.5)),
)
WAYS = {
    "as it is": WIDE.encode(),
    "byte order mark": b"\xef\xbb\xbf" + WIDE.encode(),
    "UTF-16 with tabs": WIDE.replace(";", "\t").encode("utf-16"),
    "Windows line ends": WIDE.replace("\n", "\r\n").encode(),
    "old line ends": WIDE.replace("\n", "\r").encode(),
    "no last line end": WIDE.rstrip("\n").encode(),
    "commas and points": WIDE.replace(",", ".").replace(";", ",").encode(),
    "Latin-1 remark": WIDE.replace("R2\n", "R2;notes\n").replace("5\n2", "5;für später\n2").encode("cp1252"),
    "quoted cells": WIDE.replace("5,5", '"5,5"').replace("station", '"station"').encode(),
    "another order": (
        b"R2;off joint 1;near_joint_2;DISTANCE (mm);Left-1;Section\n5;9;5.5;0;10;1\n4.5;8;5;100;9;2\n"
    ),
    "comments and blank rows": (
        "# Horse: invented\n\n" + WIDE.replace("\n2", "\n;;;;;\n# moved\n2")
    ).encode(),
    "a side to a row": (
        b"station;distance [mm];side;J1;J2\n1;0;near;10;5,5\n1;;off;9;5\n2;100;near;9;5\n2;;off;8;4,5\n"
    ),
    "no column of stations": re.sub(r"(?m)^(station|\d);", "", WIDE).encode(),
    "unit in a comment": b"# Units = cm\n" + WIDE.replace(" [mm]", "").replace(";100;", ";10;").encode(),
    "unit in the header before one in a comment": b"# unit: in\n" + WIDE.encode(),
    "a true minus": WIDE.replace(";5\n", ";+5\n").encode(),
}


@pytest.mark.parametrize("way", WAYS)
def test_the_ways_a_fitter_keeps_a_table(way: str, tmp_path: Path) -> None:
    assert read_readings(table(tmp_path, WAYS[way]), CHAIN).stations == EXPECTED


def test_an_inch_is_25_4_mm_where_it_is_stated(tmp_path: Path) -> None:
    """International yard and pound agreement of 1 July 1959: 1 in = 25.4 mm exactly."""
    text = WIDE.replace("[mm]", "[in]").replace(";100;", ";4;")
    assert read_readings(table(tmp_path, text), CHAIN).stations[1].distance_mm == 101.6


def test_the_unit_that_is_asked_for_may_be_given_beside_the_file(tmp_path: Path) -> None:
    text = WIDE.replace(" [mm]", "").replace(";100;", ";10;")
    assert said_of(tmp_path, text) == [
        (
            "row 1, “distance”: The unit of “distance” is not stated. "
            "Write it in the header, as “distance [mm]”, or in a line “# unit: mm”."
        )
    ]
    assert read_readings(table(tmp_path, text), CHAIN, unit=Length.CM).stations == EXPECTED


def test_a_repeat_and_a_tilt_are_kept(tmp_path: Path) -> None:
    text = "station;distance [mm];repeat;tilt;L1;R1\n1;0;;1,5;10;9\n2;100;0;;9;8\n1;;1;;11;9\n"
    first, second, again = read_readings(table(tmp_path, text), CHAIN).stations
    assert (first.repeat, second.repeat, again.repeat) == (0, 0, 1)
    assert (first.tilt_deg, second.tilt_deg, again.tilt_deg) == (1.5, 0.0, 0.0)
    assert again.distance_mm == 0.0


def test_all_problems_are_reported_together(tmp_path: Path) -> None:
    text = (
        "# unit: mm\nstation;distance;L1;L2;R1;R2\n"
        "1;0;1O;5;9;nan\n2;1e9;9;5;8;inf\n3;1000000000;9;1,250;8;5\nx;300;9;5;8;4\n5;;9;5;8;4\n"
    )
    not_a_number = "is not a number. Write digits with a decimal comma or point, for example 12,5 or 12.5."
    assert said_of(tmp_path, text) == [
        f"row 3, station 1, “L1”: “1O” {not_a_number}",
        f"row 3, station 1, “R2”: “nan” {not_a_number}",
        f"row 4, “distance”: “1e9” {not_a_number}",
        f"row 4, station 2, “R2”: “inf” {not_a_number}",
        (
            "row 5, “distance”: “1000000000” is larger than anything measured on a horse. "
            "Check the number and its unit."
        ),
        (
            "row 5, station 3, “L2”: “1,250” could be a decimal number or a number in thousands. "
            "Write it without a mark for thousands, or with another count of decimals (1250 or 1.25)."
        ),
        f"row 6, “station”: “x” {not_a_number}",
        (
            "row 7, station 5: Station 5 has no distance behind the shoulder mark. "
            "Write it in the column “distance”."
        ),
    ]


REFUSED: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "is empty. Check that it was saved"),
    "blank": (b" \r\n \n", "is empty. Check that it was saved"),
    "binary": (bytes(range(256)) * 4, "is not a table of text. Save it from the spreadsheet as CSV"),
    "a spreadsheet's own file": (b"PK\x03\x04\x14\x00\x06\x00" + b"\x00" * 40, "is not a table of text."),
    "broken UTF-16": (b"\xff\xfe\x41", "is not a table of text."),
    "header only": (WIDE.split("\n", maxsplit=1)[0].encode(), "has no row of readings below a header."),
    "unknown column": (WIDE.replace("R2", "Rx2").encode(), "row 1: The column “Rx2” is not known."),
    "same column twice": (
        WIDE.replace("R2", "off 1").encode(),
        "row 1: The columns “R1” and “off 1” hold the same.",
    ),
    "unnamed column": (WIDE.replace("R1", "").encode(), "row 1: Column 5 has cells but no name."),
    "unknown unit": (WIDE.replace("[mm]", "[hands]").encode(), "“hands” is not a unit known here."),
    "unknown unit in a comment": (
        b"# unit: hands\n" + WIDE.encode(),
        "row 1: “hands” is not a unit known here.",
    ),
    "two units": (b"# unit: mm\n# unit: cm\n" + WIDE.encode(), "row 2: Two units are stated for one file."),
    "no distance": (
        WIDE.replace("distance [mm]", "notes").encode(),
        "row 1: There is no column for the distance behind the shoulder mark.",
    ),
    "no readings": (b"station;distance [mm]\n1;0\n", "row 1: There is no column of readings."),
    "decimal commas between commas": (
        b"station,distance [mm],L1,R1\n1,0,10,5,9,5\n",
        "row 2: The row has 6 cells, the header 4. If numbers have decimal commas, put semicolons",
    ),
    "open quotation mark": (WIDE.replace("9;5\n", '9;"5\n').encode(), "row 2: A quotation mark does not end"),
    "wrong side": (
        b"station;distance [mm];side;J1\n1;0;nera;10\n",
        "row 2, “side”: “nera” is not a side. Write left or near, right or off.",
    ),
    "no side": (
        b"station;distance [mm];side;joint;angle\n1;0;;1;10\n",
        "row 2, station 1, “side”: The row does not say which side it is.",
    ),
    "no joint": (
        b"station;distance [mm];side;joint;angle\n1;0;left;;10\n",
        "row 2, station 1: The reading does not say of which joint or pin it is.",
    ),
    "half a joint": (
        b"station;distance [mm];side;joint;angle\n1;0;left;1,5;10\n",
        "row 2, station 1, “part”: “1,5” is not a whole number from 1 to 1000.",
    ),
    "a reading twice": (
        b"station;distance [mm];side;joint;angle\n1;0;left;1;10\n1;;left;1;11\n",
        "row 3, station 1, left: Reading 1 of this side stands in the table twice.",
    ),
    "two distances": (
        b"station;distance [mm];side;joint;angle\n1;0;left;1;10\n1;5;left;2;11\n",
        "row 3, station 1: Station 1 has two distances, 0 and 5 mm.",
    ),
    "two heights": (
        b"station;distance [mm];height [mm];L1\n1;0;1500;10\n;0;1510;\n",
        "row 3, “height”: The topline has two heights at 0 mm, 1500 and 1510 mm.",
    ),
    "a height nowhere": (
        b"station;distance [mm];height [mm];L1\n1;0;;10\n;;1510;\n",
        "row 3, “height”: A height of the topline has no distance.",
    ),
    "readings of no station": (
        WIDE.replace("\n2;", "\n;").encode(),
        "row 3, “station”: These readings have no station.",
    ),
    "only the topline": (
        b"station;distance [mm];height [mm];L1\n;0;1500;\n;100;1490;\n",
        "No row holds a station.",
    ),
    "level but no start": (
        b"station;distance [mm];level;T1;L1\ntopline;;9;1;\n1;0;;;10\n",
        "“topline”: The topline's chain has joints but no level, or no place where it starts.",
    ),
    "another instrument's unit": (
        WIDE.replace("L1", "L1 [cm]").encode(),
        "row 1, “L1 [cm]”: The header says “cm”, but one division of “chain” is 1 degrees.",
    ),
}


@pytest.mark.parametrize("fault", REFUSED)
def test_what_is_refused_says_what_where_and_what_to_do(fault: str, tmp_path: Path) -> None:
    content, words = REFUSED[fault]
    said = said_of(tmp_path, content)
    assert any(problem.startswith(words) or words in problem for problem in said), said


def test_a_point_with_half_its_numbers_is_refused(tmp_path: Path) -> None:
    text = "station;distance [mm];y;z\n1;0;40;-14\n1;;-40;\n"
    assert said_of(tmp_path, text, CURVE) == [
        "row 3, station 1: The point has only one of y and z. Write both, or leave both blank."
    ]


def test_a_file_beyond_the_limits_is_refused_before_it_is_read(tmp_path: Path) -> None:
    assert "is larger than the 5 MB" in said_of(tmp_path, b"x;" * 2_600_000)[0]
    assert "has 20001 rows" in said_of(tmp_path, "station;distance [mm];L1\n" + "1;0;1\n" * 20_000)[0]
    assert "has 1501 columns" in said_of(tmp_path, "x;" * 1500 + "x\n" + "1;1\n")[0]


def test_a_flood_of_problems_is_counted_not_listed(tmp_path: Path) -> None:
    text = "station;distance [mm];L1\n" + "".join(f"{i};x;x\n" for i in range(1, 900))
    said = said_of(tmp_path, text)
    assert len(said) == 501
    # Each row has two letters for numbers: 2 · 899 problems, 500 of them listed.
    assert said[-1] == f"There are {2 * 899 - 500} problems more. Mend those first, and read the file again."


def test_a_scan_is_not_read_from_a_table(tmp_path: Path) -> None:
    assert said_of(tmp_path, WIDE, Scan(name="scan")) == [
        (
            "“scan” is a scan, which is not read from a table. "
            "Read its mesh, or choose the instrument that was used."
        )
    ]
