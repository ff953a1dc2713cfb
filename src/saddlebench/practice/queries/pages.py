"""Pages of long lists."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from django.db import models

from saddlebench.practice.services.finding import folded

_Row = TypeVar("_Row", bound=models.Model)
PAGE_ROWS = 50
_MOST_TERMS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Slice(Generic[_Row]):
    """One page of rows, and where it stands among the others."""

    rows: Sequence[_Row]
    total: int
    page: int
    pages: int


def page_of(rows: models.QuerySet[_Row], page: int) -> Slice[_Row]:
    """Return a page of rows; beyond the last page, the last."""
    total = rows.count()
    pages = max(1, -(-total // PAGE_ROWS))
    at = min(max(1, page), pages)
    shown = rows[(at - 1) * PAGE_ROWS : at * PAGE_ROWS]
    return Slice(rows=list(shown), total=total, page=at, pages=pages)


def terms_of(text: str) -> list[str]:
    """Return the words that are looked for, folded as the texts are that they are looked for in."""
    return folded(text).split()[:_MOST_TERMS]


def holding_terms(rows: models.QuerySet[_Row], parts: Sequence[str], text: str) -> models.QuerySet[_Row]:
    """Return the rows that hold every word somewhere in their parts, case and accents aside.

    Folded here: databases fold letters differently, and a practice has thousands of people, not more.
    """
    terms = terms_of(text)
    if not terms:
        return rows
    listed = rows.values_list("pk", *parts)
    held = ((pk, folded(" | ".join(filter(None, texts)))) for pk, *texts in listed)
    return rows.filter(pk__in=[pk for pk, joined in held if all(term in joined for term in terms)])
