"""Record files: backs, saddles and fit checks as JSON documents, with published schemas."""

from saddlebench.exchange.records.back import BackDocument, ScanFile, read_back, write_back
from saddlebench.exchange.records.change import ChangeDocument, read_change, write_change
from saddlebench.exchange.records.document import (
    as_json,
    parse_document,
    schema_of,
    write_document,
)
from saddlebench.exchange.records.kinds import kind_of
from saddlebench.exchange.records.order import OrderDocument, read_order, write_order
from saddlebench.exchange.records.plan import PlanDocument, read_plan, write_plan
from saddlebench.exchange.records.saddle import SaddleDocument, read_saddle, write_saddle
from saddlebench.exchange.records.settings import SettingsDocument
from saddlebench.exchange.records.study import StudyDocument, read_study, write_study

__all__ = [
    "BackDocument",
    "ChangeDocument",
    "OrderDocument",
    "PlanDocument",
    "SaddleDocument",
    "ScanFile",
    "SettingsDocument",
    "StudyDocument",
    "as_json",
    "kind_of",
    "parse_document",
    "read_back",
    "read_change",
    "read_order",
    "read_plan",
    "read_saddle",
    "read_study",
    "schema_of",
    "write_back",
    "write_change",
    "write_document",
    "write_order",
    "write_plan",
    "write_saddle",
    "write_study",
]
