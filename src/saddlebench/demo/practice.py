"""The invented yard as a practice's records: people, horses, saddles, backs, fit checks, visits."""

from datetime import date, timedelta
from pathlib import Path
from uuid import UUID

from django.utils import timezone

from saddlebench.demo.day import DAY, TO_ALTER
from saddlebench.demo.followed import take_on_followed
from saddlebench.demo.shop import fill_stock, order_work
from saddlebench.demo.yard import SCANNED, YARD, InventedHorse
from saddlebench.engine.saddle.numbers import family_of
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Holding, Purpose, RecheckReason, VisitState
from saddlebench.practice.rules import Actor

EMAIL = "demo@saddlebench.example"
LOOK_FIRST = "Otter"
"""A horse that is on the first page, and whose saddle does not sit."""
PRACTICE = "Heather Lane Saddle Fitting (invented)"
_OWNERS = (
    "Agnes Thornbury",
    "Bert Oxenham",
    "Clemency Rudge",
    "Dorian Peake",
    "Edda Marlowe",
    "Fenella Quick",
    "Gideon Sparrow",
    "Hester Vane",
)
_YARDS = ("Long Hollow Farm", "Mill Lane Livery", "Upper Sallow Stud")
_IN_STOCK = (
    "Plane (invented), general, 17 in",
    "Thorn (invented), jumping, 16.5 in",
    "Rush (invented), show, 17 in",
)


def fill_practice(folder: Path, password: str) -> None:
    """Take the invented yard on, with what the demo's job measured and judged of it."""
    _, user = services.found_practice(
        PRACTICE, "Robin Fitter (invented)", EMAIL, password, zone="Europe/London"
    )
    actor = services.actor_for(user)
    if actor is None:
        msg = "the demo's owner is no member"
        raise RuntimeError(msg)
    horses = []
    yards = [
        services.take_on_yard(actor, {"label": f"{name} (invented)", "ground": "concrete by the tap"}).uuid
        for name in _YARDS
    ]
    clients = [_client(actor, name) for name in _OWNERS]
    for number, horse in enumerate(YARD):
        client, yard = clients[number % len(clients)], yards[number % len(yards)]
        horses.append(_take_on(actor, horse, folder / horse.slug, client, yard))
    take_on_followed(actor, folder)
    for label in _IN_STOCK:
        services.take_on_saddle(
            actor, {"label": label, "family": "panelled", "where_kept": "van"}, holding=Holding.STOCK
        )
    today = timezone.localdate()
    fill_stock(actor, clients, today)
    altered = next(k for k, horse in enumerate(YARD) if horse.name == TO_ALTER)
    order_work(actor, password, horses[altered], folder / YARD[altered].slug, today)
    _plan(actor, horses, today)


def _client(actor: Actor, name: str) -> UUID:
    first, _, _ = name.partition(" ")
    given = {
        "label": f"{name} (invented)",
        "email": f"{first.casefold()}@yard.example",
        "town": "Sallowford",
        "phone": "01632 960 100",
    }
    return services.take_on_client(actor, given).uuid


def _take_on(actor: Actor, horse: InventedHorse, folder: Path, client: UUID, yard: UUID) -> UUID:
    taken = services.take_on_horse(
        actor,
        {
            "label": horse.name,
            "note": f"{horse.story} An invented horse.",
            "rider_mass_kg": horse.rider_kg,
            "client": str(client),
            "yard": str(yard),
        },
    )
    family = family_of(horse.saddle.numbers).value.replace("-", "_").replace(" ", "_")
    saddle = services.take_on_saddle(
        actor,
        {"label": horse.saddle.label, "family": family, "note": horse.saddle.notes, "client": str(client)},
    )
    services.use_saddle_on(actor, saddle.uuid, [taken.uuid])
    visit = services.start_visit(
        actor, on=DAY, purpose=Purpose.FIRST, horse=taken.uuid, state=VisitState.FINISHED
    )
    services.try_saddle(actor, visit.uuid, saddle.uuid)
    back = services.record_back(
        actor,
        taken.uuid,
        _document(folder / "back.json"),
        measured_on=DAY,
        label=f"{horse.name}, by {'phone scan' if horse.instrument == SCANNED else horse.instrument}",
        visit_uuid=visit.uuid,
    )
    measured = services.record_saddle(actor, saddle.uuid, _document(folder / "saddle.json"))
    if (folder / "fit.json").is_file():
        services.record_study(
            actor,
            _document(folder / "fit.json"),
            back_version=back.version.uuid,
            saddle_version=measured.version.uuid,
            label=f"{horse.saddle.label} on {horse.name}",
            visit_uuid=visit.uuid,
        )
    return taken.uuid


def _document(path: Path) -> Document:
    return Document(text=path.read_text(encoding="utf-8"))


def _plan(actor: Actor, horses: list[UUID], today: date) -> None:
    """Plan today's visits and the re-checks about now, whatever day the demo is looked at."""
    for horse, hour in zip(horses[:3], ("09:00", "10:30", "14:00"), strict=False):
        services.start_visit(
            actor, on=today, purpose=Purpose.RECHECK, horse=horse, starts_at=hour, state=VisitState.PLANNED
        )
    for horse, days in zip(horses[3:6], (-5, 2, 6), strict=False):
        services.set_recheck(actor, horse, on=today + timedelta(days=days))
    for horse in horses[6:]:
        services.set_recheck(actor, horse, reasons=[RecheckReason.STEADY], visited_on=today)
