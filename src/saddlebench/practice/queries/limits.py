"""A practice's limits: each as it stands, whose it is, and who changed it when."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from saddlebench.practice.enums import Action
from saddlebench.practice.models import OwnLimit
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.limits import label_of, levels_of_ends, own_limits, places_of, rows_of

if TYPE_CHECKING:
    from saddlebench.exchange.limits import LimitGroup

__all__ = ["LimitChange", "LimitShown", "limit_page", "limits_page", "own_limits"]


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


def limits_page(actor: Actor | None) -> tuple[LimitShown, ...]:
    """Return every limit of the practice, in the order of the findings."""
    from saddlebench.exchange.limits import limit_groups  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    rows, owner = rows_of(allowed), label_of(allowed)
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


def _shown(group: "LimitGroup", rows: list[OwnLimit], owner: str) -> LimitShown:
    from saddlebench.engine.fit.verdicts import DEFAULT_OWNER, PRACTICES_OWN  # noqa: PLC0415

    mine = [row for row in rows if set(group.places) & set(places_of(row))]
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

    return phrases.limits_of(Limit(measure=group.key, levels=levels_of_ends(ends)))
