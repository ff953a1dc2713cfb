"""Instruments as forms offer them: the practice's own first, then those that come with the program."""

import uuid as uuids

from saddlebench.engine.back.instruments import Instrument, Scan, holds_shape
from saddlebench.exchange.instruments import example_instrument, example_names, instrument_from_text
from saddlebench.practice import queries
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import NotFoundError


def instrument_choices(actor: Actor) -> tuple[tuple[str, str], ...]:
    """Return the instruments that are read by hand, each with what a form calls it and its words."""
    return tuple((name, label) for name, label, tool in _all(actor) if not isinstance(tool, Scan))


def settable_choices(actor: Actor) -> tuple[tuple[str, str], ...]:
    """Return the instruments that can be set to show a back, each with what a form calls it and its words."""
    return tuple((name, label) for name, label, tool in _all(actor) if holds_shape(tool))


def _all(actor: Actor) -> tuple[tuple[str, str, Instrument], ...]:
    own = [
        (str(row.uuid), row.label, instrument_from_text(row.document, row.label))
        for row in queries.own_instruments(actor)
    ]
    shipped = [(name, example_instrument(name)) for name in example_names()]
    return (*own, *((name, tool.name, tool) for name, tool in shipped))


def chosen_instrument(actor: Actor, name: str) -> Instrument:
    """Return an instrument by what a form calls it.

    Raises
    ------
    InputProblemsError
        If its description cannot be read.
    NotFoundError
        If there is none.
    """
    if name in example_names():
        return example_instrument(name)
    row = queries.instrument_page(actor, key_or_404(name))
    return instrument_from_text(row.document, row.label)


def key_or_404(text: str) -> uuids.UUID:
    """Return a uuid that a page sent back.

    Raises
    ------
    NotFoundError
        If it is none.
    """
    try:
        return uuids.UUID(text)
    except ValueError:
        raise NotFoundError("record", text[:40]) from None
