"""Pages of long lists."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from django.db import models

_Row = TypeVar("_Row", bound=models.Model)
PAGE_ROWS = 50


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
