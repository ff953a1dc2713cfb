"""Options that name one of several things, read the same way by every command."""

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from saddlebench.engine.back.instruments import Instrument
    from saddlebench.engine.units import Length
    from saddlebench.exchange.readers import Reader


def unit_named(text: str) -> "Length | None":
    """Return the unit of length that an option names; None where it names none."""
    from saddlebench.engine.units import Length

    return Length(one_of(text, Length, "--unit")) if text else None


def day_named(text: str, option: str = "--day") -> dt.date | None:
    """Return the day that an option names; None where it names none."""
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError as error:
        message = f"“{text}” is not a day; write it as 2026-05-14."
        raise typer.BadParameter(message, param_hint=option) from error


def one_of(text: str, known: Iterable[str], option: str) -> str:
    """Return what an option names; `typer.BadParameter` where it is not known."""
    (found,) = some_of([text], known, option)
    return found


def some_of(given: Iterable[str] | None, known: Iterable[str], option: str) -> tuple[str, ...]:
    """Return what an option names, given several times; all that is known where it names nothing."""
    named, usual = tuple(given or ()), tuple(known)
    for text in named:
        if text not in usual:
            message = f"“{text}” is not one of {', '.join(usual)}."
            raise typer.BadParameter(message, param_hint=option)
    return named or usual


def reader_named(language: str, lengths: str = "mm") -> "Reader":
    """Return for whom papers are written, by the options --in and --lengths."""
    from saddlebench.engine.units import Length
    from saddlebench.exchange.readers import Language, Reader

    return Reader(
        language=Language(one_of(language, Language, "--in")),
        length=Length(one_of(lengths, (Length.MM, Length.INCH), "--lengths")),
    )


def instrument_named(name: str) -> "Instrument":
    """Return the instrument of a file, or the shipped one of that name."""
    from saddlebench.exchange.instruments import example_instrument, read_instrument

    is_file = name.endswith((".toml", ".json"))
    return read_instrument(Path(name)) if is_file else example_instrument(name)
