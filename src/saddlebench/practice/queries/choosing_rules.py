"""By what a practice chooses saddles, number by number, and who changed it when."""

from dataclasses import dataclass
from datetime import datetime

from saddlebench.practice.enums import Action
from saddlebench.practice.models import Practice
from saddlebench.practice.rules import Actor, require
from saddlebench.practice.services.choosing_rules import choosing_file, own_choosing

__all__ = ["ChoosingPage", "ChoosingVersion", "NumberShown", "choosing_file", "choosing_page", "own_choosing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberShown:
    """One number that may be set."""

    name: str
    group: str
    words: str
    unit: str
    value: float
    default: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoosingVersion:
    """One version."""

    number: int
    by: str
    at: datetime
    n_own: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoosingPage:
    """All numbers as they stand, and every version."""

    version: int
    """0: never changed."""
    n_own: int
    numbers: tuple[NumberShown, ...]
    versions: tuple[ChoosingVersion, ...]
    """The latest first."""


def choosing_page(actor: Actor | None) -> ChoosingPage:
    """Return what the practice chooses by."""
    from saddlebench.exchange.shop.rules import settable  # noqa: PLC0415

    allowed = require(actor, Action.SEE_HORSES)
    rows = Practice.objects.values_list("choosing", flat=True).get(pk=allowed.practice_id)
    stated = rows[-1]["stated"] if rows else {}
    return ChoosingPage(
        version=len(rows),
        n_own=len(stated),
        numbers=tuple(
            NumberShown(
                name=one.name,
                group=one.group,
                words=one.words,
                unit=one.unit,
                value=stated.get(one.name, one.default),
                default=one.default,
            )
            for one in settable()
        ),
        versions=tuple(
            ChoosingVersion(
                number=row["number"],
                by=row["by"],
                at=datetime.fromisoformat(row["at"]),
                n_own=len(row["stated"]),
            )
            for row in reversed(rows)
        ),
    )
