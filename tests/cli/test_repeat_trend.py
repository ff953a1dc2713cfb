"""The commands on repeats, trends and doubts, from files to files."""

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from saddlebench.cli.exit_codes import Exit
from saddlebench.cli.output_schema import output_schema
from saddlebench.demo import shapes
from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.record import BackRecord
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.records import write_back, write_saddle
from saddlebench.exchange.records.repeat import read_repeats
from saddlebench.exchange.records.trend import read_trend

OUTPUT = Draft202012Validator(output_schema())
STATIONS = (-140.0, -20.0, 110.0, 280.0, 450.0, 600.0)
LABEL = "Bramble (invented)"


def _write(path, seed, day, *, label=LABEL, instrument="comb-24x15-foot", slope=1.0):
    shape = replace(
        shapes.PLAIN,
        withers=replace(shapes.PLAIN.withers, flank_slope=shapes.PLAIN.withers.flank_slope * slope),
    )
    tool = example_instrument(instrument)
    readings = measured_at(shape, tool, STATIONS, np.random.default_rng(seed))
    record = BackRecord(
        label=label, measured_on=day, instrument=tool, readings=readings, landmarks=shape.landmarks
    )
    write_back(record, path)
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("records")
    for k in range(3):
        _write(made / f"again{k}.back.json", k, dt.date(2026, 5, 14))
        day = dt.date(2026, 1, 5) + dt.timedelta(days=50 * k)
        _write(made / f"visit{k}.back.json", 10 + k, day, slope=1.0 + 0.05 * k)
    _write(made / "other.back.json", 5, dt.date(2026, 5, 14), label="Kestrel (invented)")
    _write(made / "curve.back.json", 6, dt.date(2026, 5, 14), instrument="curve-mm")
    return made


def _result(run):
    said = json.loads(run.stdout)
    assert list(OUTPUT.iter_errors(said)) == []
    return said["result"]


def test_check_me_says_how_good_the_hand_is(folder, run, tmp_path):
    backs = [folder / f"again{k}.back.json" for k in range(3)]
    written = tmp_path / "me.json", tmp_path / "me.svg", tmp_path / "where.svg"
    wanted = ("-o", written[0], "--picture", written[1], "--surface", written[2])
    ran = run("repeat", "me", *backs, "--same-marks", *wanted, "--json")
    assert ran.exit_code == Exit.DONE
    result = _result(ran)
    assert result["repeats"] == 3
    assert result["overall"]["in_use"] == "the instrument's stated errors"
    assert any(one["what"] == "withers width" for one in result["numbers"])
    assert all(path.is_file() for path in written)
    assert "withers" in json.loads(written[0].read_text())["numbers"][0]["quantity"]["where"]
    shown = run("show", written[0], "--json")
    assert _result(shown)["overall"] == result["overall"]
    assert "Where this hand repeats well" in written[2].read_text()
    told = run("repeat", "me", *backs, "--same-marks")
    assert "In use" in told.stdout
    assert "screening aid" in told.stderr


def test_check_me_refuses_what_is_no_repeat(folder, run):
    backs = [folder / f"again{k}.back.json" for k in range(2)]
    for odd, said in (("other", "another horse"), ("curve", "another instrument")):
        ran = run("repeat", "me", *backs, folder / f"{odd}.back.json")
        assert ran.exit_code == Exit.WRONG_INPUT
        assert said in ran.stderr
    few = run("repeat", "me", *backs)
    assert few.exit_code == Exit.WRONG_INPUT
    assert "three repeats at least" in few.stderr


def test_a_repeat_study_of_two_fitters(folder, run, tmp_path):
    files = [f"Ann={folder}/again0.back.json", f"Ann={folder}/again1.back.json"]
    files += [f"Ben={folder}/again2.back.json", f"Ben={folder}/visit1.back.json"]
    path = tmp_path / "study.json"
    ran = run("repeat", "study", *files, "-o", path, "--json")
    assert ran.exit_code == Exit.DONE
    result = _result(ran)
    assert result["fitters"] == ["Ann", "Ben"]
    number = next(one for one in result["numbers"] if one["what"] == "withers width")
    assert number["reproducibility"]["standard_deviation"] >= number["repeatability"]["standard_deviation"]
    assert read_repeats(path).n_repeats == 4
    assert "by Ann, Ben" in run("repeat", "study", *files).stdout
    held = _result(run("repeat", "study", *files, "--tolerance", "mm=10", "--tolerance", "deg=6", "--json"))
    width = next(one for one in held["numbers"] if one["what"] == "withers width")
    assert width["of_tolerance"] == pytest.approx(6.0 * width["reproducibility"]["standard_deviation"] / 10.0)
    assert all(one["tolerance"] is None for one in held["numbers"] if one["unit"] == "cm²")
    wanted = ("--tolerance", "withers width=8", "-o", tmp_path / "held.json")
    told = run("repeat", "study", *files, *wanted)
    assert "numbers held against a tolerance" in " ".join(told.stdout.split())
    assert "usual guide values" in " ".join(told.stderr.split())
    assert {one.tolerance for one in read_repeats(tmp_path / "held.json").quantities} == {None, 8.0}
    for wrong, said in (("mm", "does not say"), ("mm=0", "no width"), ("tail=3", "no number is called")):
        refused = run("repeat", "study", *files, "--tolerance", wrong)
        assert refused.exit_code == Exit.WRONG_INPUT
        assert said in refused.stderr
    alone = run("repeat", "study", folder / "other.back.json", folder / "again0.back.json")
    assert alone.exit_code == Exit.WRONG_INPUT
    assert "no back was measured twice" in alone.stderr


def test_a_trend_is_kept_and_added_to(folder, run, tmp_path):
    first, second = tmp_path / "first.trend.json", tmp_path / "second.trend.json"
    picture = tmp_path / "trend.svg"
    assert run("trend", *(folder / f"visit{k}.back.json" for k in (0, 1)), "-o", first).exit_code == Exit.DONE
    ran = run(
        "trend", folder / "visit2.back.json", "--onto", first, "-o", second, "--picture", picture, "--json"
    )
    assert ran.exit_code == Exit.DONE
    result = _result(ran)
    width = next(one for one in result["trends"] if one["what"] == "width 150 mm below the midline")
    assert len(width["points"]) == 3
    assert width["overall"]["change"] > 5.0
    assert result["look_again"]["day"] > "2026-04-15"
    assert len(read_trend(second).held_visits()) == 3
    assert _result(run("show", second, "--json"))["look_again"] == result["look_again"]
    assert "<title" in picture.read_text()
    whole = run("trend", *(folder / f"visit{k}.back.json" for k in range(3)), "--horse-is", "young")
    assert "Look again by" in whole.stdout
    assert "veterinary surgeon" in whole.stderr


def test_one_visit_and_two_are_told_to_be_no_trend(folder, run):
    one = run("trend", folder / "visit0.back.json")
    assert one.exit_code == Exit.DONE
    said = " ".join(one.stdout.split())
    assert said.startswith("No trend yet: 1 of the 3 visits that make one.")
    assert "5 January 2026" in said
    assert "not known" not in said
    assert "numbers moved" not in said
    result = _result(run("trend", folder / "visit0.back.json", "--json"))
    assert (result["visits"], result["odd_visits"]) == (1, [])
    assert result["no_trend"].startswith("No trend yet")
    two = run("trend", *(folder / f"visit{k}.back.json" for k in (0, 1)))
    assert "saddlebench change" in two.stdout


def test_a_trend_is_of_one_horse_with_one_record_a_day(folder, run):
    other = run("trend", folder / "visit0.back.json", folder / "other.back.json")
    assert other.exit_code == Exit.WRONG_INPUT
    assert "A trend is of one horse" in other.stderr
    twice = run("trend", folder / "again0.back.json", folder / "again1.back.json")
    assert twice.exit_code == Exit.WRONG_INPUT
    assert "second record" in twice.stderr
    assert run("trend").exit_code == Exit.WRONG_INPUT
    assert run("trend", folder / "visit0.back.json", "--horse-is", "blue").exit_code == Exit.MISUSE


def test_a_fit_check_says_what_to_measure_again(folder, run, tmp_path):
    saddle, fit, picture = tmp_path / "saddle.json", tmp_path / "fit.json", tmp_path / "doubt.svg"
    write_saddle(YARD[0].saddle, saddle)
    back = folder / "visit1.back.json"
    assert run("fit", back, saddle, "--rider", 70, "--tries", 48, "-o", fit).exit_code == Exit.DONE
    ran = run("doubt", fit, "--all", "-o", picture, "--json")
    assert ran.exit_code == Exit.DONE
    result = _result(ran)
    assert result["tries"] == 48
    assert len(result["findings"]) > 10
    rib = next(one for one in result["findings"] if one["finding"] == "bearing past the last-rib mark")
    assert rib["repeat"] == "the last-rib mark"
    assert rib["sources"][0]["removes"] == pytest.approx(0.5, abs=0.05)
    assert "What the doubt comes from" in picture.read_text()
    told = run("doubt", fit, "--all")
    assert "a repeat removes" in " ".join(told.stdout.split())
    assert "screening aid" in told.stderr
