# ruff: noqa: ARG005 - every call has the same shape
"""Who may do what: the table, and every service and query against the whole cast."""

import uuid as uuids
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from practice_cast import PASSWORD, Cast, key
from practice_invented import BACK, SADDLE, STUDY, Invented, invented_yard

from saddlebench.exchange.limits import limit_groups
from saddlebench.practice import crossing, queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Action, Purpose, Role, Subject
from saddlebench.practice.keeping.files import StoredFile
from saddlebench.practice.models import (
    AuditRow,
    BackVersion,
    Capture,
    Instrument,
    Membership,
    Rebuild,
    RebuildCheck,
    Recheck,
    SaddleVersion,
    Study,
)
from saddlebench.practice.rules import Actor, NotAllowedError, may
from saddlebench.practice.services import Entered, NotFoundError

# Written out by hand, apart from the program's own table: o owner, f fitter, w workshop, r reader.
EXPECTED = {
    Action.SEE_HORSES: "ofwr",
    Action.SEE_SADDLES: "ofwr",
    Action.SEE_PEOPLE: "ofr",
    Action.SEE_ENTRIES: "of",
    Action.EDIT_PEOPLE: "of",
    Action.EDIT_HORSES: "of",
    Action.EDIT_SADDLES: "ofw",
    Action.ENTER_VISIT: "of",
    Action.RECORD_BACK: "of",
    Action.RECORD_SADDLE: "ofw",
    Action.RECORD_STUDY: "of",
    Action.REBUILD: "ofw",
    Action.WITHDRAW: "of",
    Action.ERASE: "o",
    Action.EXPORT: "of",
    Action.IMPORT: "of",
    Action.MANAGE_MEMBERS: "o",
    Action.MANAGE_PRACTICE: "o",
    Action.KEEP: "o",
}
MINE, OTHERS = 1, 2
COMB = Document(text='{"family": "pin comb"}')
REBUILT = services.Rebuilt(document=BACK, measured_on=date(2026, 3, 3), instrument="Invented comb")


def test_the_table_names_every_action() -> None:
    assert set(EXPECTED) == set(Action)


@pytest.mark.parametrize("action", list(Action))
@pytest.mark.parametrize("role", list(Role))
def test_a_role_may_do_in_its_own_practice_what_the_table_says_and_nothing_in_another(
    role: Role, action: Action
) -> None:
    actor = Actor(user_id=1, practice_id=MINE, role=role)
    assert may(actor, action, MINE) is (role.value[0] in EXPECTED[action])
    assert may(actor, action, OTHERS) is False
    assert may(None, action, MINE) is False


@dataclass
class World:
    """What the calls below act on: all of it is the first practice's."""

    invented: Invented
    back: BackVersion
    saddle: SaddleVersion
    study: Study
    recheck: Recheck
    member: Membership
    home: Path
    capture: Capture
    instrument: Instrument
    tried: uuids.UUID
    rebuild: Rebuild
    rebuilt: Capture
    rebuild_check: RebuildCheck


@pytest.fixture
def world(cast: Cast, home: Path) -> World:
    invented = invented_yard(cast.owner)
    back = services.record_back(
        cast.owner, invented.horse.uuid, BACK, measured_on=date(2026, 3, 1), visit_uuid=invented.visit.uuid
    )
    saddle = services.record_saddle(cast.owner, invented.saddle.uuid, SADDLE)
    run = services.record_study(
        cast.owner, STUDY, back_version=back.version.uuid, saddle_version=saddle.version.uuid
    )
    return World(
        invented=invented,
        back=back.version,
        saddle=saddle.version,
        study=run.version.study,
        recheck=services.set_recheck(cast.owner, invented.horse.uuid, visit_uuid=invented.visit.uuid),
        member=Membership.objects.get(user=cast.users["reader"]),
        home=home,
        capture=services.start_capture(cast.owner, invented.horse.uuid, COMB, measured_on=date(2026, 3, 1)),
        instrument=services.describe_instrument(cast.owner, "Invented comb", COMB),
        tried=services.try_saddle(cast.owner, invented.visit.uuid, invented.saddle.uuid).uuid,
        rebuild=services.start_rebuild(cast.owner, back.version.back.uuid, 1, COMB, tolerance_mm=2.0),
        rebuilt=services.start_capture(
            cast.owner,
            invented.horse.uuid,
            COMB,
            measured_on=date(2026, 3, 1),
            rebuild_of=(back.version.back.uuid, 1),
        ),
        rebuild_check=services.record_rebuild_check(
            cast.owner, back.version.back.uuid, 1, REBUILT, tolerance_mm=2.0
        ),
    )


def _enter(subject: Subject, field: str, value: str) -> Callable[[Actor | None, World], Any]:
    def call(actor: Actor | None, w: World) -> Any:
        uuid = {
            Subject.HORSE: w.invented.horse.uuid,
            Subject.SADDLE: w.invented.saddle.uuid,
            Subject.CLIENT: w.invented.client.uuid,
            Subject.VISIT: w.invented.visit.uuid,
        }[subject]
        return services.enter(actor, subject, uuid, [Entered(field=field, value=value, key=key(), seen=0)])

    return call


_PICTURE = StoredFile(sha256="0" * 64, media_type="image/jpeg", size_bytes=9)
_FACTS = services.PhotoFacts(original_sha256="1" * 64)
_DAY = date(2026, 3, 1)


def _reading() -> list[Entered]:
    return [Entered(field="s1r0/pin/3", value=12.5, key=key(), seen=0)]


# name: (action, call, whether it names a record of the first practice)
WRITES: dict[str, tuple[Action, Callable[[Actor | None, World], Any], bool]] = {
    "take_on_client": (Action.EDIT_PEOPLE, lambda a, w: services.take_on_client(a, {"label": "N"}), False),
    "take_on_yard": (Action.EDIT_PEOPLE, lambda a, w: services.take_on_yard(a, {"label": "N"}), False),
    "take_on_horse": (Action.EDIT_HORSES, lambda a, w: services.take_on_horse(a, {"label": "N"}), False),
    "take_on_saddle": (Action.EDIT_SADDLES, lambda a, w: services.take_on_saddle(a, {"label": "N"}), False),
    "enter horse": (Action.EDIT_HORSES, _enter(Subject.HORSE, "colour", "bay"), True),
    "enter saddle": (Action.EDIT_SADDLES, _enter(Subject.SADDLE, "colour", "tan"), True),
    "enter client": (Action.EDIT_PEOPLE, _enter(Subject.CLIENT, "town", "Dunmoor"), True),
    "enter visit": (Action.ENTER_VISIT, _enter(Subject.VISIT, "coat", "winter"), True),
    "use_saddle_on": (
        Action.EDIT_HORSES,
        lambda a, w: services.use_saddle_on(a, w.invented.saddle.uuid, [w.invented.horse.uuid]),
        True,
    ),
    "move_to_stock": (
        Action.EDIT_SADDLES,
        lambda a, w: services.move_to_stock(a, w.invented.saddle.uuid),
        True,
    ),
    "set_stock": (
        Action.EDIT_SADDLES,
        lambda a, w: services.set_stock(a, w.invented.stock.uuid, services.StockFacts(stock_number="N-1")),
        True,
    ),
    "put_on_trial": (
        Action.EDIT_SADDLES,
        lambda a, w: services.put_on_trial(a, w.invented.stock.uuid, w.invented.client.uuid, _DAY),
        True,
    ),
    "reserve": (
        Action.EDIT_SADDLES,
        lambda a, w: services.reserve(a, w.invented.stock.uuid, w.invented.client.uuid),
        True,
    ),
    "take_back": (
        Action.EDIT_SADDLES,
        lambda a, w: services.take_back(a, w.invented.stock.uuid),
        True,
    ),
    "import_stock": (
        Action.IMPORT,
        lambda a, w: services.import_stock(a, b"number,label,where\nN-2,N,rack\n"),
        False,
    ),
    "sell_from_stock": (
        Action.EDIT_PEOPLE,
        lambda a, w: services.sell_from_stock(a, w.invented.stock.uuid, w.invented.client.uuid),
        True,
    ),
    "start_visit": (
        Action.ENTER_VISIT,
        lambda a, w: services.start_visit(a, on=_DAY, purpose=Purpose.TRIAL),
        False,
    ),
    "start_visit of a horse": (
        Action.ENTER_VISIT,
        lambda a, w: services.start_visit(a, on=_DAY, purpose=Purpose.TRIAL, horse=w.invented.horse.uuid),
        True,
    ),
    "take_saddle_off": (
        Action.ENTER_VISIT,
        lambda a, w: services.take_saddle_off(a, w.tried),
        True,
    ),
    "keep_saddle_draft": (
        Action.RECORD_SADDLE,
        lambda a, w: services.keep_saddle_draft(
            a, w.invented.saddle.uuid, "panelled", {"tree.width": "270"}, seen=0
        ),
        True,
    ),
    "enter_in_saddle_draft": (
        Action.RECORD_SADDLE,
        lambda a, w: services.enter_in_saddle_draft(
            a, w.invented.saddle.uuid, "panelled", {"tree.width": "270"}, seen=0
        ),
        True,
    ),
    "leave_saddle_draft": (
        Action.RECORD_SADDLE,
        lambda a, w: services.leave_saddle_draft(a, w.invented.saddle.uuid),
        True,
    ),
    "set_own_limit": (
        Action.MANAGE_PRACTICE,
        lambda a, w: services.set_own_limit(a, limit_groups()[0].slug, None),
        False,
    ),
    "try_saddle": (
        Action.ENTER_VISIT,
        lambda a, w: services.try_saddle(a, w.invented.visit.uuid, w.invented.saddle.uuid),
        True,
    ),
    "give_advice": (
        Action.ENTER_VISIT,
        lambda a, w: services.give_advice(a, w.invented.visit.uuid, "Rest him"),
        True,
    ),
    "set_recheck": (
        Action.ENTER_VISIT,
        lambda a, w: services.set_recheck(a, w.invented.horse.uuid, on=_DAY),
        True,
    ),
    "answer_recheck": (
        Action.ENTER_VISIT,
        lambda a, w: services.answer_recheck(a, w.recheck.uuid, w.invented.visit.uuid),
        True,
    ),
    "attach_photo": (
        Action.ENTER_VISIT,
        lambda a, w: services.attach_photo(a, _PICTURE, _FACTS, visit=w.invented.visit.uuid),
        True,
    ),
    "record_back": (
        Action.RECORD_BACK,
        lambda a, w: services.record_back(a, w.invented.horse.uuid, BACK, measured_on=_DAY),
        True,
    ),
    "correct_back": (
        Action.RECORD_BACK,
        lambda a, w: services.correct_back(a, w.back.back.uuid, BACK, why="typing", seen=1),
        True,
    ),
    "record_saddle": (
        Action.RECORD_SADDLE,
        lambda a, w: services.record_saddle(a, w.invented.saddle.uuid, SADDLE, seen=1),
        True,
    ),
    "record_study": (
        Action.RECORD_STUDY,
        lambda a, w: services.record_study(a, STUDY, back_version=w.back.uuid, saddle_version=w.saddle.uuid),
        True,
    ),
    "record_run": (
        Action.RECORD_STUDY,
        lambda a, w: services.record_run(
            a,
            w.study.uuid,
            STUDY,
            back_version=w.back.uuid,
            saddle_version=w.saddle.uuid,
            why="again",
            seen=1,
        ),
        True,
    ),
    "choose_version": (
        Action.RECORD_SADDLE,
        lambda a, w: services.choose_version(a, Subject.SADDLE, w.invented.saddle.uuid, 1),
        True,
    ),
    "start_capture": (
        Action.RECORD_BACK,
        lambda a, w: services.start_capture(a, w.invented.horse.uuid, COMB, measured_on=_DAY),
        True,
    ),
    "enter_readings": (
        Action.RECORD_BACK,
        lambda a, w: services.enter_readings(a, w.capture.uuid, _reading()),
        True,
    ),
    "finish_capture": (
        Action.RECORD_BACK,
        lambda a, w: services.finish_capture(a, w.capture.uuid, BACK),
        True,
    ),
    "restate_instrument": (
        Action.RECORD_BACK,
        lambda a, w: services.restate_instrument(a, w.capture.uuid, COMB),
        True,
    ),
    "take_up_again": (
        Action.RECORD_BACK,
        lambda a, w: services.take_up_again(a, w.capture.uuid),
        True,
    ),
    "start_rebuild": (
        Action.REBUILD,
        lambda a, w: services.start_rebuild(a, w.back.back.uuid, 1, COMB, tolerance_mm=2.0),
        True,
    ),
    "keep_as_set": (
        Action.REBUILD,
        lambda a, w: services.keep_as_set(a, w.rebuild.uuid, {"s1/near/0": 3.0}),
        True,
    ),
    "put_rebuild_away": (
        Action.REBUILD,
        lambda a, w: services.put_rebuild_away(a, w.rebuild.uuid),
        True,
    ),
    "record_rebuild_check": (
        Action.REBUILD,
        lambda a, w: services.record_rebuild_check(a, w.back.back.uuid, 1, REBUILT, tolerance_mm=2.0),
        True,
    ),
    "finish_rebuild_capture": (
        Action.RECORD_BACK,
        lambda a, w: services.finish_rebuild_capture(a, w.rebuilt.uuid, BACK, "Comb", tolerance_mm=2.0),
        True,
    ),
    "describe_instrument": (
        Action.RECORD_BACK,
        lambda a, w: services.describe_instrument(a, "Another comb", COMB),
        False,
    ),
    "withdraw": (
        Action.WITHDRAW,
        lambda a, w: services.withdraw(a, Subject.HORSE, w.invented.horse.uuid),
        True,
    ),
    "put_back": (
        Action.WITHDRAW,
        lambda a, w: services.put_back(a, Subject.HORSE, w.invented.horse.uuid),
        True,
    ),
    "erase_person": (
        Action.ERASE,
        lambda a, w: services.erase_person(a, w.invented.client.uuid, w.home),
        True,
    ),
    "change_practice": (Action.MANAGE_PRACTICE, lambda a, w: services.change_practice(a, label="N"), False),
    "add_member": (
        Action.MANAGE_MEMBERS,
        lambda a, w: services.add_member(a, "N", "n@tussock.example", PASSWORD, Role.READER),
        False,
    ),
    "change_role": (
        Action.MANAGE_MEMBERS,
        lambda a, w: services.change_role(a, w.member.uuid, Role.FITTER),
        True,
    ),
    "end_membership": (
        Action.MANAGE_MEMBERS,
        lambda a, w: services.end_membership(a, w.member.uuid),
        True,
    ),
    "export_people": (Action.EXPORT, lambda a, w: crossing.export_people(a), False),
    "export_horses": (Action.EXPORT, lambda a, w: crossing.export_horses(a), False),
    "export_cards": (Action.EXPORT, lambda a, w: crossing.export_cards(a), False),
    "import_people": (Action.IMPORT, lambda a, w: crossing.import_people(a, b"label\nN\n"), False),
    "import_horses": (Action.IMPORT, lambda a, w: crossing.import_horses(a, b"label\nN\n"), False),
    "import_cards": (
        Action.IMPORT,
        lambda a, w: crossing.import_cards(a, b"BEGIN:VCARD\r\nVERSION:4.0\r\nFN:N\r\nEND:VCARD\r\n"),
        False,
    ),
    "leave": (
        Action.KEEP,
        lambda a, w: crossing.leave(a, w.home / f"{uuids.uuid4()}.zip", w.home),
        False,
    ),
}
# Finishing a capture records a back, which is a deed of its own; numbers that are not recorded yet are none.
ROWS = {
    "finish_capture": 2,
    "finish_rebuild_capture": 2,
    **dict.fromkeys(("keep_saddle_draft", "enter_in_saddle_draft", "leave_saddle_draft"), 0),
}
READS: dict[str, tuple[Action, Callable[[Actor | None, World], Any], bool]] = {
    "find_horses": (Action.SEE_HORSES, lambda a, w: queries.find_horses(a), False),
    "horse_page": (Action.SEE_HORSES, lambda a, w: queries.horse_page(a, w.invented.horse.uuid), True),
    "visit_page": (Action.SEE_HORSES, lambda a, w: queries.visit_page(a, w.invented.visit.uuid), True),
    "timeline": (Action.SEE_HORSES, lambda a, w: queries.timeline(a, w.invented.horse.uuid), True),
    "diary": (Action.SEE_HORSES, lambda a, w: queries.diary(a, _DAY, _DAY), False),
    "diary_calendar": (Action.SEE_HORSES, lambda a, w: crossing.diary_calendar(a, _DAY, _DAY), False),
    "find_saddles": (Action.SEE_SADDLES, lambda a, w: queries.find_saddles(a), False),
    "saddle_page": (Action.SEE_SADDLES, lambda a, w: queries.saddle_page(a, w.invented.saddle.uuid), True),
    "stock_rows": (Action.SEE_SADDLES, lambda a, w: queries.stock_rows(a), False),
    "stock_candidates": (Action.SEE_SADDLES, lambda a, w: queries.stock_candidates(a), False),
    "stock_history": (
        Action.SEE_SADDLES,
        lambda a, w: queries.stock_history(a, w.invented.stock.uuid),
        True,
    ),
    "export_stock": (Action.EXPORT, lambda a, w: queries.export_stock(a), False),
    "find_clients": (Action.SEE_PEOPLE, lambda a, w: queries.find_clients(a), False),
    "client_page": (Action.SEE_PEOPLE, lambda a, w: queries.client_page(a, w.invented.client.uuid), True),
    "members": (Action.MANAGE_MEMBERS, lambda a, w: queries.members(a), False),
    "entries_of": (Action.SEE_ENTRIES, lambda a, w: queries.entries_of(a, w.invented.horse.uuid), False),
    "versions_of back": (
        Action.SEE_HORSES,
        lambda a, w: queries.versions_of(a, Subject.BACK, w.back.back.uuid),
        True,
    ),
    "versions_of saddle": (
        Action.SEE_SADDLES,
        lambda a, w: queries.versions_of(a, Subject.SADDLE, w.invented.saddle.uuid),
        True,
    ),
    "differences": (
        Action.SEE_HORSES,
        lambda a, w: queries.differences(a, Subject.BACK, w.back.back.uuid, 1, 1),
        True,
    ),
    "unfinished_captures": (Action.SEE_HORSES, lambda a, w: queries.unfinished_captures(a), False),
    "capture_page": (Action.SEE_HORSES, lambda a, w: queries.capture_page(a, w.capture.uuid), True),
    "back_page": (Action.SEE_HORSES, lambda a, w: queries.back_page(a, w.back.back.uuid), True),
    "own_instruments": (Action.SEE_HORSES, lambda a, w: queries.own_instruments(a), False),
    "instrument_page": (Action.SEE_HORSES, lambda a, w: queries.instrument_page(a, w.instrument.uuid), True),
    "rebuild_source": (Action.SEE_HORSES, lambda a, w: queries.rebuild_source(a, w.back.back.uuid), True),
    "rebuilds_of": (Action.SEE_HORSES, lambda a, w: queries.rebuilds_of(a, w.back.back.uuid), False),
    "checks_of": (Action.SEE_HORSES, lambda a, w: queries.checks_of(a, w.back.back.uuid), False),
    "rebuild_page": (Action.SEE_HORSES, lambda a, w: queries.rebuild_page(a, w.rebuild.uuid), True),
    "rebuild_check_page": (
        Action.SEE_HORSES,
        lambda a, w: queries.rebuild_check_page(a, w.rebuild_check.uuid),
        True,
    ),
    "saddle_document": (
        Action.SEE_SADDLES,
        lambda a, w: queries.saddle_document(a, w.invented.saddle.uuid),
        True,
    ),
    "own_limits": (Action.SEE_HORSES, lambda a, w: queries.own_limits(a), False),
    "limits_page": (Action.SEE_HORSES, lambda a, w: queries.limits_page(a), False),
    "limit_page": (Action.SEE_HORSES, lambda a, w: queries.limit_page(a, limit_groups()[0].slug), False),
    "saddle_drafts": (
        Action.RECORD_SADDLE,
        lambda a, w: queries.saddle_drafts(a, w.invented.saddle.uuid),
        True,
    ),
    "study_use": (Action.SEE_HORSES, lambda a, w: queries.study_use(a, w.study.uuid), True),
}


def test_no_service_and_no_query_is_missing_from_the_matrix() -> None:
    # These two compute and write nothing; their own tests try them on another practice.
    computing = {"compute_check", "rerun_check"}
    not_acts = {"actor_for", "found_practice", "is_first_start", "stops_of"} | computing
    acts = {name for name in services.__all__ if name[0].islower()} - not_acts
    assert {name.split()[0] for name in WRITES} >= acts
    # The same of these two queries.
    computed = {"wanted_on", "shortlist_from_stock"}
    asked = {name for name in queries.__all__ if name[0].islower()} - computed
    assert {name.split()[0] for name in READS} >= asked
    crossings = {name for name in crossing.__all__ if name[0].islower()}
    assert {name.split()[0] for name in (*WRITES, *READS)} >= crossings


@pytest.mark.parametrize("name", [*WRITES, *READS])
def test_everyone_against_every_act(name: str, cast: Cast, world: World) -> None:
    action, call, names_a_record = (WRITES | READS)[name]
    audited = ROWS.get(name, 1) if name in WRITES else 0
    for who, actor in cast.everyone.items():
        before = AuditRow.objects.count()
        with transaction.atomic():
            allowed = who[0] in EXPECTED[action] if who not in {"other", "nobody"} else who == "other"
            if not allowed:
                with pytest.raises(NotAllowedError):
                    call(actor, world)
                assert AuditRow.objects.count() == before, who
            elif who == "other" and names_a_record:
                with pytest.raises(NotFoundError):
                    call(actor, world)
                assert AuditRow.objects.count() == before, who
            else:
                call(actor, world)
                assert AuditRow.objects.count() == before + audited, who
            transaction.set_rollback(True)


def test_another_practice_sees_nothing_in_its_lists(cast: Cast, world: World) -> None:
    assert queries.find_horses(cast.other).total == 0
    assert queries.find_clients(cast.other).total == 0
    assert queries.find_saddles(cast.other).total == 0
    assert queries.diary(cast.other, date(2000, 1, 1), date(2100, 1, 1)).entries == ()
    assert queries.entries_of(cast.other, world.invented.horse.uuid) == ()
    assert [row.label for row in queries.members(cast.other)] == ["Una Stranger"]


def test_the_workshop_sees_the_horse_and_not_its_people(cast: Cast, world: World) -> None:
    services.enter(
        cast.owner,
        Subject.VISIT,
        world.invented.visit.uuid,
        [Entered(field="owner", value="Wilma Fernlea", key=key(), seen=0)],
    )
    services.give_advice(cast.owner, world.invented.visit.uuid, "Wilma Fernlea was told to rest him")
    shown = [
        queries.find_horses(cast.workshop),
        queries.horse_page(cast.workshop, world.invented.horse.uuid),
        queries.visit_page(cast.workshop, world.invented.visit.uuid),
        queries.find_saddles(cast.workshop),
        queries.saddle_page(cast.workshop, world.invented.saddle.uuid),
        queries.diary(cast.workshop, date(2026, 1, 1), date(2026, 12, 31)),
    ]
    assert "Fernlea" in repr(queries.visit_page(cast.reader, world.invented.visit.uuid))
    assert [text for text in map(repr, shown) if "Fernlea" in text or "Hollow Ash" in text] == []
    assert "Juniper" in repr(shown[0])
    assert queries.find_horses(cast.workshop, "fernlea").total == 0
    assert queries.find_horses(cast.reader, "fernlea").total == 1


def test_somebody_who_left_may_nothing(cast: Cast) -> None:
    member = Membership.objects.get(user=cast.users["fitter"])
    services.end_membership(cast.owner, member.uuid)
    assert services.actor_for(cast.users["fitter"]) is None
    member.refresh_from_db()
    assert member.ended_at is not None
    assert member.ended_at <= datetime.now(UTC)
