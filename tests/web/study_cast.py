"""A horse, a back, a saddle and a fit check that the engine really made, in the cast's own practice."""

import uuid as uuids
from dataclasses import dataclass
from functools import cache

from web_cast import Cast

from exchange.studies import back_record, study
from saddlebench.demo.saddles import EVERYDAY_NUMNAH, TOO_NARROW, TREELESS
from saddlebench.engine.fit.horse import Horse
from saddlebench.engine.fit.loads import Rider
from saddlebench.engine.saddle.alterable import usual_alterations
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.exchange.job import StudyRequest
from saddlebench.exchange.records import BackDocument, SaddleDocument, as_json
from saddlebench.practice import queries, services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.services.opinions import give_opinions, set_beside

DRAWS = 16


@dataclass(frozen=True, kw_only=True)
class Checked:
    """What was recorded."""

    horse: str
    saddle: str
    back: str
    back_version: str
    saddle_version: str
    study: str


@cache
def documents() -> tuple[Document, Document]:
    narrow = SaddleRecord(
        label=TOO_NARROW.label,
        numbers=TOO_NARROW,
        alterable=usual_alterations(TOO_NARROW, "bent steel"),
        pads=(EVERYDAY_NUMNAH,),
    )
    return (
        Document(text=as_json(BackDocument.of(back_record()))),
        Document(text=as_json(SaddleDocument.of(narrow))),
    )


@cache
def treeless() -> Document:
    record = SaddleRecord(label=TREELESS.label, numbers=TREELESS, alterable=usual_alterations(TREELESS))
    return Document(text=as_json(SaddleDocument.of(record)))


_made: dict[tuple[str, str], Document] = {}


def record_checked(cast: Cast, who: str = "fitter", *, draws: int = DRAWS) -> Checked:
    """Record a real back and saddle and a real check of them; the check is computed once a process."""
    actor = cast.actors[who]
    invented = cast.elsewhere if who == "other" else cast.here
    horse, saddle = invented[Subject.HORSE], invented[Subject.SADDLE]
    back_text, saddle_text = documents()
    back = services.record_back(
        actor, uuids.UUID(horse), back_text, measured_on=back_record().measured_on
    ).version
    seen = services_current(cast, who)
    measured = services.record_saddle(actor, uuids.UUID(saddle), saddle_text, seen=seen).version
    key = (back.sha256, measured.sha256)
    request = StudyRequest(rider=Rider(mass_kg=70.0), horse=Horse(mass_kg=520.0), draws=draws)
    if key not in _made:
        _made[key] = services.compute_check(
            actor, request, back_version=back.uuid, saddle_version=measured.uuid
        )
    uuid = uuids.uuid4()
    give_opinions(
        actor, uuid, {"rocking": "fine", "withers": "not right", "hand_near": "even"}, back_version=back.uuid
    )
    services.record_study(actor, _made[key], back_version=back.uuid, saddle_version=measured.uuid, uuid=uuid)
    set_beside(actor, uuid)
    return Checked(
        horse=horse,
        saddle=saddle,
        back=str(back.back.uuid),
        back_version=str(back.uuid),
        saddle_version=str(measured.uuid),
        study=str(uuid),
    )


def services_current(cast: Cast, who: str) -> int:
    """Return the number of the saddle's current version."""
    invented = cast.elsewhere if who == "other" else cast.here
    page = queries.saddle_page(cast.actors[who], uuids.UUID(invented[Subject.SADDLE]))
    return page.current_number or 0


__all__ = ["Checked", "documents", "record_checked", "study", "treeless"]
