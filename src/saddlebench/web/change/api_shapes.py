"""What comparisons look like to other programs, and what is asked of one again."""

import uuid as uuids
from datetime import date, datetime
from typing import Annotated, Any

from pydantic import Field, JsonValue

from saddlebench.engine.errors import input_problem
from saddlebench.practice.enums import ComparisonKind
from saddlebench.practice.queries.comparisons import ComparisonPage
from saddlebench.practice.queries.older_figures import older_figures
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.comparing import MOST_RECORDS
from saddlebench.web.base.interface import Given, LinkShape, Shape
from saddlebench.web.change import changes

GOES_BY_FIGURES = (ComparisonKind.CHANGE, ComparisonKind.THEN_AND_NOW)
Versions = Annotated[list[uuids.UUID], Field(max_length=MOST_RECORDS)]


class UsedBackShape(Shape):
    """A version that a comparison was made of, and whose errors were in use."""

    version: uuids.UUID
    back: uuids.UUID
    number: int
    day: date
    figure: dict[str, JsonValue] | None


class OlderFigureShape(Shape):
    """A record of a comparison for which other measuring errors are in use today than then."""

    day: date
    label: str
    then: str
    now: str


class PhotoPairShape(Shape):
    """Photos of one shot on the first and the last day, by their uuids; null where it was not taken."""

    shot: str
    before: uuids.UUID | None
    after: uuids.UUID | None


class ComparisonShape(Shape):
    """A comparison. `result` is what commands print of it, `document` the record itself. No diagnosis."""

    uuid: uuids.UUID
    kind: ComparisonKind
    label: str
    horse: LinkShape
    made_at: datetime
    by: str
    backs: list[UsedBackShape]
    is_on_current: bool
    older_figures: list[OlderFigureShape]
    """Where there are any, ask for it again: it then goes by the errors that are in use today."""
    photos: list[PhotoPairShape]
    """Of a change: those of both days."""
    sha256: str
    engine_version: str
    result: dict[str, JsonValue]
    document: str


class Again(Given):
    """A comparison to be worked out again; sent again with the same uuid it is made once."""

    uuid: uuids.UUID | None = None


def as_they_are_now(page: ComparisonPage) -> list[uuids.UUID]:
    """Return the current versions of a comparison's records.

    Raises
    ------
    InputProblemsError
        If one was withdrawn.
    """
    if not page.again:
        what = "it cannot be worked out again: one of its records was withdrawn"
        raise input_problem(what, "Ask for a new one of the records that stand.")
    return list(page.again)


def shape_of(actor: Actor, page: ComparisonPage, result: dict[str, Any]) -> dict[str, Any]:
    """Return a comparison as `ComparisonShape` has it, `result` being what commands print of it."""
    older = older_figures(actor, page) if page.kind in GOES_BY_FIGURES else ()
    pairs = changes.pairs_of(actor, page) if page.kind is ComparisonKind.CHANGE else ()
    photos = [
        {
            "shot": one.shot,
            "before": one.before and one.before.uuid,
            "after": one.after and one.after.uuid,
        }
        for one in pairs
    ]
    more = {"result": result, "older_figures": older, "photos": photos}
    return {name: getattr(page, name) for name in set(ComparisonShape.model_fields) - set(more)} | more
