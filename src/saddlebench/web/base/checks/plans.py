"""Plans read back from the records."""

from typing import TYPE_CHECKING

from saddlebench.practice.queries.plans import PlanPage
from saddlebench.web.base.checks.loading import load_engine

if TYPE_CHECKING:
    from saddlebench.exchange.records import PlanDocument


def document_of_plan(page: PlanPage) -> "PlanDocument":
    """Return a plan's document."""
    load_engine()
    from saddlebench.exchange.records import PlanDocument, parse_document  # noqa: PLC0415

    return parse_document(PlanDocument, page.document, page.row.label)
