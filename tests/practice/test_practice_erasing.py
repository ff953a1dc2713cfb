"""Erasing a person: complete, apart from withdrawing, with a receipt that says nothing about them."""

import hashlib
import json
import zipfile
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.db import connection
from hypothesis import example, given
from hypothesis import strategies as st
from practice_cast import Cast, key
from practice_invented import SADDLE, STUDY, Invented, invented_yard

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice import crossing, queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Purpose, Subject
from saddlebench.practice.keeping.backup import back_up
from saddlebench.practice.keeping.files import store, stored_path
from saddlebench.practice.models import (
    Answer,
    BackVersion,
    Client,
    Entry,
    ErasureReceipt,
    Horse,
    OpenErasure,
    Photo,
    Saddle,
    StudyVersion,
    Visit,
)
from saddlebench.practice.services import Entered, PhotoFacts
from saddlebench.practice.services.mentions import Person, scrub_text

JPEG = b"\xff\xd8\xff" + b"invented picture"
NAMED = Document(
    text='{"format": "saddlebench back record", "version": 1, "label": "Juniper of Wilma Fernlea"}'
)


def _enter(cast: Cast, subject: Subject, uuid: object, **values: object) -> None:
    entries = [Entered(field=n, value=v, key=key(), seen=99) for n, v in values.items()]  # type: ignore[arg-type]
    services.enter(cast.fitter, subject, uuid, entries)  # type: ignore[arg-type]


def _full(cast: Cast, home: Path) -> Invented:
    """Leave the person's traces everywhere."""
    yard = invented_yard(cast.fitter)
    other = services.take_on_client(cast.fitter, {"label": "Perran Holt", "note": "Friend of Wilma Fernlea"})
    horse = services.take_on_horse(
        cast.fitter, {"label": "Sorrel", "rider": "wilma  fernlea", "client": str(other.uuid)}
    )
    _enter(
        cast,
        Subject.VISIT,
        yard.visit.uuid,
        owner={"label": "Wilma Fernlea", "client": str(yard.client.uuid)},
        reason="Wilma Fernlea says he dips",
    )
    theirs = services.start_visit(cast.fitter, on=date(2026, 3, 2), purpose=Purpose.TRIAL, horse=horse.uuid)
    _enter(
        cast,
        Subject.VISIT,
        theirs.uuid,
        held_by={"label": "Wilma Fernlea", "client": None},
        payer={"label": "whoever", "client": str(yard.client.uuid)},
        reason="Ring WILMA FERNLEA, +44 1632 960123",
        pads=["felt, lent by Wilma Fernlea", "wool"],
    )
    services.give_advice(cast.fitter, theirs.uuid, "Told Wilma Fernlea to rest him", declined=True)
    services.record_back(cast.fitter, horse.uuid, NAMED, measured_on=date(2026, 3, 2))
    back = services.record_back(cast.fitter, yard.horse.uuid, NAMED, measured_on=date(2026, 3, 1)).version
    saddle = services.record_saddle(cast.fitter, yard.saddle.uuid, SADDLE).version
    services.record_study(
        cast.fitter, STUDY, back_version=back.uuid, saddle_version=saddle.uuid, visit_uuid=yard.visit.uuid
    )
    services.set_recheck(cast.fitter, yard.horse.uuid, visit_uuid=yard.visit.uuid)
    stored = store(home, JPEG)
    services.attach_photo(
        cast.fitter, stored, PhotoFacts(original_sha256="1" * 64, note="x"), visit=yard.visit.uuid
    )
    return yard


def _everything(cast: Cast, home: Path) -> str:
    path = home / f"{key()}.zip"
    crossing.leave(cast.owner, path, home)
    with zipfile.ZipFile(path) as archive:
        return "\n".join(archive.read(name).decode("utf-8", "replace") for name in archive.namelist())


def test_nothing_of_the_person_is_left_and_everybody_else_is_untouched(cast: Cast, home: Path) -> None:
    yard = _full(cast, home)
    assert "Fernlea" in _everything(cast, home)
    done = services.erase_person(cast.owner, yard.client.uuid, home)
    left = _everything(cast, home)
    for trace in ("fernlea", "960123", "qx-7781"):
        assert trace not in left.casefold()
    # Audit rows keep the numbers of records that are gone: they lead nowhere any more.
    assert not Client.objects.filter(uuid=yard.client.uuid).exists()
    assert not Horse.objects.filter(uuid=yard.horse.uuid).exists()
    assert not Saddle.objects.filter(uuid=yard.saddle.uuid).exists()
    assert not Visit.objects.filter(uuid=yard.visit.uuid).exists()
    assert not Photo.objects.exists()
    assert not StudyVersion.objects.exists()
    assert not stored_path(home, hashlib.sha256(JPEG).hexdigest(), "image/jpeg").exists()
    assert Horse.objects.get(label="Sorrel").client == Client.objects.get(label="Perran Holt")
    theirs = {a.field: a.value for a in Answer.objects.all()}
    assert theirs == {
        "reason": "Ring [erased], [erased]",
        "pads": ["felt, lent by [erased]", "wool"],
    }
    version = BackVersion.objects.get()
    assert version.sha256 == hashlib.sha256(version.document.encode()).hexdigest()
    assert "[erased]" in version.document
    assert not OpenErasure.objects.exists()
    assert done.receipt.counts["client"] == 1


def test_the_receipt_says_what_was_done_and_nothing_about_the_person(cast: Cast, home: Path) -> None:
    yard = _full(cast, home)
    done = services.erase_person(cast.owner, yard.client.uuid, home)
    kept = ErasureReceipt.objects.get()
    assert kept.sha256 == hashlib.sha256(done.words.encode()).hexdigest()
    assert "Fernlea" not in done.words
    assert "horse: 1" in done.words
    assert kept.made_by_id == cast.owner.user_id


def test_a_horse_that_was_sold_stays_with_its_records_for_its_new_owner(cast: Cast, home: Path) -> None:
    yard = _full(cast, home)
    new = Client.objects.get(label="Perran Holt")
    services.erase_person(cast.owner, yard.client.uuid, home, new_owners={yard.horse.uuid: new.uuid})
    horse = Horse.objects.get(uuid=yard.horse.uuid)
    assert (horse.label, horse.client) == ("Juniper", new)
    assert queries.find_horses(cast.fitter, "juniper perran").total == 1
    assert queries.find_horses(cast.fitter, "juniper fernlea").total == 0
    study = StudyVersion.objects.get()
    back = horse.backs.get()
    assert study.back_version == back.current
    assert back.current is not None
    assert "[erased]" in back.current.document
    assert Saddle.objects.get(uuid=yard.saddle.uuid).client == new
    left = {a.field: a.value for a in Answer.objects.filter(visit__horse=horse)}
    assert left == {"reason": "[erased] says he dips"}
    assert "fernlea" not in _everything(cast, home).casefold()


def test_an_everyday_word_that_is_a_name_is_not_taken_out_of_sentences(cast: Cast, home: Path) -> None:
    joy = services.take_on_client(cast.fitter, {"label": "Joy"})
    horse = services.take_on_horse(
        cast.fitter, {"label": "Sorrel", "note": "A joy to ride, says Joy. Joyful."}
    )
    services.erase_person(cast.owner, joy.uuid, home)
    assert Horse.objects.get(pk=horse.pk).note == "A joy to ride, says [erased]. Joyful."


def test_a_withdrawn_person_can_be_erased_and_a_horse_cannot_go_to_them(cast: Cast, home: Path) -> None:
    yard = invented_yard(cast.fitter)
    services.withdraw(cast.fitter, Subject.CLIENT, yard.client.uuid)
    with pytest.raises(InputProblemsError, match="new owner"):
        services.erase_person(
            cast.owner, yard.client.uuid, home, new_owners={yard.horse.uuid: yard.client.uuid}
        )
    services.erase_person(cast.owner, yard.client.uuid, home)
    assert not Entry.objects.filter(subject_uuid=yard.client.uuid).exists()


def test_not_a_byte_of_the_person_stays_in_the_database_file(own_cast: Cast, file_database: Path) -> None:
    own_database = file_database
    yard = _full(own_cast, own_database)
    kept = back_up(own_database, now=datetime(2026, 3, 1, tzinfo=UTC))
    connection.close()
    assert b"Fernlea" in (own_database / "records.sqlite3").read_bytes()
    done = services.erase_person(own_cast.owner, yard.client.uuid, own_database)
    assert done.older_backups == (kept.path,)
    files = [path for path in own_database.rglob("*") if path.is_file() and path.suffix != ".zip"]
    assert files
    for path in files:
        content = path.read_bytes().lower()
        assert b"fernlea" not in content, path
        assert b"1632 960123" not in content, path


_words = st.text(st.characters(exclude_categories=["Cs", "Cc", "Z"]), min_size=2, max_size=12)


@given(_words, _words, st.booleans())
@example("Zoë", 'O"Dea', True)
def test_a_name_goes_out_of_a_document_however_it_is_escaped(first: str, last: str, ascii_only: bool) -> None:
    person = Person(label=f"{first} {last}", email="", phone="")
    document = json.dumps({"label": "Juniper", "notes": f"({first} {last})"}, ensure_ascii=ascii_only)
    scrubbed = json.loads(scrub_text(document, person))
    assert scrubbed == {"label": "Juniper", "notes": "([erased])"}
