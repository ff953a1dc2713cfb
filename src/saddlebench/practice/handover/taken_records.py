"""The records of a pack, taken one after another: each once, nothing that is there is changed."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from saddlebench.exchange.packs.document import (
    ChangePart,
    FilmPart,
    HorsePart,
    PhotoPart,
    SaddlePart,
    ShortlistPart,
    VisitPart,
)
from saddlebench.exchange.packs.opening import OpenedPack
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.handover.comparing import (
    HORSE_FACTS,
    SADDLE_FACTS,
    Comparison,
)
from saddlebench.practice.handover.comparing_visits import digest_of
from saddlebench.practice.handover.deciding import TakeChoices
from saddlebench.practice.handover.items import Fate, Item
from saddlebench.practice.handover.taking_found import take_change, take_shortlist
from saddlebench.practice.handover.taking_work import (
    TakenOrder,
    add_state,
    go_on_with_visit,
    take_order,
    take_visit,
)
from saddlebench.practice.keeping.files import StoredFile
from saddlebench.practice.models import (
    BackVersion,
    SaddleVersion,
    StudyVersion,
    TakenPack,
    TakenRecord,
)
from saddlebench.practice.services.deeds import Deed
from saddlebench.practice.services.photos import PhotoFacts, attach_photo
from saddlebench.practice.services.plans import record_plan
from saddlebench.practice.services.records import (
    correct_back,
    record_back,
    record_run,
    record_saddle,
    record_study,
)
from saddlebench.practice.services.taking_on import take_on_horse, take_on_saddle

_NEW = "new"


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What became of a pack."""

    pack: TakenPack
    made: tuple[Item, ...]
    left: tuple[Item, ...]
    """What was not taken: here already, withdrawn, otherwise here, or leading to something that was not."""


Stored = tuple[StoredFile, int | None, int | None]


Items = Mapping[tuple[Subject, str, str], Item]
"""By kind, the pack's name, and the hash."""


class Taking:
    """One pack being taken, inside its transaction."""

    def __init__(
        self,
        done: Deed,
        pack: OpenedPack,
        found: Comparison,
        choices: TakeChoices,
        row: TakenPack,
        stored: Mapping[str, Stored],
    ) -> None:
        self._actor, self._pack, self._found = done.actor, pack, found
        self._choices, self._row, self._stored = choices, row, stored
        self._local: dict[tuple[Subject, str], uuids.UUID] = {}
        self._made: list[Item] = []
        self._left: list[Item] = []
        self._why = f"from {found.known.label}, pack of {pack.document.made_at[:10]}"[:200]

    def run(self) -> Taken:
        """Take horses and saddles first, then what is of them, then what was done and found about them."""
        items = {(one.subject, str(one.origin), one.sha256): one for one in self._found.items}
        self._take_records(items)
        self._take_work(items)
        return Taken(pack=self._row, made=tuple(self._made), left=tuple(self._left))

    def _take_records(self, items: Items) -> None:
        document = self._pack.document
        for horse in document.horses:
            self._take_on(items[Subject.HORSE, horse.uuid, ""], horse)
        for saddle in document.saddles:
            self._take_on(items[Subject.SADDLE, saddle.uuid, ""], saddle)
        for back in document.backs:
            self._version(items[Subject.BACK, back.uuid, back.version.sha256], horse=back.horse)
        for record in document.saddle_records:
            self._version(items[Subject.SADDLE, record.saddle, record.version.sha256])
        for study in document.studies:
            self._version(items[Subject.STUDY, study.uuid, study.version.sha256])

    def _take_work(self, items: Items) -> None:
        document = self._pack.document
        for plan in document.plans:
            self._plan(items[Subject.PLAN, plan.uuid, plan.version.sha256])
        for order in document.orders:
            self._order(items[Subject.ORDER, order.uuid, order.version.sha256])
        for photo in document.sights():
            self._photo(items[Subject.PHOTO, photo.uuid, photo.sha256], photo)
        for change in document.changes:
            self._change(items[Subject.COMPARISON, change.uuid, change.version.sha256], change)
        for found in document.shortlists:
            self._shortlist(items[Subject.CHOICE, found.uuid, found.version.sha256], found)
        # Last: a stop in one of them holds from then on, and is not to refuse what came with it.
        for visit in document.visits:
            self._visit(items[Subject.VISIT, visit.uuid, digest_of(visit)], visit)

    def _came(self, item: Item, local: uuids.UUID) -> None:
        """Write down where a record came from; one's own that came back needs no such row."""
        if local == item.origin:
            return
        TakenRecord.objects.get_or_create(
            practice_id=self._actor.practice_id,
            subject=item.subject.value,
            origin_uuid=item.origin,
            sha256=item.sha256,
            defaults={"pack": self._row, "local_uuid": local},
        )

    def _take_on(self, item: Item, part: HorsePart | SaddlePart) -> None:
        local = item.local or self._choices.same_as.get(item.origin)
        if item.fate is Fate.WITHDRAWN:
            self._left.append(item)
            return
        if local is None:
            local = self._new(item, part)
            self._made.append(item)
        else:
            self._left.append(item)
        self._local[item.subject, str(item.origin)] = local
        self._came(item, local)

    def _new(self, item: Item, part: HorsePart | SaddlePart) -> uuids.UUID:
        names = HORSE_FACTS if item.subject is Subject.HORSE else SADDLE_FACTS
        values = {name: getattr(part, name) for name in names if getattr(part, name) not in ("", None)}
        take_on = take_on_horse if item.subject is Subject.HORSE else take_on_saddle
        return take_on(self._actor, values, uuids.uuid4()).uuid

    def _version(self, item: Item, horse: str = "") -> None:
        takes = item.fate is Fate.NEW or (
            item.fate is Fate.DIFFERS and item.origin in self._choices.further_versions
        )
        local = self._record(item, horse) if takes else item.local
        if takes and local is not None:
            self._made.append(item)
            self._came(item, local)
        else:
            self._left.append(item)
        if local is not None:
            self._local[item.subject, str(item.origin)] = local

    def _document(self, item: Item) -> Document:
        versions = {one.sha256: one.file for one in self._pack.document.versions()}
        return Document(text=self._pack.text(versions[item.sha256]))

    def _record(self, item: Item, horse: str) -> uuids.UUID | None:
        """Record a document, first or further; None where what it is of was not taken."""
        document = self._document(item)
        if item.subject is Subject.STUDY:
            return self._study(item, document)
        if item.subject is Subject.SADDLE:
            saddle = self._local.get((Subject.SADDLE, str(item.origin)))
            if saddle is None or not self._may_follow(item, saddle):
                return None
            record_saddle(
                self._actor, saddle, document, why=self._why, seen=_seen(SaddleVersion, "saddle", saddle)
            )
            return saddle
        local = self._local.get((Subject.BACK, str(item.origin))) or item.local
        if local is not None:
            correct_back(self._actor, local, document, why=self._why, seen=_seen(BackVersion, "back", local))
            return local
        of = self._local.get((Subject.HORSE, horse))
        if of is None:
            return None
        part = next(one for one in self._pack.document.backs if one.uuid == str(item.origin))
        made = record_back(
            self._actor, of, document, measured_on=part.measured_on, label=part.label, uuid=uuids.uuid4()
        )
        return made.version.back.uuid

    def _may_follow(self, item: Item, saddle: uuids.UUID) -> bool:
        """Tell whether a document may be recorded of a saddle here: its first, or one that was asked for."""
        held = set(SaddleVersion.objects.filter(saddle__uuid=saddle).values_list("sha256", flat=True))
        return not held or (item.sha256 not in held and item.origin in self._choices.further_versions)

    def _study(self, item: Item, document: Document) -> uuids.UUID | None:
        part = next(
            one
            for one in self._pack.document.studies
            if (one.uuid, one.version.sha256) == (str(item.origin), item.sha256)
        )
        back = self._version_here(BackVersion, "back", (Subject.BACK, part.back), part.back_sha256)
        saddle = self._version_here(
            SaddleVersion, "saddle", (Subject.SADDLE, part.saddle), part.saddle_sha256
        )
        if back is None or saddle is None:
            return None
        used = {"back_version": back, "saddle_version": saddle}
        local = self._local.get((Subject.STUDY, str(item.origin))) or item.local
        if local is not None:
            seen = _seen(StudyVersion, "study", local)
            record_run(self._actor, local, document, why=self._why, seen=seen, **used)
            return local
        made = record_study(self._actor, document, label=part.label, uuid=uuids.uuid4(), **used)
        return made.version.study.uuid

    def _plan(self, item: Item) -> None:
        part = next(one for one in self._pack.document.plans if one.uuid == str(item.origin))
        study = self._local.get((Subject.STUDY, part.study))
        number = _number_here(study, part.study_sha256)
        if item.fate is not Fate.NEW or study is None or number is None:
            self._left.append(item)
            self._keep_name(item)
            return
        made = record_plan(
            self._actor, self._document(item), study_uuid=study, number=number, uuid=uuids.uuid4()
        )
        self._take_in(item, made.uuid)

    def _order(self, item: Item) -> None:
        part = next(one for one in self._pack.document.orders if one.uuid == str(item.origin))
        theirs = TakenOrder(part=part, document=self._document(item), sender=self._found.known.label)
        plan = self._local.get((Subject.PLAN, part.plan))
        if item.fate is Fate.NEW and plan is not None:
            self._take_in(item, take_order(self._actor, theirs, plan))
        elif item.fate is Fate.DIFFERS and item.origin in self._choices.further_versions and item.local:
            self._take_in(item, add_state(self._actor, theirs, item.local, self._why))
        else:
            self._left.append(item)

    def _visit(self, item: Item, part: VisitPart) -> None:
        horse = self._local.get((Subject.HORSE, part.horse))
        saddles = {name: uuid for (kind, name), uuid in self._local.items() if kind is Subject.SADDLE}
        if item.fate is Fate.NEW and horse is not None:
            label = f"{self._found.known.label}: {part.label}".removesuffix(": ")[:200]
            self._take_in(item, take_visit(self._actor, part, horse, saddles, label))
        elif item.fate is Fate.DIFFERS and item.origin in self._choices.further_versions and item.local:
            go_on_with_visit(self._actor, part, item.local, saddles)
            self._take_in(item, item.local)
        else:
            self._left.append(item)

    def _change(self, item: Item, part: ChangePart) -> None:
        horse = self._local.get((Subject.HORSE, part.horse))
        here = [
            self._version_here(BackVersion, "back", (Subject.BACK, one.back), one.sha256)
            for one in part.backs
        ]
        versions = [one for one in here if one is not None]
        if item.fate is not Fate.NEW or horse is None or len(versions) < len(part.backs):
            self._left.append(item)
            return
        sender = self._found.known.label
        taken = take_change(self._actor, part, self._document(item), horse, versions, sender)
        self._take_in(item, taken)

    def _shortlist(self, item: Item, part: ShortlistPart) -> None:
        horse = self._local.get((Subject.HORSE, part.horse))
        if item.fate is not Fate.NEW or horse is None:
            self._left.append(item)
            return
        rows = TakenRecord.objects.filter(
            practice_id=self._actor.practice_id, subject=Subject.SADDLE.value
        ).values_list("origin_uuid", "local_uuid")
        saddles = {str(origin): str(local) for origin, local in rows}
        sender = self._found.known.label
        self._take_in(item, take_shortlist(self._actor, part, self._document(item), horse, saddles, sender))

    def _take_in(self, item: Item, local: uuids.UUID) -> None:
        """Note that a record was made, or went on, where it came from, and what it is called here."""
        self._made.append(item)
        self._came(item, local)
        self._local[item.subject, str(item.origin)] = local

    def _keep_name(self, item: Item) -> None:
        if item.local is not None:
            self._local[item.subject, str(item.origin)] = item.local

    def _version_here(
        self,
        model: type[BackVersion] | type[SaddleVersion],
        owner: str,
        name: tuple[Subject, str],
        sha256: str,
    ) -> uuids.UUID | None:
        local = self._local.get(name)
        rows = model.objects.filter(**{f"{owner}__uuid": local, "sha256": sha256}) if local else None
        found = rows.first() if rows is not None else None
        return found.uuid if found else None

    def _photo(self, item: Item, part: PhotoPart | FilmPart) -> None:
        horse = self._local.get((Subject.HORSE, part.horse or ""))
        saddle = self._local.get((Subject.SADDLE, part.saddle or ""))
        if item.fate is not Fate.NEW or not (horse or saddle):
            self._left.append(item)
            return
        stored, width, height = self._stored[part.file]
        taken_at = part.taken_at if isinstance(part, PhotoPart) else None
        facts = PhotoFacts(
            original_sha256=part.sha256,
            label=part.label,
            shot=part.shot,
            width_px=width,
            height_px=height,
            taken_at=datetime.fromisoformat(taken_at) if taken_at else None,
        )
        made = attach_photo(self._actor, stored, facts, horse=horse, saddle=saddle, uuid=uuids.uuid4())
        self._take_in(item, made.uuid)


def _number_here(study: uuids.UUID | None, sha256: str) -> int | None:
    """Return which run of a fit check here a document is."""
    if study is None:
        return None
    rows = StudyVersion.objects.filter(study__uuid=study, sha256=sha256).order_by("number")
    return rows.values_list("number", flat=True).first()


def _seen(
    model: type[BackVersion] | type[SaddleVersion] | type[StudyVersion], owner: str, uuid: uuids.UUID
) -> int:
    """Return the number of the version that is current, which a further one is to follow."""
    current = model.objects.filter(
        **{f"{owner}__uuid": uuid, f"{owner}__current_id__isnull": False}
    ).values_list(f"{owner}__current__number", flat=True)
    return int(current.first() or 0)
