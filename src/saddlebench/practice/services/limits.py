"""A practice's own limits: set, checked as a file of them is, and as a fit check takes them."""

from collections.abc import Iterable, Mapping
from math import inf
from typing import TYPE_CHECKING

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import read_number
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import OwnLimit, Practice
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed

if TYPE_CHECKING:
    from saddlebench.engine.fit.criteria import LimitPlace
    from saddlebench.engine.fit.verdicts import Levels
    from saddlebench.exchange.limits import OwnLimits


def set_own_limit(actor: Actor | None, slug: str, ends: Mapping[str, str] | None) -> OwnLimit:
    """Set one limit, or go back to its default.

    Parameters
    ----------
    slug : str
        The limit's name in addresses, `LimitGroup.slug`.
    ends : mapping, optional
        The ends of its two ranges as typed, by the names of `exchange.limits.ENDS`; None: the default.

    Raises
    ------
    InputProblemsError
        With everything that is wrong with the numbers.
    NotFoundError
        If there is no such limit.
    """
    # The limits come with the engine, which loads numba: seconds that only this act should cost.
    from saddlebench.exchange.limits import levels_of, limit_groups  # noqa: PLC0415
    from saddlebench.exchange.limits.groups import closed_ends  # noqa: PLC0415

    allowed = require(actor, Action.MANAGE_PRACTICE)
    group = next((one for one in limit_groups() if one.slug == slug), None)
    if group is None:
        raise NotFoundError("limit", slug)
    stated = None if ends is None else closed_ends(levels_of(group, _numbers(ends), Where()))
    practice = Practice.objects.get(pk=allowed.practice_id)
    with deed(actor, Action.MANAGE_PRACTICE, "set_own_limit", Subject.PRACTICE, practice.uuid) as done:
        return OwnLimit.objects.create(
            practice=practice,
            finding=group.finding.value,
            measure=group.key.name.value,
            part=group.key.part.value,
            families=[family.value for family in group.families],
            ends=stated,
            made_at=done.audit.made_at,
            made_by_id=allowed.user_id,
        )


def _numbers(typed: Mapping[str, str]) -> dict[str, float | None]:
    problems: list[Problem] = []
    numbers: dict[str, float | None] = {}
    for name, text in typed.items():
        if not text.strip():
            continue
        try:
            numbers[name] = read_number(text)
        except InputProblemsError as error:
            problems += [Problem(what=p.what, cure=p.cure, where=Where(field=name)) for p in error.problems]
    if problems:
        raise InputProblemsError(problems)
    return numbers


def own_limits(actor: Actor | None) -> "OwnLimits | None":
    """Return the practice's own limits as a fit check takes them; None where it has none."""
    from saddlebench.exchange.limits import OwnLimits  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    levels: dict[LimitPlace, Levels] = {}
    for row in rows_of(allowed):
        for place in places_of(row):
            if row.ends is None:
                levels.pop(place, None)
            else:
                levels[place] = levels_of_ends(row.ends)
    return OwnLimits(owner=label_of(allowed), levels=levels) if levels else None


def rows_of(actor: Actor) -> list[OwnLimit]:
    """Return every change of a limit that the practice made, in order."""
    rows = OwnLimit.objects.filter(practice_id=actor.practice_id).select_related("made_by")
    return list(rows.order_by("id"))


def label_of(actor: Actor) -> str:
    """Return the practice's name."""
    return str(Practice.objects.values_list("label", flat=True).get(pk=actor.practice_id))


def places_of(row: OwnLimit) -> "Iterable[LimitPlace]":
    """Return the places of the criteria table that a change is about."""
    from saddlebench.engine.fit.criteria import FindingName, LimitPlace  # noqa: PLC0415
    from saddlebench.engine.fit.measures.names import MeasureName, Part  # noqa: PLC0415
    from saddlebench.engine.saddle.model import Family  # noqa: PLC0415

    return [
        LimitPlace(
            finding=FindingName(row.finding),
            measure=MeasureName(row.measure),
            part=Part(row.part),
            family=Family(family),
        )
        for family in row.families
    ]


def levels_of_ends(ends: dict[str, float]) -> "Levels":
    """Return levels by their closed ends."""
    from saddlebench.engine.fit.verdicts import Levels  # noqa: PLC0415

    return Levels(
        fine=(ends.get("fine_from", -inf), ends.get("fine_to", inf)),
        borderline=(ends.get("borderline_from", -inf), ends.get("borderline_to", inf)),
    )
