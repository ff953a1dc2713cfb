"""Visits of a pack beside what is here: answer by answer, since another day's pack may say more."""

import hashlib
import uuid as uuids
from collections.abc import Iterable, Iterator, Mapping

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.packs.document import PackDocument, VisitPart
from saddlebench.exchange.readers import Reader
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS, Field, Value, read_value
from saddlebench.practice.catalogue.visit import is_about_people
from saddlebench.practice.enums import Subject
from saddlebench.practice.handover.items import Differing, Fate, Here, Item
from saddlebench.practice.models import Answer, Visit, VisitSaddle
from saddlebench.practice.stops import all_stops

TRIED = "tried"
"""Named as differing where a saddle was tried there and not here."""


def visit_items(here: Here, document: PackDocument) -> Iterator[Item]:
    """Yield what would become of each visit of a pack."""
    known = here.find(Visit, Subject.VISIT, (one.uuid for one in document.visits))
    saddles = {one.uuid: one.label for one in document.saddles}
    for part in document.visits:
        row = known.get(part.uuid)
        words = Reader().short_day(part.day) + (f", {part.label}" if part.label else "")
        differing: tuple[Differing, ...] = ()
        if row is None:
            fate = Fate.NEW
        elif row.withdrawn_at:
            fate = Fate.WITHDRAWN
        else:
            differing = tuple(_differing(here, part, row.uuid, saddles))
            fate = Fate.DIFFERS if differing else Fate.HERE
        yield Item(
            subject=Subject.VISIT,
            origin=uuids.UUID(part.uuid),
            sha256=digest_of(part),
            label=words[:200],
            fate=fate,
            local=row.uuid if row else None,
            differing=differing,
            remark=_stop_words(part) if fate in (Fate.NEW, Fate.DIFFERS) else "",
        )


def digest_of(part: VisitPart) -> str:
    """Return the hash of a visit's answers as they came: names one state of it."""
    return hashlib.sha256(part.model_dump_json().encode()).hexdigest()


def known_answers(
    answers: Iterable[tuple[str, Value]], fields: Mapping[str, Field]
) -> Iterator[tuple[str, Value]]:
    """Yield the answers that this version's form has; another's may have other fields, or other choices."""
    for name, value in answers:
        field = fields.get(name)
        if field is None or value is None or is_about_people(field):
            continue
        try:
            yield name, read_value(field, value)
        except InputProblemsError:
            continue


def tried_here(here: Mapping[str, uuids.UUID], part: VisitPart, visit: uuids.UUID) -> dict[str, uuids.UUID]:
    """Return the saddles tried at a visit here, by a pack's names for them: the uuid of each trial.

    Parameters
    ----------
    here : saddles here, by the pack's names
    """
    rows = VisitSaddle.objects.filter(visit__uuid=visit, taken_off_at=None)
    by_saddle = dict(rows.values_list("saddle__uuid", "uuid"))
    return {
        one.saddle: by_saddle[here[one.saddle]]
        for one in part.tried
        if one.saddle in here and here[one.saddle] in by_saddle
    }


def answers_now(subjects: Iterable[uuids.UUID]) -> dict[tuple[uuids.UUID, str], tuple[Value, int]]:
    """Return what stands in visits and trials here: value and revision, by the record and the field."""
    rows = Answer.objects.filter(subject_uuid__in=list(subjects))
    return {(row.subject_uuid, row.field): (row.value, row.revision) for row in rows}


def _differing(
    here: Here, part: VisitPart, visit: uuids.UUID, labels: Mapping[str, str]
) -> Iterator[Differing]:
    saddles = {one.saddle: here.local(Subject.SADDLE, one.saddle) for one in part.tried}
    trials = tried_here(saddles, part, visit)
    now = answers_now([visit, *trials.values()])
    for name, theirs in known_answers(part.answers.items(), VISIT_FIELDS):
        mine = now.get((visit, name), (None, 0))[0]
        if mine != theirs:
            yield Differing(name=name, mine=mine, theirs=theirs)
    for one in part.tried:
        trial, label = trials.get(one.saddle), labels.get(one.saddle, "")
        if trial is None:
            yield Differing(name=f"{TRIED}: {label}", mine=None, theirs=label)
            continue
        for name, theirs in known_answers(one.answers.items(), VISIT_SADDLE_FIELDS):
            mine = now.get((trial, name), (None, 0))[0]
            if mine != theirs:
                yield Differing(name=f"{name}: {label}", mine=mine, theirs=theirs)


def _stop_words(visit: VisitPart) -> str:
    if not all_stops(visit.answers) and not any(all_stops(visit.answers, one.answers) for one in visit.tried):
        return ""
    return "a stop stands in it, and holds here too while it is the horse’s last visit"
