"""A practice's limits: each as it stands, whose it is, and who changed it when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from math import inf
from typing import TYPE_CHECKING

from saddlebench.practice.enums import Action
from saddlebench.practice.models import OwnLimit, Practice
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError

if TYPE_CHECKING:
    from saddlebench.engine.fit.criteria import LimitPlace
    from saddlebench.engine.fit.verdicts import Levels
    from saddlebench.exchange.limits import LimitGroup, OwnLimits


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitChange:
    """One change of a limit."""

    ends: dict[str, float] | None
    """None: back to the default."""
    words: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitShown:
    """One limit as it stands."""

    slug: str
    title: str
    measured: str
    saddles: str
    unit: str
    ends: dict[str, float]
    words: str
    default: dict[str, float]
    default_words: str
    whose: str
    source: str
    is_own: bool
    changes: tuple[LimitChange, ...]
    """The latest first."""


def own_limits(actor: Actor | None) -> "OwnLimits | None":
    """Return the practice's own limits as a fit check takes them; None where it has none."""
    from saddlebench.exchange.limits import OwnLimits  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    levels: dict[LimitPlace, Levels] = {}
    for row in _rows(allowed):
        for place in _places(row):
            if row.ends is None:
                levels.pop(place, None)
            else:
                levels[place] = _levels(row.ends)
    return OwnLimits(owner=_label(allowed), levels=levels) if levels else None


def limits_page(actor: Actor | None) -> tuple[LimitShown, ...]:
    """Return every limit of the practice, in the order of the findings."""
    from saddlebench.exchange.limits import limit_groups  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    rows, owner = _rows(allowed), _label(allowed)
    return tuple(_shown(group, rows, owner) for group in limit_groups())


def limit_page(actor: Actor | None, slug: str) -> LimitShown:
    """Return one limit.

    Raises
    ------
    NotFoundError
        If there is no such limit.
    """
    found = next((one for one in limits_page(actor) if one.slug == slug), None)
    if found is None:
        raise NotFoundError("limit", slug)
    return found


def _rows(actor: Actor) -> list[OwnLimit]:
    rows = OwnLimit.objects.filter(practice_id=actor.practice_id).select_related("made_by")
    return list(rows.order_by("id"))


def _label(actor: Actor) -> str:
    return str(Practice.objects.values_list("label", flat=True).get(pk=actor.practice_id))


def _places(row: OwnLimit) -> "Iterable[LimitPlace]":
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


def _levels(ends: dict[str, float]) -> "Levels":
    from saddlebench.engine.fit.verdicts import Levels  # noqa: PLC0415

    return Levels(
        fine=(ends.get("fine_from", -inf), ends.get("fine_to", inf)),
        borderline=(ends.get("borderline_from", -inf), ends.get("borderline_to", inf)),
    )


def _shown(group: "LimitGroup", rows: list[OwnLimit], owner: str) -> LimitShown:
    from saddlebench.engine.fit.verdicts import DEFAULT_OWNER, PRACTICES_OWN  # noqa: PLC0415

    mine = [row for row in rows if set(group.places) & set(_places(row))]
    own = mine[-1].ends if mine else None
    default = _words(group, group.ends)
    return LimitShown(
        slug=group.slug,
        title=group.title,
        measured=group.measured,
        saddles=", ".join(group.families),
        unit=group.unit.symbol,
        ends=group.ends if own is None else own,
        words=default if own is None else _words(group, own),
        default=group.ends,
        default_words=default,
        whose=DEFAULT_OWNER if own is None else owner,
        source=group.source if own is None else PRACTICES_OWN,
        is_own=own is not None,
        changes=tuple(
            LimitChange(
                ends=row.ends,
                words="back to the default" if row.ends is None else _words(group, row.ends),
                by=row.made_by.label,
                at=row.made_at,
            )
            for row in reversed(mine)
        ),
    )


def _words(group: "LimitGroup", ends: dict[str, float]) -> str:
    from saddlebench.engine.fit.verdicts import Limit  # noqa: PLC0415
    from saddlebench.exchange import phrases  # noqa: PLC0415

    return phrases.limits_of(Limit(measure=group.key, levels=_levels(ends)))
