"""Reading and writing instruments' descriptions, and the examples that are shipped."""

import json
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.errors import InputProblemsError, Where, input_problem
from saddlebench.exchange.doors import in_file, read_settings, refused
from saddlebench.exchange.instruments.document import InstrumentDocument, instrument_document
from saddlebench.exchange.whole_file import write_whole

_EXAMPLES = resources.files("saddlebench.exchange.instruments").joinpath("examples")


def read_instrument(path: Path) -> Instrument:
    """Read an instrument's description, TOML or (by its name's ending) JSON.

    Raises
    ------
    InputProblemsError
        With every fault of the file and the field it lies in.
    OSError
        If the file cannot be opened.
    """
    return instrument_from(read_settings(path), str(path))


def instrument_from(held: Mapping[str, Any], file: str = "") -> Instrument:
    """Return the instrument that a description's object describes; `file` is what problems call it.

    Raises
    ------
    InputProblemsError
        With every fault and the field it lies in.
    """
    try:
        return InstrumentDocument.model_validate(held).root.instrument()
    except ValidationError as error:
        raise refused(error, file) from error
    except InputProblemsError as error:
        raise InputProblemsError(in_file(error.problems, file)) from error


def instrument_from_text(text: str, file: str = "") -> Instrument:
    """Return the instrument that a description's text (JSON) describes.

    Raises
    ------
    InputProblemsError
        With every fault and the field it lies in.
    """
    try:
        held = json.loads(text)
    except ValueError as error:
        msg = f"is not valid JSON: {error}"
        raise input_problem(msg, "Describe the instrument again.", Where(file=file)) from error
    if not isinstance(held, dict):
        raise input_problem("holds no description", "Describe the instrument again.", Where(file=file))
    return instrument_from(held, file)


def instrument_text(instrument: Instrument) -> str:
    """Return an instrument's description as JSON, as its file holds it."""
    return instrument_document(instrument).model_dump_json(indent=2, exclude_none=True) + "\n"


def write_instrument(instrument: Instrument, path: Path) -> None:
    """Write an instrument's description as JSON; a failure leaves an older file as it was."""
    write_whole(path, instrument_text(instrument).encode("utf-8"))


def example_names() -> tuple[str, ...]:
    """Return the names of the instruments that are shipped."""
    return tuple(
        sorted(
            entry.name.removesuffix(".toml") for entry in _EXAMPLES.iterdir() if entry.name.endswith(".toml")
        )
    )


def example_text(name: str) -> str:
    """Return a shipped instrument's description as it stands, to start one's own from.

    Raises
    ------
    InputProblemsError
        If there is none of that name.
    """
    _require_example(name)
    return _EXAMPLES.joinpath(f"{name}.toml").read_text(encoding="utf-8")


def example_instrument(name: str) -> Instrument:
    """Return a shipped instrument by name.

    Raises
    ------
    InputProblemsError
        If there is none of that name.
    """
    _require_example(name)
    with resources.as_file(_EXAMPLES.joinpath(f"{name}.toml")) as path:
        return read_instrument(path)


def _require_example(name: str) -> None:
    if name not in example_names():
        what = f"There is no shipped instrument “{name[:80]}”"
        raise input_problem(what, f"Choose one of: {', '.join(example_names())}.")
