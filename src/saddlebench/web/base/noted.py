"""What the fitter noted on two days, ready for the vet's report."""

import uuid as uuids
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from saddlebench.exchange.readers import Reader, read_by
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.catalogue import VISIT_FIELDS, Field, Kind, Value
from saddlebench.practice.catalogue.shots import USUAL_SHOTS
from saddlebench.practice.phrases import choice_words
from saddlebench.practice.queries.noted import noted_on
from saddlebench.practice.queries.photos import shot_list
from saddlebench.practice.rules import Actor
from saddlebench.web.base.fields import text_of
from saddlebench.web.base.outline import mark_words

if TYPE_CHECKING:
    from saddlebench.report import Noted

ABOUT = ("palpation", "muscle", "bigger_shoulder", "symmetry", "stance", "condition_score")
NOTHING = "–"


def noted_of_both_days(
    actor: Actor | None, horse: uuids.UUID, days: tuple[date, date], reader: Reader
) -> "tuple[Noted, ...]":
    """Return what was looked at and felt on either of two days, in a reader's language.

    What a fitter wrote in words of their own stays as it is. Fields that nobody filled in are left out.
    """
    from saddlebench.report import Noted  # noqa: PLC0415

    earlier, later = (noted_on(actor, horse, day) for day in days)
    rows = []
    with read_by(reader):
        for name in ABOUT:
            field = VISIT_FIELDS[name]
            before, after = _words(field, earlier), _words(field, later)
            if before or after:
                row = Noted(what=said(field.words), earlier=before or NOTHING, later=after or NOTHING)
                rows.append(row)
    return tuple(rows)


def shots_told(actor: Actor | None, reader: Reader) -> Mapping[str, str]:
    """Return the words of each shot by its name, the usual ones in a reader's language; "" has a photo's."""
    with read_by(reader):
        told = {
            shot.name: said(shot.words) if shot in USUAL_SHOTS else shot.words for shot in shot_list(actor)
        }
        return {**told, "": said("photo")}


def _words(field: Field, held: Mapping[str, Value]) -> str:
    value = held.get(field.name)
    if value is None or value in ("", []):
        return ""
    if field.kind is Kind.MARKS and isinstance(value, list):
        return "; ".join(said(mark_words(one)) for one in value if isinstance(one, dict))
    return said(str(choice_words(str(value)))) if field.kind is Kind.CHOICE else text_of(value)
