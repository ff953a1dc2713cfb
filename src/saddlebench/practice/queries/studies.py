"""Fit checks: one of them with its runs, what one can be run on, and how often fitter and program agree."""

import uuid as uuids
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime

from saddlebench.practice.enums import Action, Holding
from saddlebench.practice.models import (
    Back,
    BackVersion,
    Horse,
    Opinion,
    Saddle,
    SaddleVersion,
    Study,
    StudyVersion,
    Visit,
)
from saddlebench.practice.opinions import CANNOT_TELL, TOPIC_WORDS, Judge, Topic
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, own

_MOST_STOCK = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class RunShown:
    """One run of a fit check."""

    number: int
    sha256: str
    made_at: datetime
    made_by: str
    why: str
    engine_version: str
    back_version: uuids.UUID
    back_label: str
    back_number: int
    saddle_version: uuids.UUID
    saddle_number: int
    is_on_current: bool
    """Whether back and saddle are still the versions it was run on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpinionShown:
    """What the fitter said of a topic, and what the program did."""

    topic: Topic
    words: str
    fitter: str
    program: str
    """Empty where it was not set beside yet."""

    @property
    def agrees(self) -> bool | None:
        """Whether both said the same; None where one of them did not say."""
        return None if self.program in ("", CANNOT_TELL) else self.fitter == self.program


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPage:
    """A fit check and one of its runs."""

    uuid: uuids.UUID
    label: str
    horse: Linked
    saddle: Linked
    visit: Linked | None
    run: RunShown
    current_number: int
    runs: tuple[RunShown, ...]
    opinions: tuple[OpinionShown, ...]
    opinions_by: str
    opinions_at: datetime | None


def study_page(actor: Actor | None, uuid: uuids.UUID, number: int | None = None) -> StudyPage:
    """Return a fit check with one run of it, the current one if none is named.

    Raises
    ------
    NotFoundError
        If the practice has no such fit check, or the check no such run.
    """
    allowed = require(actor, Action.SEE_HORSES)
    study = (
        Study.objects.filter(pk=own(Study, allowed, uuid).pk)
        .select_related("horse", "saddle", "visit", "current")
        .defer("current__document")
        .get()
    )
    rows = StudyVersion.objects.filter(study=study).order_by("-number")
    linked = rows.select_related("made_by", "back_version__back", "saddle_version__saddle")
    runs = tuple(
        _run(row) for row in linked.defer("document", "back_version__document", "saddle_version__document")
    )
    current = study.current.number if study.current else 0
    wanted = current if number is None else number
    shown = next((run for run in runs if run.number == wanted), None)
    if shown is None:
        raise NotFoundError("run", wanted)
    opinions, by, at = _opinions(allowed, uuid)
    visit = study.visit
    return StudyPage(
        uuid=study.uuid,
        label=study.label,
        horse=Linked(uuid=study.horse.uuid, label=study.horse.label),
        saddle=Linked(uuid=study.saddle.uuid, label=study.saddle.label, detail=study.saddle.family),
        visit=Linked(uuid=visit.uuid, label=visit.label, day=visit.date, detail=visit.purpose)
        if visit
        else None,
        run=shown,
        current_number=current,
        runs=runs,
        opinions=opinions,
        opinions_by=by,
        opinions_at=at,
    )


def _run(row: StudyVersion) -> RunShown:
    back, saddle = row.back_version, row.saddle_version
    return RunShown(
        number=row.number,
        sha256=row.sha256,
        made_at=row.made_at,
        made_by=row.made_by.label,
        why=row.why,
        engine_version=row.engine_version,
        back_version=back.uuid,
        back_label=back.back.label,
        back_number=back.number,
        saddle_version=saddle.uuid,
        saddle_number=saddle.number,
        is_on_current=back.pk == back.back.current_id and saddle.pk == saddle.saddle.current_id,
    )


def _opinions(actor: Actor, study_uuid: uuids.UUID) -> tuple[tuple[OpinionShown, ...], str, datetime | None]:
    rows = list(
        Opinion.objects.filter(study_uuid=study_uuid, practice_id=actor.practice_id).select_related("made_by")
    )
    said = {(row.topic, row.judge): row.said for row in rows}
    first = next((row for row in rows if row.judge == Judge.FITTER), None)
    shown = tuple(
        OpinionShown(
            topic=topic,
            words=str(TOPIC_WORDS[topic]),
            fitter=said[topic, Judge.FITTER],
            program=said.get((topic, Judge.PROGRAM), ""),
        )
        for topic in Topic
        if (topic, Judge.FITTER) in said
    )
    return shown, first.made_by.label if first else "", first.made_at if first else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TallyRow:
    """How often fitter and program said the same of a topic."""

    words: str
    compared: int
    agreed: int
    program_cannot_tell: int


def tally(actor: Actor | None) -> tuple[TallyRow, ...]:
    """Return the practice's tally of agreement, topic by topic; topics without an opinion are left out."""
    allowed = require(actor, Action.SEE_HORSES)
    said: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
    rows = Opinion.objects.filter(practice_id=allowed.practice_id)
    for study, topic, judge, words in rows.values_list("study_uuid", "topic", "judge", "said"):
        said[topic, str(study)][judge] = words
    pairs = [(topic, one) for (topic, _), one in said.items() if len(one) == len(Judge)]
    shown = []
    for topic in Topic:
        both = [one for name, one in pairs if name == topic.value]
        told = [one for one in both if one[Judge.PROGRAM] != CANNOT_TELL]
        if both:
            shown.append(
                TallyRow(
                    words=str(TOPIC_WORDS[topic]),
                    compared=len(told),
                    agreed=sum(one[Judge.FITTER] == one[Judge.PROGRAM] for one in told),
                    program_cannot_tell=len(both) - len(told),
                )
            )
    return tuple(shown)


@dataclass(frozen=True, slots=True, kw_only=True)
class BackChoice:
    """A version of a back that a fit check can be run on."""

    uuid: uuids.UUID
    label: str
    measured_on: date
    number: int
    is_current: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SaddleChoice:
    """A version of a saddle that a fit check can be run with."""

    uuid: uuids.UUID
    saddle_uuid: uuids.UUID
    label: str
    number: int
    is_current: bool
    is_this_horses: bool
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckChoices:
    """What a fit check of one horse can be made of."""

    horse: Linked
    rider_mass_kg: float | None
    backs: tuple[BackChoice, ...]
    saddles: tuple[SaddleChoice, ...]
    visits: tuple[Linked, ...]


def check_choices(actor: Actor | None, horse_uuid: uuids.UUID) -> CheckChoices:
    """Return what a fit check of a horse can be made of, the current versions first.

    Raises
    ------
    NotFoundError
        If the practice has no such horse.
    """
    allowed = require(actor, Action.RECORD_STUDY)
    horse = own(Horse, allowed, horse_uuid)
    backs = BackVersion.objects.filter(back__in=Back.objects.standing().filter(horse=horse))
    saddles = SaddleVersion.objects.filter(
        saddle__practice_id=allowed.practice_id, saddle__withdrawn_at=None
    ).select_related("saddle")
    own_rows = list(
        saddles.filter(saddle__horses=horse).defer("document").order_by("saddle__label", "-number")
    )
    stock = saddles.filter(saddle__holding=Holding.STOCK.value).exclude(saddle__horses=horse)
    stock_rows = list(stock.defer("document").order_by("saddle__label", "-number")[:_MOST_STOCK])
    visits = Visit.objects.standing().filter(horse=horse).order_by("-date", "-id")[:20]
    return CheckChoices(
        horse=Linked(uuid=horse.uuid, label=horse.label),
        rider_mass_kg=horse.rider_mass_kg,
        backs=tuple(
            BackChoice(
                uuid=row.uuid,
                label=row.back.label,
                measured_on=row.back.measured_on,
                number=row.number,
                is_current=row.pk == row.back.current_id,
            )
            for row in backs.select_related("back")
            .defer("document")
            .order_by("-back__measured_on", "-back_id", "-number")
        ),
        saddles=(
            *(_saddle_choice(row, is_this_horses=True) for row in own_rows),
            *(_saddle_choice(row, is_this_horses=False) for row in stock_rows),
        ),
        visits=tuple(Linked(uuid=v.uuid, label=v.label, day=v.date, detail=v.purpose) for v in visits),
    )


def saddles_of_horse(actor: Actor | None, horse_uuid: uuids.UUID) -> tuple[Linked, ...]:
    """Return a horse's saddles, measured or not, by name."""
    allowed = require(actor, Action.RECORD_STUDY)
    rows = Saddle.objects.of(allowed.practice_id).standing().filter(horses__uuid=horse_uuid)
    return tuple(Linked(uuid=row.uuid, label=row.label) for row in rows.order_by("label", "id"))


def _saddle_choice(row: SaddleVersion, *, is_this_horses: bool) -> SaddleChoice:
    return SaddleChoice(
        uuid=row.uuid,
        saddle_uuid=row.saddle.uuid,
        label=row.saddle.label,
        number=row.number,
        is_current=row.pk == row.saddle.current_id,
        is_this_horses=is_this_horses,
        why=row.why,
    )
