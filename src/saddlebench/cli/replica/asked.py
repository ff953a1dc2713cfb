"""What the replica commands ask for: options, and what becomes of them."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.stated import one_of, reader_named

if TYPE_CHECKING:
    from saddlebench.exchange.back_job import MeasuredBack
    from saddlebench.report import Paper

Back = Annotated[Path, typer.Argument(help="A back record.", readable=False)]
Folder = Annotated[Path, typer.Option("--output", "-o", help="Folder for what is made.", readable=False)]
InstrumentName = Annotated[
    str, typer.Option("--instrument", "-i", help="Instrument file or shipped name: what it is rebuilt on.")
]
At = Annotated[
    str,
    typer.Option("--at", help="Distances behind the shoulder mark, mm: “-40, 0, 120”. Usually the stations."),
]
Tolerance = Annotated[float, typer.Option("--tolerance", help="What is near enough, mm.", min=0.1, max=20.0)]
As = Annotated[list[str] | None, typer.Option("--as", help="Kind of file; may be given again. Usually all.")]
Thickness = Annotated[float, typer.Option("--thickness", help="Of the sheet, mm.", min=0.0, max=40.0)]
In = Annotated[str, typer.Option("--in", help="Language of the papers: en or de.")]
Lengths = Annotated[
    str,
    typer.Option(
        "--lengths",
        help="Lengths on papers and terminal: mm or in. An instrument's readings stay in its divisions.",
    ),
]
PaperName = Annotated[str, typer.Option("--paper", help="Of the sheet: a4 or letter.")]


@contextmanager
def speaking(language: str, lengths: str) -> Iterator[None]:
    """Let papers be written in a language, with mm or inches, while this lasts."""
    from saddlebench.exchange.readers import read_by

    with read_by(reader_named(language, lengths)):
        yield


def sheet_paper(name: str) -> "Paper":
    """Return the paper of a sheet; `typer.BadParameter` where there is none of that name."""
    from saddlebench.report import Paper

    return {"a4": Paper.A4, "letter": Paper.LETTER}[one_of(name, ("a4", "letter"), "--paper")]


def measured_back(path: Path) -> "MeasuredBack":
    """Return a record's back with its surface."""
    from saddlebench.exchange.back_job import measured
    from saddlebench.exchange.records import read_back

    return measured(read_back(path))


def distances(text: str, option: str = "--at") -> tuple[float, ...] | None:
    """Return distances behind the shoulder mark [mm]; None where none are stated."""
    from saddlebench.engine.errors import InputProblemsError
    from saddlebench.exchange.places import read_places

    try:
        return read_places(text)
    except InputProblemsError as error:
        problem = error.problems[0]
        msg = f"{problem.what}. {problem.cure}"
        raise typer.BadParameter(msg, param_hint=option) from error


def bed_of(text: str) -> tuple[float, float, float] | None:
    """Return a machine's bed, along, across and high [mm]; None where none is stated."""
    if not text:
        return None
    along, across, high = sizes(text, 3, "--bed")
    return along, across, high


def sizes(text: str, count: int, option: str) -> tuple[float, ...]:
    """Return a size of so many lengths [mm], written as 1000x700."""
    parts = text.lower().replace("×", "x").split("x")
    try:
        sizes = tuple(float(part) for part in parts)
    except ValueError:
        sizes = ()
    if len(sizes) != count:
        example = "1000x700" if count == 2 else "250x250x300"
        message = f"“{text}” is no size; write it as {example}."
        raise typer.BadParameter(message, param_hint=option)
    return sizes
