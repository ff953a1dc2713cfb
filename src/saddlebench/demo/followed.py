"""The two horses that are followed over the years, and the same back measured again, as records."""

from datetime import date
from pathlib import Path
from uuid import UUID

from saddlebench.demo.saddles import SADDLES
from saddlebench.demo.two_years import AGAIN, FOLDER, REPEATS, STORIES, Story
from saddlebench.exchange.records import SaddleDocument, as_json
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Purpose, VisitState
from saddlebench.practice.rules import Actor

SUFFIX = ".back.json"
AGAIN_WORDS = "measured twice, nothing changed"


def take_on_followed(actor: Actor, folder: Path) -> None:
    """Take the stories' horses on with every record that the demo's job wrote; without them, nobody."""
    for story in STORIES:
        held = folder / FOLDER / story.name.lower()
        if held.is_dir():
            _take_on(actor, story, held)


def _take_on(actor: Actor, story: Story, held: Path) -> None:
    horse = _horse(actor, story.label, f"{story.words} An invented horse.")
    _saddle(actor, story, horse)
    paths = sorted(held.glob(f"*{SUFFIX}"))
    for number, path in enumerate(paths):
        day = date.fromisoformat(path.name.removesuffix(SUFFIX))
        purpose = Purpose.FIRST if number == 0 else Purpose.RECHECK
        visit = services.start_visit(actor, on=day, purpose=purpose, horse=horse, state=VisitState.FINISHED)
        _back(actor, horse, path, day, f"visit {number + 1}", visit.uuid)
    for number, path in enumerate(sorted((held / REPEATS).glob(f"*{SUFFIX}")), start=1):
        day = date.fromisoformat(path.name[: len("2026-01-01")])
        _back(actor, horse, path, day, f"repeat {number}")
    again = sorted((held / AGAIN).glob(f"*{SUFFIX}"))
    if again:
        note = "The first back of that horse again, with nothing changed: what is compared must stay silent."
        same = _horse(actor, f"{story.label}: {AGAIN_WORDS}", note)
        for path in again:
            day = date.fromisoformat(path.name.removesuffix(SUFFIX))
            _back(actor, same, path, day, f"the same back, {day.isoformat()}")


def _horse(actor: Actor, label: str, note: str) -> UUID:
    return services.take_on_horse(actor, {"label": label, "note": note, "rider_mass_kg": 70}).uuid


def _back(actor: Actor, horse: UUID, path: Path, day: date, label: str, visit: UUID | None = None) -> None:
    document = Document(text=path.read_text(encoding="utf-8"))
    services.record_back(actor, horse, document, measured_on=day, label=label, visit_uuid=visit)


def _saddle(actor: Actor, story: Story, horse: UUID) -> None:
    worn = next((one for one in SADDLES if one.label == story.saddle), None)
    if worn is None:
        return
    taken = services.take_on_saddle(actor, {"label": worn.label, "family": "panelled"})
    services.use_saddle_on(actor, taken.uuid, [horse])
    services.record_saddle(actor, taken.uuid, Document(text=as_json(SaddleDocument.of(worn))))
