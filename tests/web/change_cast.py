"""A horse of the cast with a story: measured by a comb, trained, and measured twice with nothing changed."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date
from functools import cache

from web_cast import Cast

from saddlebench.demo.two_years import STORIES, measured_at_visit
from saddlebench.demo.visits import unchanged
from saddlebench.exchange.records import BackDocument, as_json
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.services.numbers import work_out_numbers

TRAINED = STORIES[0]
BEFORE, BUILT = 0, 9


@cache
def visit_document(k: int, seed: int = 100, *, is_unchanged: bool = False) -> tuple[Document, date]:
    """Return the record of a visit of the story; computed once a process."""
    record = measured_at_visit(TRAINED, k, seed, unchanged if is_unchanged else None).record
    return Document(text=as_json(BackDocument.of(record))), record.measured_on


@dataclass(frozen=True, kw_only=True)
class Story:
    """A horse and the versions of its backs."""

    horse: str
    versions: tuple[str, ...]


def new_horse(cast: Cast, who: str, label: str) -> str:
    return str(services.take_on_horse(cast.actors[who], {"label": label}).uuid)


def record_story(
    cast: Cast,
    visits: tuple[int, ...] = (BEFORE, BUILT),
    *,
    who: str = "fitter",
    seed: int = 100,
    is_unchanged: bool = False,
    numbers: bool = False,
) -> Story:
    """Record visits of the story for a horse of its own."""
    actor = cast.actors[who]
    horse = new_horse(cast, who, "Bracken")
    versions = []
    for k in visits:
        document, day = visit_document(k, seed, is_unchanged=is_unchanged)
        made = services.record_back(actor, uuids.UUID(horse), document, measured_on=day)
        versions.append(str(made.version.uuid))
    if numbers:
        work_out_numbers(actor, uuids.UUID(horse))
    return Story(horse=horse, versions=tuple(versions))


def record_repeats(cast: Cast, count: int = 3, *, who: str = "fitter", seed: int = 300) -> Story:
    """Record repeats of one back on one day, nothing changed."""
    actor = cast.actors[who]
    horse = new_horse(cast, who, "Bracken")
    _, day = visit_document(0)
    versions = []
    for k in range(count):
        document, _ = visit_document(0, seed + k, is_unchanged=True)
        made = services.record_back(
            actor, uuids.UUID(horse), document, measured_on=day, label=f"repeat {k + 1}"
        )
        versions.append(str(made.version.uuid))
    return Story(horse=horse, versions=tuple(versions))


__all__ = ["Story", "record_repeats", "record_story", "visit_document"]
