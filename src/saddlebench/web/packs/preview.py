"""What a pack would hold, seen before it is made: every record, every free text, every answer."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.http import HttpResponse
from django.urls import reverse

from saddlebench.exchange.packs.document import FilmPart, PhotoPart, VersionPart, VisitPart
from saddlebench.practice.catalogue import VISIT_FIELDS, VISIT_SADDLE_FIELDS
from saddlebench.practice.enums import Subject
from saddlebench.practice.handover.choice import Gathered, PackChoice
from saddlebench.practice.handover.gathering import gather
from saddlebench.web.base.access import PageRequest
from saddlebench.web.base.days import short_day
from saddlebench.web.base.fields import FactShown, facts, words_of_choice
from saddlebench.web.base.render import show
from saddlebench.web.packs.words import FACT_WORDS, KIND_WORDS

_FREE_TEXTS = {
    "notes": "notes",
    "practice": "practice",
    "workshop": "workshop",
    "price_limit": "price limit",
    "loan_saddle": "loan saddle",
}
"""What people wrote into record documents."""
_UNTOLD = frozenset({"uuid", "label"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One record of a pack, before the pack is made."""

    kind: str
    label: str
    facts: tuple[FactShown, ...] = ()
    picture: str = ""


def see_first(request: PageRequest, choice: PackChoice, back_to: str) -> HttpResponse:
    """Show what a pack would hold, and ask for the word to make it."""
    gathered = gather(request.actor, choice, Path(settings.SADDLEBENCH_HOME))
    given = [
        (name, value)
        for name, values in request.POST.lists()
        if name not in {"csrfmiddlewaretoken", "step"}
        for value in values
    ]
    return show(
        request,
        "packs/preview.html",
        f"What goes in: {gathered.label}",
        gathered,
        seen=seen_of(gathered),
        given=given,
        back_to=back_to,
        people=choice.names_people,
    )


def seen_of(gathered: Gathered) -> list[Seen]:
    """Return every record, photo and film of a pack, with all that people wrote in it."""
    saddles = {one.uuid: one.label for one in gathered.saddles}

    def document(version: VersionPart) -> tuple[FactShown, ...]:
        return _written(gathered.files[version.file], version)

    rows = [
        *(
            Seen(kind=KIND_WORDS[kind], label=one.label, facts=_facts(one.model_dump(exclude_none=True)))
            for kind, parts in ((Subject.HORSE, gathered.horses), (Subject.SADDLE, gathered.saddles))
            for one in parts
        ),
        *(
            Seen(kind=KIND_WORDS[kind], label=one.label, facts=document(one.version))
            for kind, parts in (
                (Subject.BACK, gathered.backs),
                (Subject.STUDY, gathered.studies),
                (Subject.PLAN, gathered.plans),
                (Subject.ORDER, gathered.orders),
                (Subject.COMPARISON, gathered.changes),
                (Subject.CHOICE, gathered.shortlists),
            )
            for one in parts
        ),
        *(
            Seen(kind="Saddle record", label=saddles[one.saddle], facts=document(one.version))
            for one in gathered.saddle_records
        ),
    ]
    for visit in gathered.visits:
        rows += visit_seen(visit, saddles)
    for photo in gathered.photos:
        local = gathered.local.get(photo.uuid, photo.uuid)
        rows.append(_sight("Photo", photo, reverse("photos:thumb", args=[local])))
    return [*rows, *(_sight("Film", film, "") for film in gathered.films)]


def _sight(kind: str, one: PhotoPart | FilmPart, picture: str) -> Seen:
    words = one.label or one.shot.replace("_", " ") or kind.lower()
    return Seen(kind=kind, label=f"{words}, {short_day(one.day)}", picture=picture)


def visit_seen(visit: VisitPart, saddles: Mapping[str, str]) -> list[Seen]:
    """Return a visit of a pack, and each saddle tried at it, with their answers in words."""
    head = ", ".join(filter(None, (visit.label, words_of_choice("purpose", visit.purpose))))
    return [
        Seen(
            kind=KIND_WORDS[Subject.VISIT],
            label=f"{short_day(visit.day)}, {head}",
            facts=tuple(facts(VISIT_FIELDS, visit.answers)),
        ),
        *(
            Seen(
                kind="Tried at this visit",
                label=saddles.get(one.saddle, "a saddle"),
                facts=tuple(facts(VISIT_SADDLE_FIELDS, one.answers)),
            )
            for one in visit.tried
        ),
    ]


def _facts(held: Mapping[str, object]) -> tuple[FactShown, ...]:
    return tuple(
        FactShown(words=FACT_WORDS.get(name, name.replace("_", " ")), text=str(value))
        for name, value in held.items()
        if name not in _UNTOLD and value not in ("", None)
    )


def _written(content: bytes, version: VersionPart) -> tuple[FactShown, ...]:
    held = json.loads(content)
    told = {words: held.get(name) for name, words in _FREE_TEXTS.items()}
    told |= {"recorded by": version.recorded_by, "why": version.why}
    return tuple(
        FactShown(words=words, text=text) for words, text in told.items() if isinstance(text, str) and text
    )
