"""A measured back of the cast's own horse, and rebuilds of it."""

import datetime as dt
import uuid as uuids
from dataclasses import replace
from functools import cache

from study_cast import documents
from web_cast import Cast

from exchange.studies import back_record
from saddlebench.engine.back.readings import Reading
from saddlebench.engine.replica.settings import settings_for
from saddlebench.exchange.back_job import measured
from saddlebench.exchange.instruments import example_instrument, instrument_text
from saddlebench.exchange.records import BackDocument, as_json
from saddlebench.practice import services
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject

COMB = "comb-41x10"
CHAIN = "chain-12x30"
CURVE = "curve-mm"


def back_of(cast: Cast, who: str = "fitter") -> str:
    """Record a real back of the horse, and return its uuid."""
    horse = (cast.elsewhere if who == "other" else cast.here)[Subject.HORSE]
    made = services.record_back(
        cast.actors[who], uuids.UUID(horse), documents()[0], measured_on=back_record().measured_on
    )
    return str(made.version.back.uuid)


def rebuild_of(cast: Cast, back: str, name: str = COMB, who: str = "fitter") -> str:
    """Begin to set a back on an instrument, and return the address."""
    text = instrument_text(example_instrument(name))
    made = services.start_rebuild(
        cast.actors[who], uuids.UUID(back), 1, Document(text=text), tolerance_mm=2.0
    )
    return f"/rebuilds/{made.uuid}/"


@cache
def rebuilt_document(deep_mm: float = 0.0, *, everywhere: bool = False) -> Document:
    """Return a back record of a rebuild on another instrument, station 4 (or all) too deep."""
    record = back_record()
    found = settings_for(measured(record).estimated, example_instrument(COMB))
    readings = found.readings
    if deep_mm:
        # A comb reads how far each pin drops: more where the rebuild lies too deep.
        stations = [
            replace(one, left=_deeper(one.left, deep_mm), right=_deeper(one.right, deep_mm))
            if everywhere or one.number == 4
            else one
            for one in readings.stations
        ]
        readings = replace(readings, stations=tuple(stations))
    rebuilt = replace(
        record,
        label="a rebuild (invented)",
        measured_on=dt.date(2026, 5, 9),
        instrument=example_instrument(COMB),
        readings=readings,
    )
    return Document(text=as_json(BackDocument.of(rebuilt)))


def _deeper(row: tuple[Reading, ...], deep_mm: float) -> tuple[Reading, ...]:
    return tuple(None if one is None else one + deep_mm * (k > 3) for k, one in enumerate(row))


def check_of(cast: Cast, back: str, who: str = "fitter", deep_mm: float = 0.0) -> str:
    """Record a measured rebuild, and return the address."""
    rebuilt = services.Rebuilt(
        document=rebuilt_document(deep_mm), measured_on=dt.date(2026, 5, 9), instrument="an invented comb"
    )
    made = services.record_rebuild_check(cast.actors[who], uuids.UUID(back), 1, rebuilt, tolerance_mm=2.0)
    return f"/rebuild-checks/{made.uuid}/"
