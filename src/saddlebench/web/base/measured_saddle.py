"""A saddle as it is recorded now, for the pages that know more of its underside than its numbers say."""

import uuid as uuids

from saddlebench.engine.errors import Where, input_problem
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.underside.become import panelled_of
from saddlebench.exchange.records import SaddleDocument, parse_document
from saddlebench.practice import queries
from saddlebench.practice.rules import Actor


def measured_saddle(actor: Actor, uuid: uuids.UUID) -> SaddleRecord:
    """Return a saddle as it is recorded now.

    Raises
    ------
    InputProblemsError
        If its numbers were not taken yet.
    """
    text = queries.saddle_document(actor, uuid)
    if not text:
        what = "this saddle’s numbers were not taken yet; its underside alone does not show its tree"
        cure = "Measure the saddle first: tree width, depth, angle and rise are enough."
        raise input_problem(what, cure, Where(field="saddle"))
    return parse_document(SaddleDocument, text, "saddle").record()


def refuse_without_panels(actor: Actor, uuid: uuids.UUID) -> None:
    """Refuse a saddle whose underside neither scan nor tracing tells yet.

    Raises
    ------
    InputProblemsError
        If its numbers were not taken, or it is of a family without panels.
    """
    panelled_of(measured_saddle(actor, uuid).numbers)
