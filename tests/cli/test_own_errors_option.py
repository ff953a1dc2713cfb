"""Own measuring errors from files of exercises: used once known as well, said, refused with a reason."""

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
from saddlebench.engine.change.repeat.own import Ratio, own_errors
from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.own_errors import errors_words
from saddlebench.exchange.readers import Language, Reader
from saddlebench.exchange.records import read_study, write_back, write_saddle
from saddlebench.exchange.records.document import write_document
from saddlebench.exchange.records.repeat import CheckMeDocument
from saddlebench.exchange.retelling import retold

OUTPUT = Draft202012Validator(output_schema())
COMB = "comb-24x15-foot"


def _exercise(path, instrument, *, observed, degrees):
    """Write an exercise whose repeats scatter by a known factor."""
    ratio = Ratio(observed=observed, stated=2.0, fixed=0.2, degrees=degrees, n_repeats=5)
    document = CheckMeDocument(
        back="Bramble (invented)",
        day=dt.date(2026, 5, 14),
        instrument=instrument.name,
        n_repeats=5,
        overall=own_errors([ratio]),
        numbers=(),
        patterns=(),
        practise="",
        ratio=ratio,
    )
    write_document(document, path)
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("own")
    shape, tool = shapes.PLAIN, example_instrument(COMB)
    for k, day in enumerate((dt.date(2026, 5, 14), dt.date(2026, 9, 1))):
        readings = measured_at(
            shape, tool, (-140.0, -20.0, 110.0, 280.0, 450.0, 600.0), np.random.default_rng(k)
        )
        record = BackRecord(
            label="Bramble (invented)",
            measured_on=day,
            instrument=tool,
            readings=readings,
            landmarks=shape.landmarks,
        )
        write_back(record, made / f"{k}.back.json")
    write_saddle(YARD[0].saddle, made / "a.saddle.json")
    # Observed twice the stated variance, a tenth of it fixed: sqrt((2 - 0.1) / 0.9) times the stated errors.
    _exercise(made / "enough.json", tool, observed=4.0, degrees=9.0)
    _exercise(made / "few.json", tool, observed=2.0, degrees=3.0)
    _exercise(made / "curve.json", example_instrument("curve-mm"), observed=4.0, degrees=9.0)
    return made


def _result(ran):
    said = json.loads(ran.stdout)
    assert list(OUTPUT.iter_errors(said)) == []
    return said["result"]


def test_a_fit_check_goes_by_own_errors_once_they_are_known_and_says_so(folder, run, tmp_path):
    asked = ("fit", folder / "0.back.json", folder / "a.saddle.json", "--rider", "70", "--tries", "8")
    stated = _result(run(*asked, "--json"))
    assert stated["measuring_errors"] == "The measuring errors are those that the instrument states."
    out = tmp_path / "own.fit.json"
    own = _result(run(*asked, "--own-errors", folder / "enough.json", "-o", out, "--json"))
    assert "1.5 times those that the instrument states" in own["measuring_errors"]
    held = read_study(out).inputs.own_errors
    assert held.times == pytest.approx(np.sqrt(1.9 / 0.9), abs=1e-6)
    few = _result(run(*asked, "--own-errors", folder / "few.json", "--json"))
    assert few == stated | {"written": None}


def test_several_exercises_count_together(folder, run):
    asked = ("fit", folder / "0.back.json", folder / "a.saddle.json", "--rider", "70", "--tries", "0")
    both = ("--own-errors", folder / "few.json", "--own-errors", folder / "enough.json")
    said = _result(run(*asked, *both, "--json"))["measuring_errors"]
    # Weighted by degrees of freedom: (9 * 2 + 3 * 1) / 12 of the stated variance.
    assert f"{np.sqrt((1.75 - 0.1) / 0.9):.2g} times" in said


def test_a_change_is_told_less_surely_by_an_unsteady_hand(folder, run):
    asked = ("change", folder / "0.back.json", folder / "1.back.json")
    own = ("--own-errors", folder / "enough.json")
    stated, ours = (_result(run(*asked, *more, "--json")) for more in ((), own))

    def width(result):
        low, high = next(one["interval_95"] for one in result["compared"]["numbers"] if "change" in one)
        return high - low

    assert width(ours) > width(stated)
    assert "The measuring errors are those that the instrument states." in stated["cautions"]
    assert any("1.5 times those that the instrument states" in caution for caution in ours["cautions"])


def test_a_trend_says_whose_errors_its_visits_went_by(folder, run, tmp_path):
    first, kept = tmp_path / "first.trend.json", ("--own-errors", folder / "enough.json")
    assert (
        "errors are those that the instrument states"
        in run("trend", folder / "0.back.json", "-o", first).stderr
    )
    said = run("trend", folder / "1.back.json", "--onto", first, *kept).stderr
    assert "errors are those that the instrument states" in said
    assert "1.5 times" in said


def test_exercises_with_another_instrument_are_refused(folder, run):
    asked = ("fit", folder / "0.back.json", folder / "a.saddle.json", "--rider", "70", "--tries", "0")
    ran = run(*asked, "--own-errors", folder / "curve.json")
    assert ran.exit_code == Exit.WRONG_INPUT
    assert "measured with another instrument" in ran.stderr
    ran = run(*asked, "--own-errors", folder / "enough.json", "--own-errors", folder / "curve.json")
    assert ran.exit_code == Exit.WRONG_INPUT
    assert "curve.json" in ran.stderr


def test_what_is_no_exercise_is_refused(folder, run):
    asked = ("fit", folder / "0.back.json", folder / "a.saddle.json", "--rider", "70", "--tries", "0")
    ran = run(*asked, "--own-errors", folder / "1.back.json")
    assert ran.exit_code == Exit.WRONG_INPUT
    assert "1.back.json" in ran.stderr


def test_german_owners_read_whose_errors(folder):
    german = replace(Reader(), language=Language.GERMAN)
    own = ErrorsUsed(whose="Anna with comb", times=1.4)
    assert retold(errors_words(None), german) == "Die Messfehler sind die, die das Instrument angibt."
    assert "das 1,4-Fache" in retold(errors_words(own), german)
