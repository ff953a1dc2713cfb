"""A back that somebody of the cast is measuring."""

import datetime as dt
import uuid as uuids
from collections.abc import Mapping

from web_cast import Cast

from saddlebench.exchange.instruments import example_instrument, instrument_text
from saddlebench.practice import services
from saddlebench.practice.catalogue import Value
from saddlebench.practice.documents import Document
from saddlebench.practice.enums import Subject
from saddlebench.practice.services import Entered


def begin(cast: Cast, name: str, values: Mapping[str, Value] | None = None) -> str:
    """Begin measuring the horse, with readings already entered, and return the address."""
    actor = cast.actors["fitter"]
    capture = services.start_capture(
        actor,
        uuids.UUID(cast.here[Subject.HORSE]),
        Document(text=instrument_text(example_instrument(name))),
        measured_on=dt.date(2026, 5, 4),
    )
    if values:
        entries = [
            Entered(field=one, value=value, key=uuids.uuid4(), seen=0) for one, value in values.items()
        ]
        services.enter_readings(actor, capture.uuid, entries)
    return f"/measure/{capture.uuid}/"
