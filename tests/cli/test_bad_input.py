"""Bad input gives a sentence that says what, where and what to do, status 1, and leaves no file behind."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from support.commands import Run

TABLE_FAULTS = {
    "empty": lambda _text: "",
    "binary": lambda _text: "\x00\x01\x02" * 40,
    "letters in a number": lambda text: text.replace(";-80;", ";-8O;", 1),
    "not a number": lambda text: re.sub(r"\n1;[^;]*;", "\n1;nan;", text, count=1),
    "absurd": lambda text: re.sub(r"\n1;[^;]*;", "\n1;1000000000;", text, count=1),
    "one station": lambda text: "\n".join(
        text.split("\n")[:4] + [r for r in text.split("\n") if r.startswith("1;")]
    ),
    "unknown column": lambda text: text.replace("station;", "stattion;", 1),
}


@pytest.mark.parametrize("fault", TABLE_FAULTS)
def test_a_bad_table(fault: str, kept: Path, tmp_path: Path, run: Run) -> None:
    bad = tmp_path / "readings.csv"
    bad.write_text(TABLE_FAULTS[fault]((kept / "readings.csv").read_text(encoding="utf-8")), encoding="utf-8")
    done = run("back", "table", bad, "--sheet", kept / "sheet.toml", "-o", tmp_path / "back.json")
    assert_refused(done, "✗")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["readings.csv"]


def test_all_faults_of_a_table_are_told_at_once_with_their_rows(kept: Path, tmp_path: Path, run: Run) -> None:
    rows = (kept / "readings.csv").read_text(encoding="utf-8").split("\n")
    first = next(i for i, row in enumerate(rows) if row.startswith("1;"))
    for i in (first, first + 1, first + 2):
        cells = rows[i].split(";")
        cells[8] = "1x7"
        rows[i] = ";".join(cells)
    bad = tmp_path / "readings.csv"
    bad.write_text("\n".join(rows), encoding="utf-8")
    done = run("back", "table", bad, "-s", kept / "sheet.toml", "-o", tmp_path / "back.json", "--json")
    assert done.exit_code == 1
    told = json.loads(done.stdout)
    assert told["done"] is False
    assert {p["where"]["row"] for p in told["problems"]} >= {first + 1, first + 2, first + 3}


def assert_refused(done: object, *words: str) -> None:
    """Assert a sentence on stderr, status 1, and no traceback anywhere."""
    assert done.exit_code == 1, done.output
    assert "Traceback" not in done.output
    for word in words:
        assert word in done.stderr


@pytest.mark.parametrize("name", ["missing.csv", "."])
def test_a_file_that_cannot_be_opened(name: str, kept: Path, tmp_path: Path, run: Run) -> None:
    done = run("back", "table", tmp_path / name, "-s", kept / "sheet.toml", "-o", tmp_path / "back.json")
    assert_refused(done, str(tmp_path / name), "Check")


def test_nothing_is_written_over_unless_told(kept: Path, tmp_path: Path, run: Run) -> None:
    there = tmp_path / "back.json"
    there.write_text("mine", encoding="utf-8")
    done = run("back", "table", kept / "readings.csv", "-s", kept / "sheet.toml", "-o", there)
    assert_refused(done, "already there", "--overwrite")
    assert there.read_text(encoding="utf-8") == "mine"


MESH_FAULTS = {
    "no faces": ("mesh.off", b"OFF\n3 0 0\n0 0 0\n1 0 0\n0 1 0\n"),
    "empty": ("mesh.ply", b""),
    "not a mesh": ("mesh.stl", b"\xff\xd8\xff\xe0 a photograph"),
    "counts beyond the file": ("mesh.off", b"OFF\n99999999 99999999 0\n0 0 0\n"),
    "not a number": ("mesh.off", b"OFF\n3 1 0\nnan 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"),
    "corner out of range": ("mesh.off", b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 7\n"),
}


@pytest.mark.parametrize("fault", MESH_FAULTS)
def test_a_bad_mesh(fault: str, kept: Path, tmp_path: Path, run: Run) -> None:
    name, content = MESH_FAULTS[fault]
    (tmp_path / name).write_bytes(content)
    done = run("back", "scan", tmp_path / name, "-m", kept / "marks.toml", "-o", tmp_path / "back.json")
    assert_refused(done, name)
    assert sorted(p.name for p in tmp_path.iterdir()) == [name]


def test_a_scan_without_a_unit_is_asked_about(kept: Path, tmp_path: Path, run: Run) -> None:
    marks = tmp_path / "marks.toml"
    text = (kept / "marks.toml").read_text(encoding="utf-8")
    marks.write_text(text.replace('unit = "mm"\n', ""), encoding="utf-8")
    done = run("back", "scan", kept / "scan.ply", "-m", marks, "-o", tmp_path / "back.json")
    assert_refused(done, "unit")


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("tree", "angle"), 400.0),
        (("tree", "width"), -5.0),
        (("panel", "length"), 1e9),
        (("family",), "flying"),
    ],
)
def test_a_bad_saddle(path: tuple[str, ...], value: object, kept: Path, tmp_path: Path, run: Run) -> None:
    held = json.loads((kept / "saddle.json").read_text(encoding="utf-8"))
    table = held
    for name in path[:-1]:
        table = table[name]
    assert path[-1] in table
    table[path[-1]] = value
    bad = tmp_path / "saddle.json"
    bad.write_text(json.dumps(held), encoding="utf-8")
    done = run("saddle", "file", bad, "-o", tmp_path / "record.json")
    assert_refused(done, path[-1])
    assert not (tmp_path / "record.json").exists()


def test_a_wrong_call_is_status_2(run: Run) -> None:
    assert run("fit", "only-one.json").exit_code == 2
    assert run("flying").exit_code == 2


def test_marks_in_the_wrong_order_are_named_with_their_sheet(kept: Path, tmp_path: Path, run: Run) -> None:
    sheet = tmp_path / "sheet.toml"
    text = (kept / "sheet.toml").read_text(encoding="utf-8")
    sheet.write_text(re.sub(r"\nwithers = .*", "\nwithers = 600", text), encoding="utf-8")
    done = run("back", "table", kept / "readings.csv", "-s", sheet, "-o", tmp_path / "back.json")
    assert_refused(done, str(sheet), "withers", "last-rib mark")
    assert not (tmp_path / "back.json").exists()


def test_an_instrument_that_is_not_shipped_is_named_with_its_sheet(
    kept: Path, tmp_path: Path, run: Run
) -> None:
    sheet = tmp_path / "sheet.toml"
    text = (kept / "sheet.toml").read_text(encoding="utf-8")
    sheet.write_text(text.replace("comb-41x10", "combe"), encoding="utf-8")
    done = run("back", "table", kept / "readings.csv", "-s", sheet, "-o", tmp_path / "back.json")
    assert_refused(done, str(sheet), "combe", "comb-41x10")


def test_a_name_given_twice_is_refused_and_not_half_read(kept: Path, tmp_path: Path, run: Run) -> None:
    bad = tmp_path / "saddle.json"
    text = (kept / "saddle.json").read_text(encoding="utf-8")
    bad.write_text(text.replace("{", '{"label": "another",', 1), encoding="utf-8")
    done = run("saddle", "file", bad, "-o", tmp_path / "record.json")
    assert_refused(done, "label", "twice")
    made = run("saddle", "file", kept / "saddle.json", "-o", tmp_path / "record.json")
    assert made.exit_code == 0
    text = (tmp_path / "record.json").read_text(encoding="utf-8")
    (tmp_path / "record.json").write_text(text.replace("{", '{"label": "another",', 1), encoding="utf-8")
    assert_refused(run("show", tmp_path / "record.json"), "label", "twice")


@pytest.mark.parametrize(
    ("option", "value", "word"),
    [
        ("--rider", "-5", "rider"),
        ("--rider", "100000", "rider"),
        ("--off-centre", "nan", "beside the middle"),
        ("--off-centre", "5000", "beside the middle"),
        ("--lift", "nan", "lifted"),
        ("--horse", "-5", "horse"),
        ("--tries", "10000000", "tries"),
    ],
)
def test_impossible_loads(option: str, value: str, word: str, kept: Path, tmp_path: Path, run: Run) -> None:
    run("back", "table", kept / "readings.csv", "-s", kept / "sheet.toml", "-o", tmp_path / "back.json")
    run("saddle", "file", kept / "saddle.json", "-o", tmp_path / "saddle.json")
    given = {"--rider": "70", "--tries": "0"} | {option: value}
    options = [word for pair in given.items() for word in pair]
    done = run("fit", tmp_path / "back.json", tmp_path / "saddle.json", *options, "-o", tmp_path / "fit.json")
    assert_refused(done, word)
    assert not (tmp_path / "fit.json").exists()


def in_a_process(words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run words of a shell in a process of its own, `saddlebench` being this program."""
    held = (
        f'saddlebench() {{ "{sys.executable}" -c "from saddlebench.cli import main; main()" "$@"; }}\n{words}'
    )
    return subprocess.run(  # noqa: S603 (a fixed script of this test's own)
        ["/bin/bash", "-c", held],
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        check=False,
        env=dict(os.environ) | environment,
    )


def test_a_stream_that_cannot_show_a_sign_is_no_fault(kept: Path, tmp_path: Path) -> None:
    done = in_a_process(
        f'saddlebench back table "{kept}/readings.csv" -s "{kept}/sheet.toml" -o "{tmp_path}/back.json"',
        PYTHONIOENCODING="ascii",
        PYTHONUTF8="0",
    )
    assert done.returncode == 0, done.stderr
    assert "? 3 mm" in done.stdout or "? 2 mm" in done.stdout
    assert "\x1b" not in done.stdout + done.stderr


def test_a_disk_that_is_full_names_the_file_that_was_meant_and_leaves_nothing(
    kept: Path, tmp_path: Path
) -> None:
    done = in_a_process(
        "ulimit -f 4; trap '' XFSZ; "
        f'saddlebench back table "{kept}/readings.csv" -s "{kept}/sheet.toml" -o "{tmp_path}/back.json"'
    )
    assert done.returncode == 1, done.stderr
    assert f"{tmp_path}/back.json: cannot be opened or written: File too large" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_whether_a_file_can_be_opened_is_found_by_opening_it(
    kept: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that may not be read is wrong input, status 1, and not a wrong call, status 2."""
    monkeypatch.setattr(os, "access", lambda *_given, **_named: False)
    done = run("saddle", "file", kept / "saddle.json", "-o", tmp_path / "record.json")
    assert done.exit_code == 0, done.output
    for words in (
        ["show"],
        ["back", "check"],
        ["draw", "-o", tmp_path],
        ["report", "-o", tmp_path / "x.pdf"],
    ):
        assert run(*words, tmp_path / "missing.json").exit_code == 1
