"""Plans, work orders, findings, photos and films of a pack beside what is here."""

import uuid as uuids
from collections.abc import Iterator

from saddlebench.exchange.packs.document import FilmPart, PackDocument
from saddlebench.practice.enums import Subject
from saddlebench.practice.handover.comparing_visits import visit_items
from saddlebench.practice.handover.items import Fate, Here, Item
from saddlebench.practice.models import Choice, Comparison, OrderState, Photo, Plan, WorkOrder
from saddlebench.practice.models.base import Withdrawable
from saddlebench.practice.orders import CLOSED


def work_items(here: Here, document: PackDocument) -> Iterator[Item]:
    """Yield what would become of each plan, work order, visit, finding, photo and film of a pack."""
    plans = here.find(Plan, Subject.PLAN, (one.uuid for one in document.plans))
    for plan in document.plans:
        yield _once(Subject.PLAN, plan.uuid, plan.version.sha256, plan.label, plans.get(plan.uuid))
    yield from _orders(here, document)
    yield from visit_items(here, document)
    yield from _changes(here, document)
    lists = here.find(Choice, Subject.CHOICE, (one.uuid for one in document.shortlists))
    for found in document.shortlists:
        yield _once(Subject.CHOICE, found.uuid, found.version.sha256, found.label, lists.get(found.uuid))
    sights = document.sights()
    kept = here.find(Photo, Subject.PHOTO, (one.uuid for one in sights))
    for sight in sights:
        kind = "film" if isinstance(sight, FilmPart) else "photo"
        words = sight.label or sight.shot.replace("_", " ") or kind
        yield _once(Subject.PHOTO, sight.uuid, sight.sha256, words, kept.get(sight.uuid))


def _once(
    subject: Subject, name: str, sha256: str, label: str, row: Withdrawable | None, *, remark: str = ""
) -> Item:
    """Return the item of a record that is taken once and then stays as it is."""
    fate = Fate.NEW if row is None else Fate.WITHDRAWN if row.withdrawn_at else Fate.HERE
    return Item(
        subject=subject,
        origin=uuids.UUID(name),
        sha256=sha256,
        label=label[:200],
        fate=fate,
        local=row.uuid if row else None,
        remark=remark if fate is Fate.NEW else "",
    )


def _changes(here: Here, document: PackDocument) -> Iterator[Item]:
    """Yield change studies: made once, and neither changed nor withdrawn."""
    local = {one.uuid: here.local(Subject.COMPARISON, one.uuid) for one in document.changes}
    rows = Comparison.objects.filter(practice_id=here.actor.practice_id, uuid__in=local.values())
    known = set(rows.values_list("uuid", flat=True))
    for part in document.changes:
        is_here = local[part.uuid] in known
        yield Item(
            subject=Subject.COMPARISON,
            origin=uuids.UUID(part.uuid),
            sha256=part.version.sha256,
            label=part.label[:200],
            fate=Fate.HERE if is_here else Fate.NEW,
            local=local[part.uuid] if is_here else None,
        )


def _orders(here: Here, document: PackDocument) -> Iterator[Item]:
    known = here.find(WorkOrder, Subject.ORDER, (one.uuid for one in document.orders))
    rows = OrderState.objects.filter(order_id__in=[row.pk for row in known.values()])
    held = set(rows.values_list("order_id", "sha256"))
    for part in document.orders:
        row = known.get(part.uuid)
        item = _once(Subject.ORDER, part.uuid, part.version.sha256, part.label, row)
        if not isinstance(row, WorkOrder) or item.fate is not Fate.HERE:
            yield item
            continue
        # What is closed here stays closed, whatever comes.
        is_same = (row.pk, part.version.sha256) in held or row.step in CLOSED
        yield item if is_same else _differing(item)


def _differing(item: Item) -> Item:
    return Item(
        subject=item.subject,
        origin=item.origin,
        sha256=item.sha256,
        label=item.label,
        fate=Fate.DIFFERS,
        local=item.local,
    )
