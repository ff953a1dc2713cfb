"""What was traced on prints whose scale nothing checked says so, from the record to what is made of it."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from saddlebench.demo.fieldwork import measured_at
from saddlebench.demo.yard import YARD
from saddlebench.engine.back.instruments import TracedCurve
from saddlebench.engine.back.quality import Verdict, size_doubt
from saddlebench.engine.back.record import BackRecord
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.fit.study import FitStudy
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.instruments import example_instrument
from saddlebench.exchange.job import StudyRequest, back_cautions, of_the_back, study_of
from saddlebench.exchange.planning import task_of_study
from saddlebench.exchange.readers import Language, Reader
from saddlebench.exchange.retelling import noting_missed, retold
from saddlebench.report import owner_report, workshop_report
from support.reports import setting, text_of

HORSE = next(one for one in YARD if one.name == "Bramble")
SIZE = "may be off together by ± 3 %"


def traced(scale_sd: float) -> MeasuredBack:
    tool = example_instrument("curve-mm")
    assert isinstance(tool, TracedCurve)
    tool = replace(tool, scale_sd=scale_sd)
    readings = measured_at(HORSE.shape, tool, HORSE.stations_mm, np.random.default_rng(4))
    day = dt.date(2026, 5, 14)
    return measured(
        BackRecord(
            label="Bramble",
            measured_on=day,
            instrument=tool,
            readings=readings,
            landmarks=HORSE.shape.landmarks,
        )
    )


@pytest.fixture(scope="module")
def unchecked() -> MeasuredBack:
    return traced(0.03)


@pytest.fixture(scope="module")
def study(unchecked: MeasuredBack) -> FitStudy:
    request = StudyRequest(rider=Rider(mass_kg=HORSE.rider_kg), draws=0)
    made = study_of(unchecked, HORSE.saddle, request)
    assert isinstance(made, FitStudy)
    return made


def test_the_record_says_it_and_is_for_no_order(unchecked: MeasuredBack) -> None:
    said = [one.what for one in unchecked.quality.problems]
    assert sum("size is known to ± 3 % only" in one for one in said) == 1
    assert unchecked.quality.verdict is not Verdict.GOOD


def test_a_print_that_was_checked_says_nothing_of_it() -> None:
    checked = traced(0.0035)
    assert size_doubt(checked.record.instrument) is None
    assert not any("size is known" in one.what for one in checked.quality.problems)
    assert not any(SIZE in one for one in back_cautions(checked))


def test_the_fit_check_says_it_and_so_does_a_plan_made_from_it(study: FitStudy) -> None:
    assert sum(SIZE in one for one in study.cautions) == 1
    task = task_of_study(study, HORSE.saddle)
    assert task.of_the_back == of_the_back(study.cautions)
    assert sum(SIZE in one for one in task.of_the_back) == 1
    assert len(task.of_the_back) < len(study.cautions)


def test_german_readers_are_told_it(study: FitStudy, unchecked: MeasuredBack) -> None:
    sentences = [*of_the_back(study.cautions), *(one.what for one in unchecked.quality.problems)]
    with noting_missed() as missed:
        told = [retold(one, Reader(language=Language.GERMAN)) for one in sentences]
    assert missed == []
    assert sum("± 3 %" in one for one in told) == 2


@pytest.mark.parametrize(
    ("language", "words"),
    [(Language.ENGLISH, "nothing checked the scale"), (Language.GERMAN, "nichts geprüft")],
    ids=["english", "german"],
)
def test_owner_and_workshop_read_it_on_their_papers(study: FitStudy, language: Language, words: str) -> None:
    for paper in (owner_report(study, setting(language)), workshop_report(study, setting(language))):
        text = " ".join(text_of(paper).split())
        assert words in text
        assert "± 3 %" in text.replace("\u00a0", " ").replace("\u202f", " ")
