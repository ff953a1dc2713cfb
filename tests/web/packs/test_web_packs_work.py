"""Plans, work orders, visits and films in packs: chosen, seen first, taken where they belong, answered."""

import re
import uuid as uuids
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from planned_cast import recorded_plan
from study_cast import Checked, record_checked
from web_cast import Cast, do_waiting

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.packs import opened_pack
from saddlebench.exchange.readers import Language, Reader
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Purpose, Subject
from saddlebench.practice.handover.choice import PackChoice
from saddlebench.practice.handover.comparing import Comparison, compare
from saddlebench.practice.handover.deciding import TakeChoices
from saddlebench.practice.handover.gathering import gather
from saddlebench.practice.handover.items import Fate
from saddlebench.practice.handover.keys import keys_to_open
from saddlebench.practice.handover.sending import pack_file, send_pack
from saddlebench.practice.handover.taken_records import Taken
from saddlebench.practice.handover.taking import take_pack
from saddlebench.practice.keeping.files import store, stored_path
from saddlebench.practice.models import Photo, Plan, Study, StudyVersion, Visit, WorkOrder
from saddlebench.practice.orders import OrderStep
from saddlebench.practice.queries.handable import handable_of_horse
from saddlebench.practice.queries.orders import order_page
from saddlebench.practice.queries.packs import origins_of, taken_pack
from saddlebench.practice.queries.plans import plan_page
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import PhotoFacts
from saddlebench.practice.services.entering import Entered, enter
from saddlebench.practice.services.order_documents import OrderFacts
from saddlebench.practice.services.orders import move_order, say_done, write_order
from saddlebench.report.handover import Wants, enclosures_of
from support.films import SECRET, film
from support.reports import text_of

TRUST = TakeChoices(trusts_key=True)


@pytest.fixture
def home(cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "SADDLEBENCH_HOME", tmp_path)
    return tmp_path


@dataclass(frozen=True)
class Yard:
    """What the sender, the other practice, has of one horse. Everything invented."""

    checked: Checked
    plan: uuids.UUID
    order: uuids.UUID
    visit: uuids.UUID
    film: uuids.UUID

    @property
    def all(self) -> PackChoice:
        return PackChoice(plans=(self.plan,), orders=(self.order,), visits=(self.visit,), photos=(self.film,))


def entered(actor: Actor, subject: Subject, uuid: uuids.UUID, **answers: object) -> None:
    entries = [Entered(field=name, value=value, key=uuids.uuid4(), seen=0) for name, value in answers.items()]
    enter(actor, subject, uuid, entries)


@pytest.fixture
def yard(cast: Cast, home: Path) -> Yard:
    sender = cast.actors["other"]
    checked = record_checked(cast, "other")
    plan = recorded_plan(cast, checked, "other")
    order = write_order(
        sender, plan, OrderFacts(number="17", price_limit="ask first", notes="Match the wool.")
    )
    move_order(sender, order.uuid, OrderStep.SENT, seen=1, said="Please by the fair.")
    horse, saddle = uuids.UUID(checked.horse), uuids.UUID(checked.saddle)
    visit = services.start_visit(sender, on=date(2026, 5, 2), purpose=Purpose.COMPLAINT, horse=horse)
    entered(
        sender, Subject.VISIT, visit.uuid,
        coat="clipped", condition_score=5, rubs="Behind the near panel", reason="Naomi says he bucks",
        rider_injuries="A hip", palpation=[],
    )  # fmt: skip
    tried = services.try_saddle(sender, visit.uuid, saddle)
    entered(sender, Subject.VISIT_SADDLE, tried.uuid, lumps=True, webs="worn")
    stored = store(home, film())
    kept = services.attach_photo(
        sender, stored, PhotoFacts(original_sha256=stored.sha256, shot="walk"), visit=visit.uuid
    )
    return Yard(checked=checked, plan=plan, order=order.uuid, visit=visit.uuid, film=kept.uuid)


def sent(actor: Actor, choice: PackChoice, home: Path) -> Path:
    return pack_file(home, send_pack(actor, gather(actor, choice, home), home).uuid)


def looked(actor: Actor, path: Path, home: Path) -> Comparison:
    with opened_pack(path, keys_to_open(actor, home)) as pack:
        return compare(actor, pack)


def taken(actor: Actor, path: Path, home: Path, choices: TakeChoices = TRUST) -> Taken:
    with opened_pack(path, keys_to_open(actor, home)) as pack:
        return take_pack(actor, pack, choices, home)


def mine(
    cast: Cast, model: type[Plan] | type[WorkOrder] | type[Visit] | type[Photo], **more: object
) -> object:
    return model.objects.get(practice_id=cast.actors["owner"].practice_id, **more)


def test_an_order_goes_with_all_that_it_stands_on(cast: Cast, home: Path, yard: Yard) -> None:
    gathered = gather(cast.actors["other"], PackChoice(orders=(yard.order,)), home)
    assert [one.uuid for one in gathered.plans] == [str(yard.plan)]
    assert [one.uuid for one in gathered.studies] == [yard.checked.study]
    assert [one.uuid for one in gathered.backs] == [yard.checked.back]
    assert [one.saddle for one in gathered.saddle_records] == [yard.checked.saddle]
    assert gathered.plans[0].study_sha256 == gathered.studies[0].version.sha256


def test_what_is_about_people_stays_at_home(cast: Cast, home: Path, yard: Yard) -> None:
    path = sent(cast.actors["other"], yard.all, home)
    with opened_pack(path) as pack:
        (visit,) = pack.document.visits
        assert visit.answers == {
            "coat": "clipped", "condition_score": 5, "rubs": "Behind the near panel", "palpation": [],
        }  # fmt: skip
        assert visit.tried[0].answers == {"lumps": True, "webs": "worn"}
        (moving,) = pack.document.films
        held = pack.content(moving.file)
        assert b"+51.5072" not in held
        assert SECRET not in held
    assert b"Naomi" not in path.read_bytes()
    assert b"A hip" not in path.read_bytes()


def test_it_is_taken_where_it_belongs_with_where_it_came_from(cast: Cast, home: Path, yard: Yard) -> None:
    owner = cast.actors["owner"]
    path = sent(cast.actors["other"], yard.all, home)
    before = Visit.objects.count()
    assert {item.fate for item in looked(owner, path, home).items} == {Fate.NEW}
    got = taken(owner, path, home)
    assert got.left == ()
    plan, order = mine(cast, Plan), mine(cast, WorkOrder)
    assert order.plan_uuid == plan.uuid
    assert plan.study == Study.objects.get(practice_id=owner.practice_id, uuid=plan.study.uuid)
    page = order_page(owner, order.uuid)
    assert (page.row.step, page.row.number, page.history[0].said) == (
        OrderStep.SENT, "17", "Please by the fair.",
    )  # fmt: skip
    assert page.document == WorkOrder.objects.get(uuid=yard.order).states.get(number=2).document
    assert plan_page(owner, plan.uuid).document == plan_page(cast.actors["other"], yard.plan).document
    visit = mine(cast, Visit, label__startswith="Gorse Saddlery")
    shown = queries.visit_page(owner, visit.uuid)
    told = {name: one.value for name, one in shown.answers.items() if one.value not in (None, [])}
    assert told == {"coat": "clipped", "condition_score": 5, "rubs": "Behind the near panel"}
    assert (shown.head["state"], shown.head["purpose"]) == ("finished", "complaint")
    assert [one.answers["webs"].value for one in shown.tried] == ["worn"]
    moving = mine(cast, Photo, media_type="video/mp4")
    assert SECRET not in stored_path(home, moving.sha256, moving.media_type).read_bytes()
    for one in (plan, order, visit, moving):
        assert origins_of(owner, one.uuid)[0].sender == "Gorse Saddlery (invented)"
    assert {kind for kind, _ in taken_pack(owner, got.pack.uuid).records} == {
        Subject.HORSE, Subject.SADDLE, Subject.BACK, Subject.STUDY,
        Subject.PLAN, Subject.ORDER, Subject.VISIT, Subject.PHOTO,
    }  # fmt: skip
    again = taken(owner, path, home, TakeChoices())
    assert again.made == ()
    assert Visit.objects.count() == before + 1
    assert {item.fate for item in looked(owner, path, home).items} == {Fate.HERE, Fate.SAME_ONE}


def test_an_order_is_done_there_and_comes_back_done(cast: Cast, home: Path, yard: Yard) -> None:
    """The saddler is another practice: takes the order, works on it, and answers with it."""
    owner, sender = cast.actors["owner"], cast.actors["other"]
    got = taken(owner, sent(sender, yard.all, home), home)
    theirs = mine(cast, WorkOrder)
    move_order(owner, theirs.uuid, OrderStep.ACCEPTED, seen=1)
    move_order(owner, theirs.uuid, OrderStep.IN_WORK, seen=2)
    document = order_page(owner, theirs.uuid).document
    done_mm = [2.0] * document.count('"bench_mm"')
    arch = 240.0 if '"arch"' in document else None
    say_done(owner, theirs.uuid, done_mm, seen=3, arch_mm=arch)
    move_order(owner, theirs.uuid, OrderStep.READY, seen=4, said="Two days early.")
    choice = PackChoice(orders=(theirs.uuid,), answers=got.pack.pack_uuid)
    answer = sent(owner, choice, home)
    (item,) = looked(sender, answer, home).of(Subject.ORDER)
    assert (item.fate, item.local) == (Fate.DIFFERS, yard.order)
    assert Subject.ORDER not in {one.subject for one in taken(sender, answer, home).made}
    assert order_page(sender, yard.order).row.step is OrderStep.SENT
    back = taken(sender, answer, home, TakeChoices(further_versions=frozenset({item.origin})))
    assert [one.subject for one in back.made] == [Subject.ORDER]
    page = order_page(sender, yard.order)
    assert (page.row.step, page.history[0].said, page.row.state_number) == (
        OrderStep.READY, "Two days early.", 3,
    )  # fmt: skip
    assert page.document == order_page(owner, theirs.uuid).document
    # The fitter closes it; from then on nothing that comes opens it again.
    move_order(sender, yard.order, OrderStep.CHECKED, seen=3)
    (late,) = looked(sender, answer, home).of(Subject.ORDER)
    assert late.fate is Fate.HERE


def test_an_order_of_the_same_number_gets_its_senders_name(cast: Cast, home: Path, yard: Yard) -> None:
    owner = cast.actors["owner"]
    own = recorded_plan(cast, record_checked(cast, "owner"), "owner")
    write_order(owner, own, OrderFacts(number="17"))
    taken(owner, sent(cast.actors["other"], yard.all, home), home)
    numbers = WorkOrder.objects.filter(practice_id=owner.practice_id).values_list("number", flat=True)
    assert set(numbers) == {"17", "17 (Gorse Saddlery (invented))"}


def test_what_is_still_being_written_is_not_sent(cast: Cast, home: Path, yard: Yard) -> None:
    sender = cast.actors["other"]
    draft = write_order(sender, yard.plan, OrderFacts(number="18"))
    with pytest.raises(InputProblemsError, match="is being written"):
        gather(sender, PackChoice(orders=(draft.uuid,)), home)
    offered = handable_of_horse(sender, uuids.UUID(yard.checked.horse))
    assert [one.uuid for one in offered.orders] == [yard.order]
    assert [one.uuid for one in offered.plans] == [yard.plan]
    assert yard.visit in {one.uuid for one in offered.visits}
    assert [one.is_film for one in offered.photos] == [True]


def test_two_runs_of_one_fit_check_go_and_come_as_one(cast: Cast, home: Path, yard: Yard) -> None:
    sender, owner = cast.actors["other"], cast.actors["owner"]
    study = Study.objects.get(uuid=yard.checked.study)
    first = study.versions.get(number=1)
    services.record_run(
        sender, study.uuid, Document(text=first.document + "\n"),
        back_version=first.back_version.uuid, saddle_version=first.saddle_version.uuid, why="again", seen=1,
    )  # fmt: skip
    path = sent(sender, PackChoice(plans=(yard.plan,), studies=(study.uuid,)), home)
    taken(owner, path, home)
    there = Study.objects.exclude(uuid=study.uuid).get(practice_id=owner.practice_id, plans__isnull=False)
    runs = StudyVersion.objects.filter(study=there).order_by("number")
    assert [run.document for run in runs] == [first.document, first.document + "\n"]
    assert there.current == runs[1]
    assert mine(cast, Plan).run == 1


def test_a_stop_comes_along_and_is_said_before(cast: Cast, home: Path, yard: Yard) -> None:
    sender, owner = cast.actors["other"], cast.actors["owner"]
    entered(sender, Subject.VISIT, yard.visit, stops_vet_first=["lame_or_unsteady"])
    path = sent(sender, yard.all, home)
    (item,) = looked(owner, path, home).of(Subject.VISIT)
    assert "a stop stands in it" in item.remark
    got = taken(owner, path, home)
    assert got.left == ()
    back = next(one for kind, one in taken_pack(owner, got.pack.uuid).records if kind is Subject.BACK)
    horse = queries.visit_page(owner, mine(cast, Visit, label__startswith="Gorse").uuid)
    assert horse.stops == {"stops_vet_first": ("lame_or_unsteady",)}
    assert back.label


def test_all_of_it_is_seen_before_it_is_made(cast: Cast, home: Path, yard: Yard) -> None:
    client = cast.browser("other")
    address = f"/packs/new/horse/{yard.checked.horse}/"
    page = client.get(address).content.decode()
    for kind, uuid in (
        ("plans", yard.plan),
        ("orders", yard.order),
        ("visits", yard.visit),
        ("photos", yard.film),
    ):
        assert f'value="{kind}:{uuid}"' in page
    form = re.search(r'name="form" value="([^"]+)"', page)[1]
    given = {
        "form": form,
        "choose": [f"orders:{yard.order}", f"visits:{yard.visit}", f"photos:{yard.film}"],
        "message": "Hello <there>",
    }
    seen = client.post(address, {**given, "step": "see"}).content.decode()
    for said in (
        "Match the wool.",
        "ask first",
        "Behind the near panel",
        "Hello &lt;there&gt;",
        "Nothing is made yet",
    ):
        assert said in seen
    assert "Naomi" not in seen
    assert f'name="choose" value="orders:{yard.order}"' in seen
    again = client.post(address, {**given, "step": "choose"}).content.decode()
    assert f'value="visits:{yard.visit}" checked' in again
    assert "Hello &lt;there&gt;" in again
    assert client.post(address, given)["Location"] == f"/jobs/{form}/"
    do_waiting()
    shown = client.get(f"/packs/sent/{form}/").content.decode()
    for said in ("1 alteration plan", "1 work order", "1 visit", "1 film"):
        assert said in shown
    held = b"".join(client.get(f"/packs/sent/{form}/file/").streaming_content)
    there = cast.browser("owner")
    looking = there.post("/packs/look/", {"file": SimpleUploadedFile("pack.zip", held)})["Location"]
    told = there.get(looking).content.decode()
    assert "Work order: 17" in told
    assert "Behind the near panel" in told
    assert there.post(looking, {"trust": "yes"}).status_code == 302
    assert "17: " in there.get("/orders/").content.decode()


def test_reports_in_a_pack_are_in_the_language_of_their_reader(
    cast: Cast, home: Path, yard: Yard, tmp_path: Path
) -> None:
    choice = PackChoice(studies=(uuids.UUID(yard.checked.study),))
    wants = Wants(drawings=False, reader=Reader(language=Language.GERMAN))
    enclosed, problems = enclosures_of(gather(cast.actors["other"], choice, home), wants, tmp_path)
    assert problems == ()
    workshop = next(one for one in enclosed if one.file.endswith("workshop.pdf"))
    assert workshop.words.endswith("für die Werkstatt (PDF)")
    assert isinstance(workshop.content, bytes)
    assert text_of(workshop.content).count("Für die Werkstatt") == 1
