"""Which kind of record a file holds, by its own first words."""

from pathlib import Path

from pydantic_core import from_json

from saddlebench.engine.errors import Where, input_problem
from saddlebench.exchange.doors import read_text
from saddlebench.exchange.records.back import BackDocument
from saddlebench.exchange.records.change import ChangeDocument
from saddlebench.exchange.records.document import MAX_RECORD_BYTES, Document, with_article
from saddlebench.exchange.records.order import OrderDocument
from saddlebench.exchange.records.plan import PlanDocument
from saddlebench.exchange.records.repeat import CheckMeDocument, RepeatDocument
from saddlebench.exchange.records.saddle import SaddleDocument
from saddlebench.exchange.records.settings import SettingsDocument
from saddlebench.exchange.records.study import StudyDocument
from saddlebench.exchange.records.then_and_now import ThenAndNowDocument
from saddlebench.exchange.records.trend import TrendDocument

KINDS: tuple[type[Document], ...] = (
    BackDocument,
    SaddleDocument,
    StudyDocument,
    ChangeDocument,
    PlanDocument,
    OrderDocument,
    RepeatDocument,
    CheckMeDocument,
    TrendDocument,
    ThenAndNowDocument,
    SettingsDocument,
)


def kind_of(path: Path) -> type[Document]:
    """Return the kind of document that a record file holds.

    Raises
    ------
    InputProblemsError
        If it is no record of this program.
    OSError
        If the file cannot be opened.
    """
    text = read_text(path, limit_bytes=MAX_RECORD_BYTES)
    try:
        held = from_json(text, allow_inf_nan=False)
    except ValueError:
        held = None
    name = held.get("format") if isinstance(held, dict) else None
    for kind in KINDS:
        if name == f"saddlebench {kind.NAME}":
            return kind
    kinds = ", ".join(with_article(kind.NAME) for kind in KINDS)
    raise input_problem(
        "is not a record of this program", f"Name {kinds} written by saddlebench.", Where(file=str(path))
    )
