"""Results to stdout, words to stderr; problems as sentences or as JSON; progress where a person looks on."""

import json
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench import __version__
from saddlebench.cli.exit_codes import Exit
from saddlebench.datafolder import data_folder
from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where

if TYPE_CHECKING:
    from rich.console import Console

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object for machines instead of words.")]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Replace a file that is already there.")]
Progress = Callable[[str, int, int, str], None]
"""Told a task, how much of it is done, of how much, and what comes next."""


def words() -> "Console":
    """Return the console for words: stderr."""
    from rich.console import Console

    return Console(stderr=True, highlight=False, soft_wrap=True)


def results() -> "Console":
    """Return the console for results: stdout."""
    from rich.console import Console

    return Console(highlight=False)


def problem_as_json(problem: Problem) -> dict[str, Any]:
    """Return a problem as the JSON output states it."""
    where = {name: value for name, value in asdict(problem.where).items() if value not in (None, "")}
    return {"what": problem.what, "cure": problem.cure, "weight": problem.weight.value, "where": where}


def print_json(command: str, *, result: object = None, problems: tuple[Problem, ...] = ()) -> None:
    """Print the one JSON object of a command; docs/reference/json-output.md describes it."""
    done = not any(problem.weight is Weight.ERROR for problem in problems)
    envelope = {
        "saddlebench": __version__,
        "command": command,
        "done": done,
        "problems": [problem_as_json(problem) for problem in problems],
        "result": result,
    }
    sys.stdout.write(json.dumps(envelope, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def print_problems(problems: tuple[Problem, ...]) -> None:
    """Print problems as sentences, errors before warnings."""
    from rich.text import Text

    console = words()
    for problem in sorted(problems, key=lambda p: p.weight is not Weight.ERROR):
        sign, style = ("✗", "bold red") if problem.weight is Weight.ERROR else ("!", "bold yellow")
        console.print(Text(f"{sign} ", style=style) + Text(str(problem)))


@contextmanager
def guarded(command: str, *, as_json: bool) -> Iterator[None]:
    """Turn what goes wrong inside into sentences (or JSON) and an exit status.

    Raises
    ------
    typer.Exit
        With `WRONG_INPUT` for problems of what was given, `PROGRAM_FAULT` for a fault of the program.
    """
    try:
        yield
    except InputProblemsError as error:
        _report(command, error.problems, as_json=as_json)
        raise typer.Exit(Exit.WRONG_INPUT) from error
    except OSError as error:
        problem = Problem(
            what=f"cannot be opened or written: {error.strerror or error}",
            cure="Check the name, the folder and its permissions.",
            where=Where(file=str(error.filename or "")),
        )
        _report(command, (problem,), as_json=as_json)
        raise typer.Exit(Exit.WRONG_INPUT) from error
    except (typer.Exit, typer.Abort, typer.BadParameter):
        raise
    except Exception as error:
        problem = Problem(
            what="the program failed; this is its fault, not yours",
            cure=f"Send {_keep_account()} to the makers: it holds no readings and no names.",
        )
        _report(command, (problem,), as_json=as_json)
        raise typer.Exit(Exit.PROGRAM_FAULT) from error


def _report(command: str, problems: tuple[Problem, ...], *, as_json: bool) -> None:
    if as_json:
        print_json(command, problems=problems)
    else:
        print_problems(problems)


def _keep_account() -> str:
    account = "".join(traceback.format_tb(sys.exc_info()[2]))
    kind = sys.exc_info()[0]
    text = f"saddlebench {__version__}\n{kind.__name__ if kind else ''}\n{account}"
    try:
        folder = data_folder() / "faults"
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / "last-fault.txt"
        path.write_text(text, encoding="utf-8")
    except OSError:
        sys.stderr.write(text)
        return "the text above"
    return str(path)


@contextmanager
def progress(*, quiet: bool) -> Iterator[Progress]:
    """Yield a callback `(task, done, of, doing)` that draws one line a task on stderr."""
    if quiet:
        yield lambda _task, _done, _of, _doing: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, SpinnerColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bars

    columns = (
        SpinnerColumn(finished_text="[green]✓"),
        TextColumn("{task.description}"),
        BarColumn(bar_width=24),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
    )
    with Bars(*columns, console=words()) as bars:
        tasks: dict[str, Any] = {}

        def show(task: str, done: int, of: int, doing: str) -> None:
            if task not in tasks:
                tasks[task] = bars.add_task(task, total=of)
            words_now = task if done >= of else f"{task}: {doing}"
            bars.update(tasks[task], completed=done, total=of, description=words_now)

        yield show


def require_free(path: Path, *, overwrite: bool) -> None:
    """Refuse to write over a file that is already there, unless told to.

    Raises
    ------
    InputProblemsError
        If the file exists and `overwrite` is not set, or if its folder does not exist.
    """
    if path.exists() and not overwrite:
        what, cure = "is already there", "Give another name, or add --overwrite."
    elif not path.parent.is_dir():
        what, cure = "lies in a folder that does not exist", "Make the folder first, or give another name."
    else:
        return
    raise InputProblemsError([Problem(what=what, cure=cure, where=Where(file=str(path)))])
