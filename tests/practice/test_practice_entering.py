"""A value entered is saved once; a second editor is told, sees both, and loses nothing."""

import uuid as uuids

import pytest
from practice_cast import Cast, key
from practice_invented import invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import services
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Field, Kind, Value
from saddlebench.practice.enums import Outcome, Subject
from saddlebench.practice.models import Answer, AuditRow, Entry, Horse, Visit
from saddlebench.practice.services import Entered


def test_a_field_is_saved_as_it_is_entered(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    one = Entered(field="heart_girth_cm", value="182,5", key=key(), seen=0)
    (result,) = services.enter(cast.fitter, Subject.VISIT, visit.uuid, [one])
    assert (result.outcome, result.value, result.revision) == (Outcome.SAVED, 182.5, 1)
    answer = Answer.objects.get(subject_uuid=visit.uuid, field="heart_girth_cm")
    assert (answer.value, answer.entered_by_id) == (182.5, cast.fitter.user_id)


def test_a_repeat_is_no_duplicate_and_says_what_was_said_then(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    one = Entered(field="reason", value="Dips at mounting", key=key(), seen=0)
    first = services.enter(cast.fitter, Subject.VISIT, visit.uuid, [one])
    rows = AuditRow.objects.count()
    assert services.enter(cast.fitter, Subject.VISIT, visit.uuid, [one]) == first
    assert Entry.objects.filter(subject_uuid=visit.uuid).count() == 1
    assert AuditRow.objects.count() == rows
    assert Visit.objects.get(pk=visit.pk).revision == 1


def test_one_key_cannot_serve_two_fields(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    same = key()
    services.enter(
        cast.fitter, Subject.VISIT, visit.uuid, [Entered(field="reason", value="a", key=same, seen=0)]
    )
    with pytest.raises(InputProblemsError, match="one key"):
        services.enter(
            cast.fitter, Subject.VISIT, visit.uuid, [Entered(field="history", value="a", key=same, seen=0)]
        )


def test_the_second_editor_sees_both_values_and_loses_nothing(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    services.enter(
        cast.owner, Subject.VISIT, visit.uuid, [Entered(field="reason", value="Rubs", key=key(), seen=0)]
    )
    late = Entered(field="reason", value="Slips", key=key(), seen=0)
    (held,) = services.enter(cast.fitter, Subject.VISIT, visit.uuid, [late])
    assert held.outcome is Outcome.HELD
    assert held.value == "Slips"
    assert held.other is not None
    assert (held.other.value, held.other.entered_by, held.other.revision) == ("Rubs", "Orla Invented", 1)
    assert Answer.objects.get(subject_uuid=visit.uuid, field="reason").value == "Rubs"
    assert Entry.objects.get(key=late.key).value == "Slips"
    (again,) = services.enter(
        cast.fitter, Subject.VISIT, visit.uuid, [Entered(field="reason", value="Slips", key=key(), seen=1)]
    )
    assert again.outcome is Outcome.SAVED
    assert Answer.objects.get(subject_uuid=visit.uuid, field="reason").value == "Slips"


def test_two_editors_of_two_fields_do_not_meet(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    for actor, field, value in ((cast.owner, "colour", "bay"), (cast.fitter, "discipline", "hunting")):
        (result,) = services.enter(
            actor, Subject.HORSE, yard.horse.uuid, [Entered(field=field, value=value, key=key(), seen=0)]
        )
        assert result.outcome is Outcome.SAVED
    horse = Horse.objects.get(pk=yard.horse.pk)
    assert (horse.colour, horse.discipline, horse.revision) == ("bay", "hunting", 2)


def test_two_who_enter_the_same_agree(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    for actor, outcome in ((cast.owner, Outcome.SAVED), (cast.fitter, Outcome.SAME)):
        (result,) = services.enter(
            actor, Subject.VISIT, visit.uuid, [Entered(field="coat", value="winter", key=key(), seen=0)]
        )
        assert result.outcome is outcome


def test_one_wrong_value_saves_none_of_a_form(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    with pytest.raises(InputProblemsError) as caught:
        services.enter(
            cast.fitter,
            Subject.VISIT,
            visit.uuid,
            [
                Entered(field="reason", value="fine", key=key(), seen=0),
                Entered(field="condition_score", value="11", key=key(), seen=0),
                Entered(field="coat", value="tartan", key=key(), seen=0),
                Entered(field="owner", value={"label": "x", "client": str(uuids.uuid4())}, key=key(), seen=0),
                Entered(field="no_such", value="1", key=key(), seen=0),
            ],
        )
    assert len(caught.value.problems) == 4
    assert not Answer.objects.filter(subject_uuid=visit.uuid).exists()


def test_an_empty_entry_clears_a_field_and_says_so(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    for value, seen in (("bay hairs", 0), ("", 1)):
        services.enter(
            cast.fitter,
            Subject.VISIT,
            visit.uuid,
            [Entered(field="white_hairs", value=value, key=key(), seen=seen)],
        )
    assert Answer.objects.get(subject_uuid=visit.uuid, field="white_hairs").value is None
    last = Entry.objects.get(subject_uuid=visit.uuid, revision=2)
    assert (last.before, last.value) == ("bay hairs", None)


def test_the_head_of_a_visit_is_entered_the_same_way(cast: Cast) -> None:
    visit = invented_yard(cast.fitter).visit
    values = {"date": "2026-03-29", "zone": "Europe/Dublin", "starts_at": "02:30", "state": "finished"}
    # 02:30 on 29 March does not exist by the clocks of Dublin; a day and an hour are kept as they are said.
    services.enter(
        cast.fitter,
        Subject.VISIT,
        visit.uuid,
        [Entered(field=name, value=value, key=key(), seen=0) for name, value in values.items()],
    )
    again = Visit.objects.get(pk=visit.pk)
    assert (again.date.isoformat(), again.zone, str(again.starts_at), again.state) == (
        "2026-03-29",
        "Europe/Dublin",
        "02:30:00",
        "finished",
    )


def _some_value(field: Field) -> Value:
    if field.kind is Kind.MARKS:
        return [{"x": 0.25, "y": 0.5, "kind": field.choices[0], "degree": 2, "side": "near", "note": "warm"}]
    if field.kind is Kind.CHOICES:
        return list(field.choices)
    samples = {
        Kind.TEXT: "words",
        Kind.LONG_TEXT: "words\nand more",
        Kind.YES_NO: True,
        Kind.LIST: ["felt", "sheepskin"],
        Kind.DATE: "2026-02-28",
        Kind.PERSON: {"label": "Somebody", "client": None},
    }
    if field.kind in {Kind.NUMBER, Kind.WHOLE}:
        assert field.low is not None
        assert field.high is not None
        middle = (field.low + field.high) / 2
        return int(middle) if field.kind is Kind.WHOLE else middle
    return field.choices[0] if field.kind is Kind.CHOICE else samples[field.kind]


def test_every_field_of_a_visit_can_be_entered_and_read_back(cast: Cast) -> None:
    yard = invented_yard(cast.fitter)
    tried = services.try_saddle(cast.fitter, yard.visit.uuid, yard.saddle.uuid)
    for subject, uuid, fields in (
        (Subject.VISIT, yard.visit.uuid, VISIT_FIELDS),
        (Subject.VISIT_SADDLE, tried.uuid, VISIT_SADDLE_FIELDS),
    ):
        entered = {name: _some_value(field) for name, field in fields.items()}
        results = services.enter(
            cast.fitter,
            subject,
            uuid,
            [Entered(field=name, value=value, key=key(), seen=0) for name, value in entered.items()],
        )
        assert {result.outcome for result in results} == {Outcome.SAVED}
        held = {answer.field: answer.value for answer in Answer.objects.filter(subject_uuid=uuid)}
        assert held == entered
