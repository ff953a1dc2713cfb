"""By what a practice chooses saddles: its own weights, sizes and hard limits, every version kept."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django.utils import timezone

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.catalogue import read_number
from saddlebench.practice.enums import Action, Subject
from saddlebench.practice.models import Practice
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import deed

if TYPE_CHECKING:
    from saddlebench.exchange.shop.rules import ChoosingFile, ChoosingRules


def set_choosing(actor: Actor | None, typed: Mapping[str, str] | None) -> int:
    """Set what saddles are chosen by, and return the number of the new version.

    Parameters
    ----------
    typed : numbers as typed, by the names of `exchange.shop.rules.settable`; None: back to the defaults

    Raises
    ------
    InputProblemsError
        With everything that is wrong with the numbers, each with its name.
    """
    from saddlebench.exchange.shop.rules import settable  # noqa: PLC0415

    allowed = require(actor, Action.MANAGE_PRACTICE)
    stated: dict[str, float] = {}
    problems: list[Problem] = []
    for one in settable() if typed is not None else ():
        try:
            value = read_number((typed or {}).get(one.name, ""))
        except InputProblemsError as error:
            problems += [
                Problem(what=p.what, cure=p.cure, where=Where(field=one.name)) for p in error.problems
            ]
            continue
        if not one.low <= value <= one.high:
            what = f"{value:g} is outside {one.low:g} to {one.high:g}"
            problems.append(Problem(what=what, cure="Write one between.", where=Where(field=one.name)))
        elif value != one.default:
            stated[one.name] = value
    if problems:
        raise InputProblemsError(problems)
    with deed(actor, Action.MANAGE_PRACTICE, "set_choosing", Subject.PRACTICE, _own(allowed).uuid) as done:
        practice = Practice.objects.select_for_update().get(pk=allowed.practice_id)
        number = len(practice.choosing) + 1
        row = {
            "number": number,
            "day": timezone.localdate().isoformat(),
            "by": allowed.label,
            "at": done.audit.made_at.isoformat(),
            "stated": stated,
        }
        practice.choosing = [*practice.choosing, row]
        practice.save(update_fields=["choosing"])
    return number


def own_choosing(actor: Actor | None) -> "ChoosingRules | None":
    """Return what the practice chooses by; None where it goes by the defaults."""
    held = choosing_file(actor)
    return None if held is None else held.rules()


def choosing_file(actor: Actor | None) -> "ChoosingFile | None":
    """Return the latest version as the commands' file holds it; None where it states nothing."""
    from saddlebench.exchange.shop.rules import file_of  # noqa: PLC0415

    practice = _own(require(actor, Action.SEE_HORSES))
    last: dict[str, Any] = practice.choosing[-1] if practice.choosing else {}
    if not last.get("stated"):
        return None
    return file_of(practice.label, f"{last['number']} of {last['day']}", last["stated"])


def _own(actor: Actor) -> Practice:
    return Practice.objects.get(pk=actor.practice_id)
