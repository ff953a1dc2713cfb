"""The fields of the records: their kinds, limits and words, and how what was typed is read."""

from saddlebench.practice.catalogue.field import Field, Kind, Value
from saddlebench.practice.catalogue.numbers import read_number
from saddlebench.practice.catalogue.people import CLIENT_FIELDS, YARD_FIELDS
from saddlebench.practice.catalogue.reading import read_all, read_value
from saddlebench.practice.catalogue.tack import HORSE_FIELDS, SADDLE_FIELDS
from saddlebench.practice.catalogue.visit import STATES, VISIT_FIELDS, VISIT_HEAD_FIELDS, VISIT_SADDLE_FIELDS

__all__ = [
    "CLIENT_FIELDS",
    "HORSE_FIELDS",
    "SADDLE_FIELDS",
    "STATES",
    "VISIT_FIELDS",
    "VISIT_HEAD_FIELDS",
    "VISIT_SADDLE_FIELDS",
    "YARD_FIELDS",
    "Field",
    "Kind",
    "Value",
    "read_all",
    "read_number",
    "read_value",
]
