"""Trend and exercise files: written, read back, written again to the same bytes."""

import datetime as dt
import json
from dataclasses import replace
from math import inf

import numpy as np
import pytest

from saddlebench.engine.back.estimates import Estimate
from saddlebench.engine.back.quantities import LENGTH, WITHERS_WIDTH, Tolerance
from saddlebench.engine.back.record import Coat
from saddlebench.engine.change.repeat.own import InUse, OwnErrors
from saddlebench.engine.change.repeat.sets import Repeat
from saddlebench.engine.change.repeat.study import study_repeats
from saddlebench.engine.change.trend.recheck import advise_recheck
from saddlebench.engine.change.trend.series import Correlations, Visit
from saddlebench.engine.change.trend.study import study_trends
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.fit.study import ErrorsUsed
from saddlebench.exchange.own_errors import OwnHand
from saddlebench.exchange.records.repeat import read_repeats, write_repeats
from saddlebench.exchange.records.trend import TrendDocument, read_trend, write_trend
from saddlebench.exchange.trend_job import NumberedVisits, older_words

FIRST = dt.date(2025, 1, 6)


def _visits(n):
    rng = np.random.default_rng(1)
    visits = []
    for k in range(n):
        estimates = {
            quantity: Estimate(
                value=float(value), sd=1.0, low=float(value) - 2, high=float(value) + 2, unit="mm"
            )
            for quantity, value in ((WITHERS_WIDTH, 250.0 + rng.normal()), (LENGTH, 540.0 + rng.normal()))
        }
        visits.append(
            Visit(
                day=FIRST + dt.timedelta(days=42 * k),
                label="Bramble (invented)",
                device="comb [0]",
                coat=Coat.WINTER,
                estimates=estimates,
                fresh_share={WITHERS_WIDTH: 0.5},
                correlations=Correlations(quantities=(LENGTH, WITHERS_WIDTH), rows=((), (0.25,))),
            )
        )
    return tuple(visits)


def test_a_trend_with_advice_is_read_back_as_it_was(tmp_path):
    visits = _visits(6)
    fitted = study_trends(visits).fitted
    limits = (
        Tolerance(quantity=WITHERS_WIDTH, lower=-1.0, upper=1.0, why="narrow"),
        Tolerance(quantity=LENGTH, lower=-300.0, upper=inf, why="open above, never left"),
    )
    due = visits[-1].day + dt.timedelta(days=182)
    advice = advise_recheck(fitted, limits, due_from=due, due_by=due, reason="a steady adult")
    document = TrendDocument.of(visits, tuple(one.trend for one in fitted), advice)
    path, again = tmp_path / "one.json", tmp_path / "two.json"
    write_trend(document, path)
    read = read_trend(path)
    write_trend(read, again)
    assert again.read_bytes() == path.read_bytes()
    assert read.held_visits()[0].estimates == visits[0].estimates
    held = read.held_visits()[0].correlations
    assert held == Correlations(quantities=(WITHERS_WIDTH, LENGTH), rows=((), (0.25,)))
    assert read.advice == advice
    assert [one.leaves_on is None for one in read.advice.leaving] == [False, True]


def test_a_visit_that_does_not_belong_is_kept_with_what_of_it(tmp_path):
    visits = list(_visits(8))
    estimate = visits[3].estimates[LENGTH]
    far = replace(estimate, value=estimate.value + 40.0)
    visits[3] = replace(visits[3], estimates={**visits[3].estimates, LENGTH: far})
    study = study_trends(visits)
    trends = tuple(one.trend for one in study.fitted)
    path = tmp_path / "odd.json"
    write_trend(TrendDocument.of(tuple(visits), trends, odd_visits=study.odd_visits), path)
    (odd,) = read_trend(path).odd_visits
    assert (odd.day, odd.numbers) == (visits[3].day, (LENGTH,))
    assert read_trend(path).odd_visits == study.odd_visits


def test_numbers_that_say_of_too_many_others_how_they_go_together_are_refused(tmp_path):
    path = tmp_path / "wrong.json"
    write_trend(TrendDocument.of(_visits(1), ()), path)
    held = json.loads(path.read_text())
    held["visits"][0]["numbers"][0]["with_earlier"] = [0.5, 0.5]
    path.write_text(json.dumps(held))
    with pytest.raises(InputProblemsError, match="with_earlier"):
        read_trend(path)


def test_two_visits_are_kept_though_they_make_no_trend(tmp_path):
    visits = _visits(2)
    path = tmp_path / "two.json"
    write_trend(TrendDocument.of(visits, tuple(one.trend for one in study_trends(visits).fitted)), path)
    read = read_trend(path)
    assert "three visits" in read.trends[0].line.reason
    assert len(read.held_visits()) == 2


def test_visits_kept_by_other_errors_than_todays_are_named(tmp_path):
    visits = _visits(4)
    used = ErrorsUsed(whose="comb", times=0.8)
    kept = TrendDocument.of(visits, (), own_errors={visits[1].day: used, visits[2].day: used})
    path = tmp_path / "kept.json"
    write_trend(kept, path)
    read = read_trend(path)
    assert read.held_errors() == {visits[1].day: used, visits[2].day: used}
    held = NumberedVisits(visits=read.held_visits(), own_errors=read.held_errors())
    (stated,) = older_words(held, None)
    assert stated == (
        "Visits of 17 February 2025 to 31 March 2025 (2) rest on older figures: then 0.80 times what the "
        "instrument states; now the errors that the instrument states."
    )
    own = OwnErrors(
        factor=0.8,
        low=0.6,
        high=1.1,
        degrees=12.0,
        n_repeats=5,
        n_backs=1,
        in_use=InUse.OWN,
        applied=0.8,
        why="",
    )
    (line,) = older_words(held, OwnHand(instrument="comb", own=own))
    assert line.startswith(
        "Visits of 6 January 2025 to 12 May 2025 (2) rest on older figures: then the errors that"
    )
    assert older_words(NumberedVisits(visits=visits, own_errors={}), None) == ()
    # Another instrument than the exercises' stays with what it states.
    assert (
        older_words(NumberedVisits(visits=visits, own_errors={}), OwnHand(instrument="chain", own=own)) == ()
    )


def test_a_repeat_study_is_read_back_as_it_was(tmp_path):
    rng = np.random.default_rng(2)
    repeats = [
        Repeat(
            back=f"back {b}",
            fitter=fitter,
            instrument="comb",
            values={WITHERS_WIDTH: 250.0 + 10.0 * b + rng.normal()},
        )
        for b in range(4)
        for fitter in ("A", "B", "C")
        for _ in range(2)
    ]
    for chosen in (repeats, repeats[:6], repeats[:1]):
        study = study_repeats(chosen)
        path = tmp_path / "study.json"
        write_repeats(study, path)
        assert read_repeats(path) == study
        assert json.loads(path.read_text())["format"] == "saddlebench repeat study"
