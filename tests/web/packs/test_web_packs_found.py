"""Change studies, shortlists and later packs of one visit: chosen, shown before, and never written over."""

import json
import re
import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from change_cast import record_story
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from web_cast import Cast

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.packs import opened_pack
from saddlebench.exchange.packs.page import index_page
from saddlebench.exchange.readers import Language, Reader, read_by
from saddlebench.practice import services
from saddlebench.practice.enums import ChoiceKind, ComparisonKind, Purpose, Subject
from saddlebench.practice.handover.choice import PackChoice
from saddlebench.practice.handover.comparing import Comparison, compare
from saddlebench.practice.handover.deciding import TakeChoices
from saddlebench.practice.handover.gathering import gather
from saddlebench.practice.handover.items import Fate, Item
from saddlebench.practice.handover.keys import keys_to_open
from saddlebench.practice.handover.sending import pack_file, send_pack
from saddlebench.practice.handover.taken_records import Taken
from saddlebench.practice.handover.taking import take_pack
from saddlebench.practice.models import Answer, Choice, Entry, TakenRecord, Visit
from saddlebench.practice.models import Comparison as ComparisonRow
from saddlebench.practice.queries.choices import choice_page
from saddlebench.practice.queries.comparisons import comparison_page
from saddlebench.practice.queries.handable import handable_of_horse
from saddlebench.practice.queries.packs import origins_of, taken_pack
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.comparing import compare_backs
from saddlebench.practice.services.entering import Entered, enter
from saddlebench.practice.services.plans import record_choice

TRUST = TakeChoices(trusts_key=True)
SADDLE_OF_THEIRS = "4c1f2c6e-0000-4000-8000-00000000000a"
FOUND: Mapping[str, object] = {
    "horse": "Bracken",
    "complete": False,
    "asked_for": 5,
    "entries": [
        {
            "rank": 1,
            "number": SADDLE_OF_THEIRS,
            "saddle": "Twite (invented)",
            "where": "rack 4",
            "price": "900 GBP",
            "looked_at": "in full",
            "cost": 3.5,
            "cost_as_it_stands": None,
            "arch_by_mm": 0.0,
            "change": "",
            "counted": [{"finding": "withers, top", "counts": 1.0}],
            "for": ["Rocking: fine, 1 mm (fine up to 4 mm)"],
            "against": ["Rocking: fine, 1 mm (fine up to 4 mm); least room here"],
            "stays_share": 0.9,
            "verdicts_hold_share": 0.8,
            "sure": "How sure this is was not computed.",
            "level_with": [],
            "level": "",
            "alike": [],
            "findings": [],
        }
    ],
    "ruled_out": {"width": 3},
    "ruled_out_saddles": [],
    "not_judged": [{"key": "x", "label": "Siskin (invented)", "reason": "nothing is measured of it"}],
    "cost": {"words": ["Rocking weighs 2."], "weights": {"rocking": 2.0}},
    "work_words": ["4 saddles: 3 ruled out by a tape, 0 not to be judged."],
    "cautions": [
        "The list orders saddles by one sum; look at the findings, and try more than one on the horse."
    ],
}


@pytest.fixture
def home(cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "SADDLEBENCH_HOME", tmp_path)
    return tmp_path


@dataclass(frozen=True)
class Yard:
    """What the sender, the other practice, found out of one horse. Everything invented."""

    horse: uuids.UUID
    change: uuids.UUID
    shortlist: uuids.UUID
    visit: uuids.UUID

    @property
    def all(self) -> PackChoice:
        return PackChoice(changes=(self.change,), shortlists=(self.shortlist,), visits=(self.visit,))


def entered(actor: Actor, uuid: uuids.UUID, **answers: object) -> None:
    seen = dict(Answer.objects.filter(subject_uuid=uuid).values_list("field", "revision"))
    enter(
        actor,
        Subject.VISIT,
        uuid,
        [
            Entered(field=name, value=value, key=uuids.uuid4(), seen=seen.get(name, 0))
            for name, value in answers.items()
        ],
    )


@pytest.fixture
def yard(cast: Cast, home: Path) -> Yard:
    sender = cast.actors["other"]
    story = record_story(cast, who="other")
    horse = uuids.UUID(story.horse)
    change = compare_backs(sender, horse, [uuids.UUID(one) for one in story.versions])
    shortlist = record_choice(
        sender, ChoiceKind.SHORTLIST, FOUND, label="Saddles for Bracken", asked={}, horse_uuid=horse
    )
    visit = services.start_visit(sender, on=date(2026, 5, 2), purpose=Purpose.COMPLAINT, horse=horse)
    entered(sender, visit.uuid, coat="clipped", condition_score=5)
    return Yard(horse=horse, change=change.uuid, shortlist=shortlist.uuid, visit=visit.uuid)


def sent(actor: Actor, choice: PackChoice, home: Path) -> Path:
    return pack_file(home, send_pack(actor, gather(actor, choice, home), home).uuid)


def looked(actor: Actor, path: Path, home: Path) -> Comparison:
    with opened_pack(path, keys_to_open(actor, home)) as pack:
        return compare(actor, pack)


def taken(actor: Actor, path: Path, home: Path, choices: TakeChoices = TRUST) -> Taken:
    with opened_pack(path, keys_to_open(actor, home)) as pack:
        return take_pack(actor, pack, choices, home)


def visit_item(found: Comparison) -> Item:
    (item,) = found.of(Subject.VISIT)
    return item


def test_a_change_study_goes_with_the_backs_it_compared_and_is_read_there(
    cast: Cast, home: Path, yard: Yard
) -> None:
    owner, sender = cast.actors["owner"], cast.actors["other"]
    path = sent(sender, PackChoice(changes=(yard.change,)), home)
    found = looked(owner, path, home)
    assert {one.fate for one in found.items} == {Fate.NEW}
    assert len(found.of(Subject.BACK)) == 2
    got = taken(owner, path, home)
    assert got.left == ()
    row = ComparisonRow.objects.get(practice_id=owner.practice_id, label__startswith="Gorse Saddlery")
    page = comparison_page(owner, row.uuid, ComparisonKind.CHANGE)
    theirs = comparison_page(sender, yard.change, ComparisonKind.CHANGE)
    assert (page.document, page.sha256, page.told) == (theirs.document, theirs.sha256, theirs.told)
    assert page.is_on_current
    assert {one.version for one in page.backs}.isdisjoint({one.version for one in theirs.backs})
    assert page.made_of["from"]["sender"] == "Gorse Saddlery (invented)"
    assert origins_of(owner, row.uuid)[0].sender == "Gorse Saddlery (invented)"
    assert Subject.COMPARISON in {kind for kind, _ in taken_pack(owner, got.pack.uuid).records}
    client = cast.browser("owner")
    shown = client.get(f"/changes/{row.uuid}/").content.decode()
    assert theirs.told["headline"] in shown
    again = taken(owner, path, home, TakeChoices())
    assert again.made == ()
    assert ComparisonRow.objects.filter(practice_id=owner.practice_id).count() == 1


def test_ones_own_change_study_comes_back_as_the_one_that_is_here(cast: Cast, home: Path, yard: Yard) -> None:
    owner, sender = cast.actors["owner"], cast.actors["other"]
    taken(owner, sent(sender, PackChoice(changes=(yard.change,)), home), home)
    row = ComparisonRow.objects.get(practice_id=owner.practice_id)
    back = looked(sender, sent(owner, PackChoice(changes=(row.uuid,)), home), home)
    assert [one.fate for one in back.of(Subject.COMPARISON)] == [Fate.HERE]
    assert [one.local for one in back.of(Subject.COMPARISON)] == [yard.change]


def test_a_change_study_of_a_back_that_is_gone_is_not_sent(cast: Cast, home: Path, yard: Yard) -> None:
    sender = cast.actors["other"]
    assert yard.change in {one.uuid for one in handable_of_horse(sender, yard.horse).changes}
    page = comparison_page(sender, yard.change, ComparisonKind.CHANGE)
    services.withdraw(sender, Subject.BACK, page.backs[0].back)
    assert handable_of_horse(sender, yard.horse).changes == ()
    with pytest.raises(InputProblemsError, match="not here any more"):
        gather(sender, PackChoice(changes=(yard.change,)), home)


def test_a_shortlist_goes_without_the_shop_and_its_own_saddles_are_known_again(
    cast: Cast, home: Path, yard: Yard
) -> None:
    owner, sender = cast.actors["owner"], cast.actors["other"]
    path = sent(sender, PackChoice(shortlists=(yard.shortlist,)), home)
    with opened_pack(path) as pack:
        (part,) = pack.document.shortlists
        held = json.loads(pack.text(part.version.file))
        assert "rack 4" not in json.dumps(held)
        assert "900 GBP" not in json.dumps(held)
        assert held["places"][0]["saddle"] == "Twite (invented)"
    taken(owner, path, home)
    row = Choice.objects.get(practice_id=owner.practice_id)
    page = choice_page(owner, row.uuid, ChoiceKind.SHORTLIST)
    assert page.found["entries"][0]["for"] == ["Rocking: fine, 1 mm (fine up to 4 mm)"]
    assert not page.found["complete"]
    shown = cast.browser("owner").get(f"/choices/{row.uuid}/").content.decode()
    for words in ("Twite (invented)", "In their stock, not in yours", "found by Gorse Saddlery", "partial"):
        assert words in shown
    back = looked(sender, sent(owner, PackChoice(shortlists=(row.uuid,)), home), home)
    assert [(one.fate, one.local) for one in back.of(Subject.CHOICE)] == [(Fate.HERE, yard.shortlist)]


def test_a_season_is_not_handed_over(cast: Cast, home: Path, yard: Yard) -> None:
    sender = cast.actors["other"]
    season = record_choice(sender, ChoiceKind.SEASON, {"lists": []}, label="Season: 2 horses", asked={})
    with pytest.raises(InputProblemsError, match="more than one horse"):
        gather(sender, PackChoice(shortlists=(season.uuid,)), home)


def test_a_later_pack_of_a_visit_shows_what_would_change_and_writes_nothing_over(
    cast: Cast, home: Path, yard: Yard
) -> None:
    owner, sender = cast.actors["owner"], cast.actors["other"]
    choice = PackChoice(visits=(yard.visit,))
    taken(owner, sent(sender, choice, home), home)
    visit = Visit.objects.get(practice_id=owner.practice_id, label__startswith="Gorse Saddlery")
    entered(owner, visit.uuid, rubs="Ours: none seen")
    entered(sender, yard.visit, condition_score=6)
    entered(sender, yard.visit, weighed_kg=512.0)
    later = sent(sender, choice, home)
    item = visit_item(looked(owner, later, home))
    assert item.fate is Fate.DIFFERS
    assert {(one.name, one.mine, one.theirs) for one in item.differing} == {
        ("condition_score", 5, 6),
        ("weighed_kg", None, 512.0),
    }
    left = taken(owner, later, home, TakeChoices())
    assert item.origin in {one.origin for one in left.left}
    assert visit_item(looked(owner, later, home)).fate is Fate.DIFFERS
    got = taken(owner, later, home, TakeChoices(further_versions=frozenset({item.origin})))
    assert [one.subject for one in got.made] == [Subject.VISIT]
    assert visit_item(looked(owner, later, home)).fate is Fate.HERE
    held = {
        (one.field, one.value)
        for one in Entry.objects.filter(subject_uuid=visit.uuid)
        if one.field != "palpation"
    }
    assert {("condition_score", 5), ("condition_score", 6), ("rubs", "Ours: none seen")} <= held
    assert Visit.objects.filter(practice_id=owner.practice_id, label__startswith="Gorse").count() == 1
    origins = origins_of(owner, visit.uuid)
    assert len({one.pack for one in origins}) == 2
    assert TakenRecord.objects.filter(local_uuid=visit.uuid).count() == 2


def test_found_things_are_chosen_seen_and_taken_on_the_pages(cast: Cast, home: Path, yard: Yard) -> None:
    owner, sender = cast.actors["owner"], cast.actors["other"]
    client = cast.browser("other")
    address = f"/packs/new/horse/{yard.horse}/"
    page = client.get(address).content.decode()
    for kind, uuid in (("changes", yard.change), ("shortlists", yard.shortlist)):
        assert f'value="{kind}:{uuid}"' in page
    form = re.search(r'name="form" value="([^"]+)"', page)[1]
    ticks = [f"changes:{yard.change}", f"shortlists:{yard.shortlist}"]
    seen = client.post(address, {"form": form, "choose": ticks, "step": "see"}).content.decode()
    assert "Change study" in seen
    assert "Shortlist" in seen
    taken(owner, sent(sender, yard.all, home), home)
    entered(sender, yard.visit, condition_score=7)
    later = sent(sender, yard.all, home)
    there = cast.browser("owner")
    looking = there.post("/packs/look/", {"file": SimpleUploadedFile("pack.zip", later.read_bytes())})
    told = there.get(looking["Location"]).content.decode()
    assert "Condition score: here 5, in the pack 7" in told
    assert "stays in the visit’s history" in told
    there.post(looking["Location"], {"further": str(yard.visit)})
    assert visit_item(looked(owner, later, home)).fate is Fate.HERE


def test_the_page_of_the_pack_tells_them_in_both_languages(cast: Cast, home: Path, yard: Yard) -> None:
    with opened_pack(sent(cast.actors["other"], yard.all, home)) as pack:
        files = {one.file: pack.content(one.file) for one in pack.document.versions()}
        english = index_page(pack.document, files)
        with read_by(Reader(language=Language.GERMAN)):
            german = index_page(pack.document, files)
    for words in ("What changed", "Saddles for Bracken", "Twite (invented)", "Stopped early"):
        assert words in english
    for words in ("Was sich verändert hat", "Sättel für Bracken", "Twite (invented)", "Vorzeitig angehalten"):
        assert words in german
    for words in ("What changed", "Saddles for", "Stopped early", "How sure", "least room here"):
        assert words not in german
