"""Descriptions of measuring instruments: TOML or JSON in, the engine's instruments out."""

from saddlebench.exchange.instruments.document import instrument_schema
from saddlebench.exchange.instruments.reader import (
    example_instrument,
    example_names,
    example_text,
    instrument_from,
    instrument_from_text,
    instrument_text,
    read_instrument,
    write_instrument,
)

__all__ = [
    "example_instrument",
    "example_names",
    "example_text",
    "instrument_from",
    "instrument_from_text",
    "instrument_schema",
    "instrument_text",
    "read_instrument",
    "write_instrument",
]
