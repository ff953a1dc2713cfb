"""Reading and writing instruments' descriptions, and the examples that are shipped."""

from importlib import resources
from pathlib import Path

from pydantic import ValidationError

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.doors import read_settings, refused
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
    held = read_settings(path)
    file = str(path)
    try:
        return InstrumentDocument.model_validate(held).root.instrument()
    except ValidationError as error:
        raise refused(error, file) from error
    except InputProblemsError as error:
        raise InputProblemsError(
            [
                Problem(
                    what=p.what, cure=p.cure, where=Where(file=file, field=p.where.field), weight=p.weight
                )
                for p in error.problems
            ]
        ) from error


def write_instrument(instrument: Instrument, path: Path) -> None:
    """Write an instrument's description as JSON; a failure leaves an older file as it was."""
    text = instrument_document(instrument).model_dump_json(indent=2, exclude_none=True)
    write_whole(path, (text + "\n").encode("utf-8"))


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
