"""One field entered as soon as it is left, and shown as it then stands."""

import uuid as uuids
from collections.abc import Mapping

from django.http import Http404, HttpResponse

from saddlebench.engine.errors import InputProblemsError
from saddlebench.practice.catalogue import Field
from saddlebench.practice.enums import Outcome, Subject
from saddlebench.practice.services import EntryResult, enter
from saddlebench.web.base.access import PageRequest
from saddlebench.web.base.fields import (
    FieldShown,
    OtherShown,
    entries_of_form,
    show_field,
    text_of,
    typed_texts,
    whole_of,
)
from saddlebench.web.base.render import show


def answer_field(
    request: PageRequest, subject: Subject, fields: Mapping[str, Field], uuid: uuids.UUID
) -> HttpResponse:
    """Enter the one field that was posted, and answer with it: saved, refused, or held beside another value.

    The service asks whether the actor may enter it.
    """
    name = next((one for one in fields if f"{one}.key" in request.POST), None)
    if name is None:
        raise Http404
    field = _entered(request, subject, fields[name], uuid)
    status = 422 if field.problems else 409 if field.other else 200
    return show(request, "components/field.html", "", status=status, field=field)


def other_of(result: EntryResult) -> OtherShown | None:
    """Return what somebody else entered instead, where a result was held."""
    other = result.other
    if other is None:
        return None
    return OtherShown(text=text_of(other.value), by=other.entered_by, at=other.entered_at)


def _entered(request: PageRequest, subject: Subject, described: Field, uuid: uuids.UUID) -> FieldShown:
    posted, name, save_to = request.POST, described.name, request.path
    was, seen = posted.get(f"{name}.was"), whole_of(posted.get(f"{name}.seen", ""))
    typed = typed_texts(posted, [name]).get(name, "")
    entries = entries_of_form(posted, {name: described})
    try:
        result = next(iter(enter(request.actor, subject, uuid, entries)), None)
    except InputProblemsError as error:
        return show_field(described, was, seen=seen, typed=typed, problems=error.problems, save_to=save_to)
    if result is None:
        return show_field(described, was, seen=seen, save_to=save_to)
    if result.outcome is Outcome.HELD and result.other:
        theirs, newer = result.other.value, result.other.revision
        return show_field(described, theirs, seen=newer, typed=typed, other=other_of(result), save_to=save_to)
    return show_field(
        described, result.value, seen=result.revision, save_to=save_to, saved_at=result.entered_at
    )
