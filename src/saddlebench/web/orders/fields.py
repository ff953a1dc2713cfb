"""The fields of a work order, and the facts that they make."""

import uuid as uuids
from collections.abc import Mapping
from datetime import date

from django.http import QueryDict

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import Field, Kind, Value
from saddlebench.practice.services.order_documents import OrderFacts
from saddlebench.web.base.fields import read_form

FIELDS: Mapping[str, Field] = {
    one.name: one
    for one in (
        Field(name="number", words="Number", kind=Kind.TEXT, max_length=40, required=True),
        Field(name="due_on", words="Due on", kind=Kind.DATE),
        Field(name="workshop_name", words="Or a workshop outside, by name", kind=Kind.TEXT),
        Field(name="unsafe", words="Unsafe: mend first", kind=Kind.LIST),
        Field(name="leave", words="Do not touch", kind=Kind.LIST),
        Field(name="price_limit", words="Price limit", kind=Kind.TEXT),
        Field(name="loan", words="Loan saddle meanwhile", kind=Kind.TEXT),
        Field(name="seat", words="Seat, to know it by", kind=Kind.TEXT),
        Field(name="colour", words="Colour, to know it by", kind=Kind.TEXT),
        Field(name="photos", words="Photos that go along, by name", kind=Kind.LIST),
        Field(name="notes", words="Notes for the workshop", kind=Kind.LONG_TEXT, max_length=2000),
    )
}


def facts_of(posted: QueryDict) -> OrderFacts:
    """Return what a form says.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with it.
    """
    values, problems = read_form(posted, FIELDS)
    member = posted.get("workshop", "")
    workshop = None
    if member:
        try:
            workshop = uuids.UUID(member)
        except ValueError:
            where = Where(field="workshop")
            problems.append(Problem(what="this is no member", cure="Choose one of the list.", where=where))
    if problems:
        raise InputProblemsError(problems)
    return order_facts(values, workshop)


def order_facts(values: Mapping[str, Value], workshop: uuids.UUID | None) -> OrderFacts:
    """Return the facts of read values."""
    due = values.get("due_on")
    return OrderFacts(
        number=_text(values.get("number")),
        due_on=date.fromisoformat(due) if isinstance(due, str) and due else None,
        workshop=workshop,
        workshop_name=_text(values.get("workshop_name")),
        seat=_text(values.get("seat")),
        colour=_text(values.get("colour")),
        photos=_lines(values.get("photos")),
        unsafe=_lines(values.get("unsafe")),
        leave=_lines(values.get("leave")),
        price_limit=_text(values.get("price_limit")),
        loan=_text(values.get("loan")),
        notes=_text(values.get("notes")),
    )


def _text(value: Value) -> str:
    return value.strip() if isinstance(value, str) else ""


def _lines(value: Value) -> tuple[str, ...]:
    return tuple(str(one).strip() for one in value if str(one).strip()) if isinstance(value, list) else ()
