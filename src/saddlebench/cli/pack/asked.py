"""What the pack commands ask for: options, the practice they work for, and what is chosen."""

import uuid as uuids
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.engine.errors import InputProblemsError, SaddlebenchError, input_problem

if TYPE_CHECKING:
    from saddlebench.practice.rules import Actor

Home = Annotated[Path | None, typer.Option("--at", help="Data folder; else the usual one.", readable=False)]
Practice = Annotated[
    str, typer.Option("--practice", help="Name of the practice, where a folder holds several.")
]
PackFile = Annotated[Path, typer.Argument(help="A pack: a file, or its unpacked folder.", readable=False)]
Out = Annotated[Path, typer.Option("-o", "--output", help="Pack to write.", readable=False)]
To = Annotated[str, typer.Option("--to", help="Close it to this practice, by the name of its key here.")]
Several = list[str] | None
Backs = Annotated[Several, typer.Option("--back", help="Uuid of a back record; may be given again.")]
Studies = Annotated[
    Several, typer.Option("--fit-check", help="Uuid of a fit check, with what it was run on.")
]
Saddles = Annotated[Several, typer.Option("--saddle", help="Uuid of a saddle.")]
Horses = Annotated[Several, typer.Option("--horse", help="Uuid of a horse; what else of it is chosen apart.")]
Photos = Annotated[Several, typer.Option("--photo", help="Uuid of a photo or film; its place is never sent.")]
Plans = Annotated[Several, typer.Option("--plan", help="Uuid of an alteration plan, with its fit check.")]
Orders = Annotated[
    Several, typer.Option("--order", help="Uuid of a work order that was sent, with its plan.")
]
Visits = Annotated[
    Several, typer.Option("--visit", help="Uuid of a visit; nothing that is about people is sent.")
]
Changes = Annotated[
    Several, typer.Option("--change", help="Uuid of a change study, with the backs compared.")
]
Shortlists = Annotated[Several, typer.Option("--shortlist", help="Uuid of a shortlist of one horse.")]
Message = Annotated[str, typer.Option("--message", help="What to say with it.")]
Kit = Annotated[bool, typer.Option("--kit", help="Add everything to rebuild each back.")]
Instruments = Annotated[
    Several, typer.Option("--instrument", "-i", help="For --kit: instrument file or shipped name.")
]
In = Annotated[str, typer.Option("--in", help="Language of drawings and reports: en or de.")]
Lengths = Annotated[str, typer.Option("--lengths", help="Lengths on drawings and reports: mm or in.")]
RecordsOnly = Annotated[
    bool, typer.Option("--records-only", help="No drawings and reports beside the records.")
]
NamesPeople = Annotated[bool, typer.Option("--name-people", help="Say who recorded what.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Here:
    """The practice that a command works for."""

    home: Path
    actor: "Actor"


@contextmanager
def practice_of(home: Path | None, practice: str) -> Iterator[Here]:
    """Yield the practice of a data folder; what it refuses becomes a problem."""
    from saddlebench.cli.records_at import owner_of
    from saddlebench.datafolder import data_folder, prepare_compiled_cache
    from saddlebench.practice.start import start

    folder = home or data_folder()
    if not folder.is_dir():
        raise input_problem(f"there is no folder {folder}", "Name the data folder: --at.")  # noqa: EM102
    start(folder)
    prepare_compiled_cache()
    try:
        yield Here(home=folder, actor=owner_of(folder, practice))
    except InputProblemsError:
        raise
    except SaddlebenchError as error:
        what, _, cure = str(error).partition(". ")
        raise input_problem(what.removesuffix("."), cure or "Look at what was given.") from error


def uuids_of(given: Several, option: str) -> tuple[uuids.UUID, ...]:
    """Return the records that an option names; `typer.BadParameter` where one is no uuid."""
    try:
        return tuple(uuids.UUID(one) for one in given or ())
    except ValueError:
        raise typer.BadParameter("This is no uuid.", param_hint=option) from None
