"""Setting a practice's own limits: checked as a file of them is, added to what was set before."""

from collections.abc import Mapping

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import read_number
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import OwnLimit, Practice
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError, deed


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
