"""Choosing one record out of many: found by a few letters, with script or without."""

import uuid as uuids
from dataclasses import dataclass

from django.http import QueryDict

from saddlebench.engine.errors import Problem
from saddlebench.practice import queries
from saddlebench.practice.queries.horses import Linked
from saddlebench.practice.queries.yards import find_yards
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError
from saddlebench.web.base.fields import FieldShown, show_field, whole_of
from saddlebench.web.records.kinds import CLIENT, YARD

WORDS = {"client": "Owner or client", "yard": "Yard"}
_SHOWN = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class ChooseShown:
    """A record to be chosen, as `records/choose.html` shows it."""

    name: str
    words: str
    chosen: Linked | None
    found: tuple[Linked, ...]
    asked: str
    more: int
    """How many were found beyond those shown."""
    was: str
    seen: int
    key: str
    new: FieldShown | None = None
    """A field for one who is not in the list yet."""
    problems: tuple[Problem, ...] = ()
    other: str = ""


def find(actor: Actor, what: str, text: str) -> tuple[tuple[Linked, ...], int]:
    """Return the first clients or yards that match, and how many more there are."""
    listed = queries.find_clients(actor, text) if what == "client" else find_yards(actor, text)
    shown = tuple(Linked(uuid=row.uuid, label=row.label, detail=row.town) for row in listed.rows[:_SHOWN])
    return shown, max(0, listed.total - len(shown))


def chosen_of(actor: Actor, what: str, text: str) -> Linked | None:
    """Return the record that a form names by its uuid; None where there is none in this practice."""
    try:
        uuid = uuids.UUID(text)
        standing = (CLIENT if what == "client" else YARD).read(actor, uuid)
    except (ValueError, NotFoundError):
        return None
    return Linked(uuid=uuid, label=standing.label)


def show_choice(
    actor: Actor,
    what: str,
    held: Linked | None,
    *,
    seen: int = 0,
    posted: QueryDict | None = None,
    takes_new: bool = False,
    problems: tuple[Problem, ...] = (),
    other: Linked | None = None,
    is_held: bool = False,
) -> ChooseShown:
    """Return a choice as it is shown: what is kept, what was chosen or looked for instead."""
    kept = CLIENT if what == "client" else YARD
    asked = posted.get(f"{what}.find", "") if posted else ""
    chosen = chosen_of(actor, what, posted.get(what, "")) if posted and what in posted else held
    found, more = find(actor, what, asked)
    base = show_field(kept.fields["label"], None)
    typed = posted.get(f"{what}.new", "") if posted else None
    new = show_field(kept.fields["label"], None, typed=typed) if takes_new else None
    was = posted.get(f"{what}.was", "") if posted and not is_held else str(held.uuid) if held else ""
    before = whole_of(posted.get(f"{what}.seen", "")) if posted and not is_held else seen
    return ChooseShown(
        name=what,
        words=WORDS[what],
        chosen=chosen,
        found=tuple(one for one in found if chosen is None or one.uuid != chosen.uuid),
        asked=asked,
        more=more,
        was=was,
        seen=before,
        key=base.key,
        new=new,
        problems=tuple(problem for problem in problems if problem.where.field == what),
        other=(other.label if other else "nobody") if is_held else "",
    )
