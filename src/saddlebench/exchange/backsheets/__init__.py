"""The back sheet: what goes with a table of readings and is not read off the instrument."""

from saddlebench.exchange.backsheets.sheet import BackSheet, read_back_sheet, sheet_schema

__all__ = ["BackSheet", "read_back_sheet", "sheet_schema"]
