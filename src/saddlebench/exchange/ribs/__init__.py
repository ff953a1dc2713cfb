"""Slotted replicas for the cutter: parts nested on sheets, as flat drawings."""

from saddlebench.exchange.ribs.nest import NestedPart, NestedSheet, SheetChoices, nested
from saddlebench.exchange.ribs.sheets import sheet_drawing

__all__ = ["NestedPart", "NestedSheet", "SheetChoices", "nested", "sheet_drawing"]
