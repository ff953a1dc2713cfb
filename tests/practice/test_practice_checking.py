"""A fit check from recorded versions: computed by the engine, recorded, and the same when run again."""

import json

import pytest
from practice_cast import Cast, key
from practice_invented import invented_yard

from exchange.studies import back_record
from saddlebench.demo.saddles import TOO_NARROW, TREELESS
from saddlebench.engine.errors import InputProblemsError
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.numbers import SaddleNumbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.records import BackDocument, SaddleDocument, StudyDocument, as_json
from saddlebench.exchange.records.order import OrderDocument
from saddlebench.exchange.records.plan import PlanDocument
from saddlebench.practice import queries, services
from saddlebench.practice.documents import RECORD_NAMES, Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.models import BackVersion, SaddleVersion
from saddlebench.practice.services import CannotBeJudgedError, NotFoundError

REQUEST = StudyRequest(rider=Rider(mass_kg=70.0), draws=4, seed=7)


def test_kinds_are_called_as_the_record_files_call_themselves() -> None:
    assert {
        Subject.BACK: BackDocument.NAME,
        Subject.SADDLE: SaddleDocument.NAME,
        Subject.STUDY: StudyDocument.NAME,
        Subject.PLAN: PlanDocument.NAME,
        Subject.ORDER: OrderDocument.NAME,
    } == RECORD_NAMES


def _saddle(numbers: SaddleNumbers) -> SaddleRecord:
    return SaddleRecord(label=numbers.label, numbers=numbers, alterable=usual_alterations(numbers))


def _recorded(cast: Cast, saddle: SaddleRecord) -> tuple[BackVersion, SaddleVersion]:
    yard = invented_yard(cast.fitter)
    back = services.record_back(
        cast.fitter,
        yard.horse.uuid,
        Document(text=as_json(BackDocument.of(back_record()))),
        measured_on=back_record().measured_on,
    )
    measured = services.record_saddle(
        cast.fitter, yard.saddle.uuid, Document(text=as_json(SaddleDocument.of(saddle)))
    )
    return back.version, measured.version


def test_a_check_is_computed_recorded_and_the_same_when_run_again(cast: Cast) -> None:
    back, saddle = _recorded(cast, _saddle(TOO_NARROW))
    told: list[str] = []
    document = services.compute_check(
        cast.fitter,
        REQUEST,
        back_version=back.uuid,
        saddle_version=saddle.uuid,
        progress=lambda _done, _of, doing: told.append(doing),
    )
    assert told
    run = services.record_study(
        cast.fitter, document, back_version=back.uuid, saddle_version=saddle.uuid
    ).version
    inputs = json.loads(run.document)["inputs"]
    assert (inputs["back_version"], inputs["saddle_version"]) == (back.sha256, saddle.sha256)
    # The record moves on; the run is made again on what it was run on.
    changed = Document(text=back.document.replace('"notes": ""', '"notes": "corrected"'))
    services.correct_back(cast.fitter, back.back.uuid, changed, why="a note", seen=1)
    again = services.rerun_check(cast.fitter, run)
    assert again.is_same
    assert again.document.text == run.document
    assert services.checking.run_again(cast.fitter, run.study.uuid, 1).is_same
    with pytest.raises(NotFoundError):
        services.checking.run_again(cast.fitter, run.study.uuid, 2)
    with pytest.raises(NotFoundError):
        services.checking.run_again(cast.other, run.study.uuid, 1)
    assert queries.study_use(cast.fitter, run.study.uuid)[0].is_on_current is False
    with pytest.raises(NotFoundError):
        services.compute_check(cast.other, REQUEST, back_version=back.uuid, saddle_version=saddle.uuid)


def test_a_saddle_that_the_model_does_not_cover_is_not_guessed(cast: Cast) -> None:
    back, saddle = _recorded(cast, _saddle(TREELESS))
    with pytest.raises(CannotBeJudgedError, match="cannot be judged"):
        services.compute_check(cast.fitter, REQUEST, back_version=back.uuid, saddle_version=saddle.uuid)


def test_a_record_that_is_no_back_is_told_field_by_field(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    text = '{"format": "saddlebench back record", "version": 1, "label": "x"}'
    back = services.record_back(
        cast.fitter, yard.horse.uuid, Document(text=text), measured_on=yard.visit.date, uuid=key()
    ).version
    saddle = services.record_saddle(
        cast.fitter,
        yard.saddle.uuid,
        Document(text=as_json(SaddleDocument.of(_saddle(TOO_NARROW)))),
    ).version
    with pytest.raises(InputProblemsError) as caught:
        services.compute_check(cast.fitter, REQUEST, back_version=back.uuid, saddle_version=saddle.uuid)
    assert {"instrument", "stance"} <= {problem.where.field for problem in caught.value.problems}
