"""What stands at the head of a report: which horse, which saddle, measured when."""

import uuid as uuids
from dataclasses import dataclass
from datetime import date

from saddlebench.practice.enums import Action
from saddlebench.practice.models import Horse, Study
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import own


@dataclass(frozen=True, slots=True, kw_only=True)
class HorseFacts:
    """A horse as a report names it; nothing about its owner."""

    label: str
    breed: str
    born_in: int | None
    height_cm: float | None
    discipline: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyFacts:
    """What a fit check was made of."""

    horse: HorseFacts
    measured_on: date
    maker: str
    serial: str
    seat_size_in: float | None


def horse_facts(actor: Actor | None, uuid: uuids.UUID) -> HorseFacts:
    """Return a horse as a report names it.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    return _of(own(Horse, require(actor, Action.SEE_HORSES), uuid))


def study_facts(actor: Actor | None, uuid: uuids.UUID, number: int) -> StudyFacts:
    """Return what a run of a fit check was made of.

    Raises
    ------
    NotFoundError
        If the practice has no such fit check.
    """
    study = own(Study, require(actor, Action.SEE_HORSES), uuid)
    run = study.versions.select_related("back_version__back").get(number=number)
    return StudyFacts(
        horse=_of(study.horse),
        measured_on=run.back_version.back.measured_on,
        maker=study.saddle.maker,
        serial=study.saddle.serial,
        seat_size_in=study.saddle.seat_size_in,
    )


def _of(horse: Horse) -> HorseFacts:
    return HorseFacts(
        label=horse.label,
        breed=horse.breed,
        born_in=horse.born_in,
        height_cm=horse.height_cm,
        discipline=horse.discipline,
    )
