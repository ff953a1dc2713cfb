"""Handing records over: gathered, sent, compared, taken once with where they came from, answered."""

import base64
import hashlib
import json
import stat
import uuid as uuids
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from practice_cast import Cast

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.packs import OpenedPack, made_keys, opened_pack
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.handover.choice import Gathered, PackChoice, WorkDone
from saddlebench.practice.handover.comparing import Comparison, compare
from saddlebench.practice.handover.deciding import NotTrustedError, TakeChoices, WaitsForAnswerError
from saddlebench.practice.handover.gathering import gather
from saddlebench.practice.handover.items import Fate
from saddlebench.practice.handover.key_files import all_keys
from saddlebench.practice.handover.keys import (
    KeyMissingError,
    KeyStanding,
    end_trust,
    keys_to_open,
    own_key,
    renew_key,
    trust_key,
)
from saddlebench.practice.handover.links import end_link, link_of, make_link, use_link
from saddlebench.practice.handover.sending import Enclosed, delete_pack, pack_file, send_pack
from saddlebench.practice.handover.taken_records import Taken
from saddlebench.practice.handover.taking import take_pack
from saddlebench.practice.keeping.backup import back_up, keys_folder, restore
from saddlebench.practice.keeping.files import store, stored_path
from saddlebench.practice.models import (
    AuditRow,
    Back,
    BackVersion,
    Horse,
    PackLink,
    Photo,
    Practice,
    Saddle,
    SaddleVersion,
    SentPack,
    Study,
    TakenPack,
    TakenRecord,
)
from saddlebench.practice.queries.handable import handable_of_horse
from saddlebench.practice.queries.packs import (
    origins_of,
    partners,
    sent_pack,
    sent_packs,
    taken_pack,
    taken_packs,
)
from saddlebench.practice.rules import Actor, NotAllowedError
from saddlebench.practice.services import NotFoundError, PhotoFacts
from support.packs import back_text, picture, saddle_text, study_text

TRUST = TakeChoices(trusts_key=True)
COUNTED = (Horse, Saddle, Back, BackVersion, SaddleVersion, Study, Photo, TakenPack, TakenRecord)


@dataclass(frozen=True)
class Yard:
    """An invented horse with all that can be handed over."""

    horse: uuids.UUID
    saddle: uuids.UUID
    back: uuids.UUID
    study: uuids.UUID
    photo: uuids.UUID

    @property
    def all(self) -> PackChoice:
        return PackChoice(studies=(self.study,), photos=(self.photo,), message="Please look.")


@pytest.fixture
def yard(cast: Cast, home: Path) -> Yard:
    client = services.take_on_client(cast.owner, {"label": "Wilma Fernlea", "town": "Dunmoor"})
    horse = services.take_on_horse(
        cast.owner,
        {"label": "Juniper", "microchip": "985000123456789", "born_in": 2014, "client": str(client.uuid)},
    )
    saddle = services.take_on_saddle(cast.owner, {"label": "The brown one", "family": "panelled"})
    services.use_saddle_on(cast.owner, saddle.uuid, [horse.uuid])
    back = services.record_back(
        cast.owner, horse.uuid, Document(text=back_text()), measured_on=date(2026, 5, 3)
    )
    measured = services.record_saddle(cast.owner, saddle.uuid, Document(text=saddle_text()))
    study = services.record_study(
        cast.owner,
        Document(text=study_text()),
        back_version=back.version.uuid,
        saddle_version=measured.version.uuid,
    )
    stored = store(home, picture(3))
    photo = services.attach_photo(
        cast.owner, stored, PhotoFacts(original_sha256=stored.sha256, shot="side_on"), horse=horse.uuid
    )
    return Yard(
        horse=horse.uuid,
        saddle=saddle.uuid,
        back=back.version.back.uuid,
        study=study.version.study.uuid,
        photo=photo.uuid,
    )


@pytest.fixture
def there(tmp_path: Path) -> Path:
    """The other practice's data folder."""
    return tmp_path / "there"


def sent(actor: Actor, choice: PackChoice, home: Path, recipient: uuids.UUID | None = None) -> Path:
    made = send_pack(actor, gather(actor, choice, home), home, recipient=recipient)
    return pack_file(home, made.uuid)


def taken(actor: Actor, path: Path, home: Path, choices: TakeChoices = TRUST) -> Taken:
    with opened_pack(path, keys_to_open(actor, home)) as pack:
        return take_pack(actor, pack, choices, home)


def looked(actor: Actor, path: Path, home: Path) -> Comparison:
    with opened_pack(path, keys_to_open(actor, home)) as pack:
        return compare(actor, pack)


def counts() -> list[int]:
    return [model.objects.count() for model in COUNTED]


def fates(found: Comparison) -> list[Fate]:
    return [one.fate for one in found.items]


def test_the_key_is_made_at_first_need_for_its_owner_alone(cast: Cast, home: Path) -> None:
    assert not keys_folder(home).exists()
    pair = own_key(cast.owner, home)
    assert own_key(cast.fitter, home) == pair
    (path,) = keys_folder(home).iterdir()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(keys_folder(home).stat().st_mode) == 0o700
    assert own_key(cast.other, home) != pair
    practice = Practice.objects.get(pk=cast.owner.practice_id)
    assert all_keys(home, practice.uuid) == [pair]


def test_a_lost_key_is_not_made_anew_behind_ones_back(cast: Cast, home: Path) -> None:
    pair = own_key(cast.owner, home)
    for path in keys_folder(home).iterdir():
        path.unlink()
    with pytest.raises(KeyMissingError) as missing:
        own_key(cast.owner, home)
    assert pair.public.fingerprint in str(missing.value)
    with pytest.raises(NotAllowedError):
        renew_key(cast.fitter, home)
    renewed = renew_key(cast.owner, home)
    assert own_key(cast.fitter, home) == renewed != pair


def test_every_backup_holds_the_private_key(own_cast: Cast, home: Path, tmp_path: Path) -> None:
    pair = own_key(own_cast.owner, home)
    practice = Practice.objects.get(pk=own_cast.owner.practice_id)
    for kind in ("daily", "asked"):
        made = back_up(home, now=timezone.now(), kind=kind)
        restored = tmp_path / kind
        restore(made.path, restored, files_from=home)
        assert all_keys(restored, practice.uuid) == [pair]
        (path,) = keys_folder(restored).iterdir()
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("who", ["workshop", "reader", "nobody"])
def test_who_may_not_hand_over_or_take(cast: Cast, yard: Yard, home: Path, there: Path, who: str) -> None:
    path = sent(cast.owner, yard.all, home)
    actor = cast.everyone[who]
    refusals: list[Callable[[OpenedPack], object]] = [
        lambda _: own_key(actor, home),
        lambda _: gather(actor, yard.all, home),
        lambda _: keys_to_open(actor, home),
        lambda _: trust_key(actor, made_keys().public.line, "x"),
        lambda _: make_link(actor, SentPack.objects.get().uuid, days=1, most_uses=1),
        lambda _: sent_packs(actor),
        lambda _: taken_packs(actor),
        lambda _: partners(actor),
        lambda pack: compare(actor, pack),
        lambda pack: take_pack(actor, pack, TRUST, there),
    ]
    with opened_pack(path) as pack:
        for refused in refusals:
            with pytest.raises(NotAllowedError):
                refused(pack)


def test_records_of_another_practice_cannot_be_gathered(cast: Cast, yard: Yard, home: Path) -> None:
    for choice in (
        PackChoice(horses=(yard.horse,)),
        PackChoice(saddles=(yard.saddle,)),
        PackChoice(backs=(yard.back,)),
        PackChoice(studies=(yard.study,)),
        PackChoice(photos=(yard.photo,)),
        PackChoice(work_done=(WorkDone(on=date(2026, 5, 1), words="x", saddle=yard.saddle),)),
    ):
        with pytest.raises(NotFoundError):
            gather(cast.other, choice, home)


def test_a_pack_holds_what_was_chosen_and_not_a_person(cast: Cast, yard: Yard, home: Path) -> None:
    path = sent(cast.owner, yard.all, home)
    held = path.read_bytes()
    for name in (b"Wilma", b"Dunmoor", b"Orla", b"orla@"):
        assert name not in held
    with opened_pack(path) as pack:
        assert [one.label for one in pack.document.horses] == ["Juniper"]
        assert (len(pack.document.backs), len(pack.document.studies), len(pack.document.photos)) == (1, 1, 1)
        assert pack.text(pack.document.backs[0].version.file) == back_text()
    with opened_pack(sent(cast.owner, replace(yard.all, names_people=True), home)) as pack:
        assert pack.document.sender.person == cast.owner.label
        assert pack.document.backs[0].version.recorded_by == "Orla Invented"
    with pytest.raises(InputProblemsError, match="nothing was chosen"):
        gather(cast.owner, PackChoice(), home)


def test_sent_twice_under_one_name_it_is_one_pack(cast: Cast, yard: Yard, home: Path) -> None:
    gathered: Gathered = gather(cast.owner, yard.all, home)
    name = uuids.uuid4()
    more = [Enclosed(file="documents/note.txt", words="A note", content=b"hello")]
    first = send_pack(cast.owner, gathered, home, enclosed=more, uuid=name)
    assert send_pack(cast.owner, gathered, home, uuid=name) == first
    assert [one.uuid for one in sent_packs(cast.owner)] == [name]
    shown = sent_pack(cast.owner, name)
    assert shown.holds["horses"] == ["Juniper"]
    assert shown.holds["enclosed"] == 1
    with pytest.raises(NotFoundError):
        sent_pack(cast.other, name)


def test_looking_writes_nothing_and_taking_writes_everything_once(
    cast: Cast, yard: Yard, home: Path, there: Path
) -> None:
    path = sent(cast.owner, yard.all, home)
    before, audits = counts(), AuditRow.objects.count()
    found = looked(cast.other, path, there)
    assert set(fates(found)) == {Fate.NEW}
    assert found.known.standing is KeyStanding.NEW
    assert (counts(), AuditRow.objects.count()) == (before, audits)
    got = taken(cast.other, path, there)
    assert len(got.made) == 6
    assert got.left == ()
    mine = {"practice_id": cast.other.practice_id}
    horse, back = Horse.objects.get(**mine), Back.objects.get(**mine)
    assert (horse.label, horse.microchip, horse.client) == ("Juniper", "985000123456789", None)
    assert horse.uuid != yard.horse
    assert back.current is not None
    assert back.current.document == back_text()
    assert (back.horse, back.measured_on) == (horse, date(2026, 5, 3))
    study = Study.objects.get(**mine)
    assert study.current is not None
    assert study.current.back_version == back.current
    assert study.current.document == study_text()
    photo = Photo.objects.get(**mine)
    assert stored_path(there, photo.sha256, photo.media_type).read_bytes() == picture(3)
    after = counts()
    again = taken(cast.other, path, there, TakeChoices())
    assert again.made == ()
    assert counts() == after
    assert {Fate.HERE, Fate.SAME_ONE} == set(fates(looked(cast.other, path, there)))


def test_provenance_is_kept_and_can_be_proved_again(cast: Cast, yard: Yard, home: Path, there: Path) -> None:
    got = taken(cast.other, sent(cast.owner, yard.all, home), there)
    back = Back.objects.get(practice_id=cast.other.practice_id)
    (origin,) = origins_of(cast.other, back.uuid)
    key = own_key(cast.owner, home).public
    assert (origin.sender, origin.fingerprint) == ("Tussock Saddles (invented)", key.fingerprint)
    assert back.current is not None
    assert origin.sha256 == back.current.sha256
    assert origins_of(cast.owner, yard.back) == ()
    with pytest.raises(NotFoundError):
        origins_of(cast.owner, back.uuid)
    shown = taken_pack(cast.other, got.pack.uuid)
    assert {subject for subject, _ in shown.records} == {
        *(Subject.HORSE, Subject.SADDLE, Subject.BACK, Subject.STUDY, Subject.PHOTO)
    }
    assert shown.message == "Please look."
    # The signature, the two lists that it holds over, and the record's own hash: proof without the pack.
    proof = TakenPack.objects.get().proof
    signature = base64.b64decode(json.loads(proof["signature.json"])["signature"])
    assert key.has_signed(proof["tagmanifest-sha256.txt"].encode(), signature)
    manifest = proof["manifest-sha256.txt"]
    assert hashlib.sha256(manifest.encode()).hexdigest() in proof["tagmanifest-sha256.txt"]
    assert origin.sha256 in manifest


def test_a_new_key_is_trusted_only_when_somebody_says_so(
    cast: Cast, yard: Yard, home: Path, there: Path
) -> None:
    path = sent(cast.owner, yard.all, home)
    before = counts()
    for choices in (TakeChoices(), TakeChoices(trusts_changed_key=True)):
        with pytest.raises(NotTrustedError, match="not known here yet"):
            taken(cast.other, path, there, choices)
    assert counts() == before
    assert partners(cast.other) == ()
    taken(cast.other, path, there)
    (partner,) = partners(cast.other)
    assert (partner.label, partner.fingerprint) == (
        "Tussock Saddles (invented)",
        own_key(cast.owner, home).public.fingerprint,
    )
    end_trust(cast.other, partner.uuid)
    for choices in (TRUST, TakeChoices(trusts_changed_key=True)):
        with pytest.raises(NotTrustedError, match="no longer trusted"):
            taken(cast.other, path, there, choices)
    trust_key(cast.other, partner.line, partner.label)
    assert taken(cast.other, path, there, TakeChoices()).made == ()


def test_a_changed_key_is_said_loudly_and_trusted_apart(
    cast: Cast, yard: Yard, home: Path, there: Path
) -> None:
    taken(cast.other, sent(cast.owner, yard.all, home), there)
    old = own_key(cast.owner, home).public.fingerprint
    renew_key(cast.owner, home)
    path = sent(cast.owner, yard.all, home)
    found = looked(cast.other, path, there)
    assert (found.known.standing, found.known.before) == (KeyStanding.CHANGED, (old,))
    with pytest.raises(NotTrustedError, match="WITH ANOTHER KEY"):
        taken(cast.other, path, there, TRUST)
    taken(cast.other, path, there, TakeChoices(trusts_changed_key=True))
    assert [(one.fingerprint == old, one.ended_at is None) for one in partners(cast.other)] == [
        (False, True),
        (True, False),
    ]


def test_an_impostor_who_takes_the_name_is_seen(cast: Cast, yard: Yard, home: Path, there: Path) -> None:
    """Another practice that calls itself like one that is known, with a key and uuid of its own."""
    trust_key(cast.other, own_key(cast.owner, home).public.line, " tussock  SADDLES (invented) ")
    Practice.objects.filter(pk=cast.owner.practice_id).update(uuid=uuids.uuid4())
    renew_key(cast.owner, home)
    found = looked(cast.other, sent(cast.owner, yard.all, home), there)
    assert found.known.standing is KeyStanding.CHANGED


def test_a_key_of_ones_own_is_no_partners(cast: Cast, home: Path) -> None:
    line = own_key(cast.owner, home).public.line
    with pytest.raises(InputProblemsError, match="your own key"):
        trust_key(cast.owner, line, "Somebody")
    with pytest.raises(InputProblemsError, match="needs a name"):
        trust_key(cast.other, line, "  ")


def test_ones_own_pack_finds_ones_own_records(cast: Cast, yard: Yard, home: Path) -> None:
    path = sent(cast.owner, yard.all, home)
    before = counts()
    found = looked(cast.owner, path, home)
    assert found.known.standing is KeyStanding.OWN
    assert {Fate.HERE, Fate.SAME_ONE} == set(fates(found))
    taken(cast.owner, path, home, TakeChoices())
    assert [a - b for a, b in zip(counts(), before, strict=True)] == [0] * 7 + [1, 0]


def test_a_horse_is_known_by_its_chip_and_what_differs_is_shown(
    cast: Cast, yard: Yard, home: Path, there: Path
) -> None:
    mine = services.take_on_horse(
        cast.other, {"label": "June", "microchip": "985000123456789", "born_in": 2013}
    )
    path = sent(cast.owner, yard.all, home)
    (item,) = looked(cast.other, path, there).of(Subject.HORSE)
    assert (item.fate, item.local) == (Fate.SAME_ONE, mine.uuid)
    assert {(one.name, one.mine, one.theirs) for one in item.differing} == {
        ("label", "June", "Juniper"),
        ("born_in", 2013, 2014),
    }
    taken(cast.other, path, there)
    mine.refresh_from_db()
    assert (mine.label, mine.born_in) == ("June", 2013)
    assert Back.objects.get(practice_id=cast.other.practice_id).horse_id == mine.pk


def test_one_of_the_same_name_waits_for_an_answer(cast: Cast, yard: Yard, home: Path, there: Path) -> None:
    mine = services.take_on_saddle(cast.other, {"label": "The brown one"})
    services.record_saddle(
        cast.other, mine.uuid, Document(text='{"format": "saddlebench saddle record", "version": 1}')
    )
    path = sent(cast.owner, yard.all, home)
    entity = looked(cast.other, path, there).of(Subject.SADDLE)[0]
    assert (entity.fate, [one.uuid for one in entity.candidates]) == (Fate.LIKE, [mine.uuid])
    before = counts()
    with pytest.raises(WaitsForAnswerError, match="The brown one"):
        taken(cast.other, path, there)
    assert counts() == before
    with pytest.raises(InputProblemsError, match="cannot be that one"):
        taken(cast.other, path, there, replace(TRUST, same_as={entity.origin: uuids.uuid4()}))
    # The same one: its own measured record stays current; the fit check, which is of theirs, is left.
    got = taken(cast.other, path, there, replace(TRUST, same_as={entity.origin: mine.uuid}))
    mine.refresh_from_db()
    assert mine.current is not None
    assert mine.current.number == 1
    assert {one.subject for one in got.left} == {Subject.SADDLE, Subject.STUDY}
    further = frozenset({entity.origin})
    again = taken(cast.other, path, there, TakeChoices(further_versions=further))
    mine.refresh_from_db()
    assert (mine.current.number, mine.current.document) == (2, saddle_text())
    assert mine.current.why.startswith("from Tussock Saddles (invented), pack of ")
    assert {one.subject for one in again.made} == {Subject.SADDLE, Subject.STUDY}


def test_another_one_of_the_same_name_is_taken_on_beside(
    cast: Cast, yard: Yard, home: Path, there: Path
) -> None:
    services.take_on_saddle(cast.other, {"label": "The brown one"})
    path = sent(cast.owner, yard.all, home)
    entity = looked(cast.other, path, there).of(Subject.SADDLE)[0]
    taken(cast.other, path, there, replace(TRUST, same_as={entity.origin: None}))
    assert Saddle.objects.filter(practice_id=cast.other.practice_id, label="The brown one").count() == 2


def test_a_record_that_differs_is_a_further_version_only_when_asked(
    cast: Cast, yard: Yard, home: Path, there: Path
) -> None:
    taken(cast.other, sent(cast.owner, yard.all, home), there)
    corrected = back_text().replace("Juniper (invented)", "Juniper (invented), corrected")
    services.correct_back(cast.owner, yard.back, Document(text=corrected), why="typed wrong", seen=1)
    path = sent(cast.owner, PackChoice(backs=(yard.back,)), home)
    (item,) = looked(cast.other, path, there).of(Subject.BACK)
    assert item.fate is Fate.DIFFERS
    back = Back.objects.get(practice_id=cast.other.practice_id)
    assert taken(cast.other, path, there, TakeChoices()).made == ()
    assert back.versions.count() == 1
    taken(cast.other, path, there, TakeChoices(further_versions=frozenset({item.origin})))
    back.refresh_from_db()
    assert back.current is not None
    assert [row.document for row in back.versions.order_by("number")] == [back_text(), corrected]
    assert back.current.document == corrected
    assert len(origins_of(cast.other, back.uuid)) == 2


def test_what_was_withdrawn_here_stays_so(cast: Cast, yard: Yard, home: Path, there: Path) -> None:
    path = sent(cast.owner, yard.all, home)
    taken(cast.other, path, there)
    back = Back.objects.get(practice_id=cast.other.practice_id)
    services.withdraw(cast.other, Subject.BACK, back.uuid)
    assert looked(cast.other, path, there).of(Subject.BACK)[0].fate is Fate.WITHDRAWN
    assert taken(cast.other, path, there, TakeChoices()).made == ()
    back.refresh_from_db()
    assert back.withdrawn_at is not None


def test_what_fails_halfway_leaves_nothing(
    cast: Cast, yard: Yard, home: Path, there: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = sent(cast.owner, yard.all, home)
    before = counts()

    def fails(*_args: object, **_more: object) -> object:
        msg = "the disk is full"
        raise OSError(msg)

    monkeypatch.setattr("saddlebench.practice.handover.taken_records.attach_photo", fails)
    with pytest.raises(OSError, match="disk is full"):
        taken(cast.other, path, there)
    assert counts() == before
    assert partners(cast.other) == ()


def test_a_closed_pack_is_for_its_recipient(cast: Cast, yard: Yard, home: Path, there: Path) -> None:
    line = own_key(cast.other, there).public.line
    partner = trust_key(cast.owner, line, "Gorse Saddlery (invented)")
    path = sent(cast.owner, yard.all, home, partner.uuid)
    assert b"Juniper" not in path.read_bytes()
    with pytest.raises(InputProblemsError, match="no key here"), opened_pack(path):
        pass
    assert len(taken(cast.other, path, there).made) == 6
    # Made again after the recipient's key changed, an earlier pack still opens.
    renew_key(cast.other, there)
    assert taken(cast.other, path, there).made == ()
    end_trust(cast.owner, partner.uuid)
    with pytest.raises(InputProblemsError, match="no longer trusted"):
        sent(cast.owner, yard.all, home, partner.uuid)


def test_an_answer_finds_its_way_back(cast: Cast, yard: Yard, home: Path, there: Path) -> None:
    first = SentPack.objects.get(uuid=send_pack(cast.owner, gather(cast.owner, yard.all, home), home).uuid)
    got = taken(cast.other, pack_file(home, first.uuid), there)
    saddle = Saddle.objects.get(practice_id=cast.other.practice_id)
    further = saddle_text().replace("a saddle (invented)", "a saddle (invented), flocked")
    services.record_saddle(cast.other, saddle.uuid, Document(text=further), why="flocked", seen=1)
    choice = PackChoice(
        saddles=(saddle.uuid,),
        answers=got.pack.pack_uuid,
        work_done=(WorkDone(on=date(2026, 5, 20), words="Flock evened in front", saddle=saddle.uuid),),
        questions=("Does she still dip on the near side?",),
    )
    answer = sent(cast.other, choice, there)
    found = looked(cast.owner, answer, home)
    assert found.answers == first
    entity, document = found.of(Subject.SADDLE)
    assert (entity.fate, entity.local) == (Fate.SAME_ONE, yard.saddle)
    assert document.fate is Fate.DIFFERS
    wants = TakeChoices(trusts_key=True, further_versions=frozenset({document.origin}))
    back_here = taken(cast.owner, answer, home, wants)
    mine = Saddle.objects.get(uuid=yard.saddle)
    assert mine.current is not None
    assert mine.current.document == further
    shown = taken_pack(cast.owner, back_here.pack.uuid)
    assert shown.answers_label == "Juniper"
    assert shown.questions == ("Does she still dip on the near side?",)
    assert shown.work_done[0]["words"] == "Flock evened in front"
    assert shown.work_done[0]["saddle"] == str(yard.saddle)
    assert [one.uuid for one in sent_pack(cast.owner, first.uuid).answered_by] == [back_here.pack.uuid]


def test_what_can_be_handed_over_is_offered(cast: Cast, yard: Yard) -> None:
    offered = handable_of_horse(cast.fitter, yard.horse)
    assert [one.uuid for one in offered.backs] == [yard.back]
    assert [one.uuid for one in offered.studies] == [yard.study]
    assert [one.uuid for one in offered.saddles] == [yard.saddle]
    assert [one.uuid for one in offered.photos] == [yard.photo]
    with pytest.raises(NotFoundError):
        handable_of_horse(cast.other, yard.horse)


def test_a_link_leads_to_one_pack_counts_and_ends(cast: Cast, yard: Yard, home: Path) -> None:
    pack = send_pack(cast.owner, gather(cast.owner, yard.all, home), home)
    made = make_link(cast.owner, pack.uuid, days=7, most_uses=2)
    assert made.secret not in str(list(PackLink.objects.values()))
    shown = link_of(made.secret)
    assert shown is not None
    assert (shown.pack, shown.uses_left, shown.holds["horses"]) == (pack.uuid, 2, ["Juniper"])
    assert link_of(made.secret + "x") is None
    assert [use_link(made.uuid) for _ in range(3)] == [True, True, False]
    assert link_of(made.secret).uses_left == 0
    (row,) = sent_pack(cast.owner, pack.uuid).links
    assert (row.uses, row.stands) == (2, False)
    other = make_link(cast.fitter, pack.uuid, days=7, most_uses=2)
    with pytest.raises(NotFoundError):
        end_link(cast.other, other.uuid)
    end_link(cast.owner, other.uuid)
    assert link_of(other.secret) is None
    assert not use_link(other.uuid)
    late = make_link(cast.owner, pack.uuid, days=1, most_uses=1)
    PackLink.objects.filter(uuid=late.uuid).update(expires_at=timezone.now() - timedelta(seconds=1))
    assert link_of(late.secret) is None
    for days, uses in ((0, 1), (91, 1), (1, 0), (1, 101)):
        with pytest.raises(InputProblemsError):
            make_link(cast.owner, pack.uuid, days=days, most_uses=uses)
    with pytest.raises(NotFoundError):
        make_link(cast.other, pack.uuid, days=1, most_uses=1)


def test_deleting_a_pack_ends_its_links(cast: Cast, yard: Yard, home: Path) -> None:
    pack = send_pack(cast.owner, gather(cast.owner, yard.all, home), home)
    made = make_link(cast.owner, pack.uuid, days=7, most_uses=2)
    with pytest.raises(NotFoundError):
        delete_pack(cast.other, pack.uuid, home)
    delete_pack(cast.owner, pack.uuid, home)
    assert not pack_file(home, pack.uuid).exists()
    assert link_of(made.secret) is None
    with pytest.raises(NotFoundError):
        make_link(cast.owner, pack.uuid, days=1, most_uses=1)
