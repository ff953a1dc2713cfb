"""The command that draws a fit check."""

from pathlib import Path
from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, guarded, print_json, progress, words
from saddlebench.cli.stated import some_of

Study = Annotated[Path, typer.Argument(help="A fit check.", readable=False)]


def draw(
    study: Study,
    folder: Annotated[Path, typer.Option("--output", "-o", help="Folder for the pictures.", readable=False)],
    only: Annotated[
        list[str] | None,
        typer.Option("--only", help="overview, sections, plan, side, load, findings; may be given again."),
    ] = None,
    file_types: Annotated[
        list[str] | None, typer.Option("--as", help="svg, png or pdf; may be given again. Usually svg.")
    ] = None,
    case: Annotated[str, typer.Option(help="Load case: placed, girthed, halt, …")] = "halt",
    works_to: Annotated[bool, typer.Option("--works-to", help="Draw where it works to.")] = False,
    phone: Annotated[bool, typer.Option("--phone", help="One column, for a phone.")] = False,
    as_json: AsJson = False,
) -> None:
    """Draw a fit check: sections with the saddle in place, plan, side view, load along the panels, findings.

    \b
    Examples:
      saddlebench draw bramble.fit.json -o pictures
      saddlebench draw bramble.fit.json -o pictures --only sections --as pdf --case girthed
    """
    with guarded("draw", as_json=as_json):
        from saddlebench.engine.fit.settled import Position
        from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM
        from saddlebench.exchange.records import read_study
        from saddlebench.report.album import FileType, Picture, write_album

        wanted = some_of(only, [p.value for p in Picture], "--only")
        kinds = some_of(file_types or ["svg"], [k.value for k in FileType], "--as")
        held = read_study(study)
        with progress(quiet=as_json) as show:
            paths = write_album(
                held,
                folder,
                [FileType(kind) for kind in kinds],
                [Picture(name) for name in wanted],
                case_name=case,
                position=Position.WORKS_TO if works_to else Position.PUT,
                width_mm=PHONE_WIDTH_MM if phone else PAGE_WIDTH_MM,
                told=lambda done, of, doing: show("pictures", done, of, doing),
            )
        if as_json:
            print_json("draw", result={"written": [str(path) for path in paths]})
        for path in () if as_json else paths:
            words().print(f"Written: {path}")
