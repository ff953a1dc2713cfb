"""Saddle files: numbers with units, sections or a mesh of the underside; read, written, with a schema."""

from saddlebench.exchange.saddles.reading import (
    read_saddle,
    saddle_from_document,
    saddle_schema,
    with_mesh,
)
from saddlebench.exchange.saddles.section_table import read_sections
from saddlebench.exchange.saddles.writing import saddle_document

__all__ = [
    "read_saddle",
    "read_sections",
    "saddle_document",
    "saddle_from_document",
    "saddle_schema",
    "with_mesh",
]
