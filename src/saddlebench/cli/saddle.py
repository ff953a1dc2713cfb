"""Commands that make and show saddle records."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.console import AsJson, guarded, print_json, require_free, results, words
from saddlebench.cli.saddle_scan import from_scan
from saddlebench.cli.saddle_trace import from_tracings

if TYPE_CHECKING:
    from saddlebench.engine.saddle.record import SaddleRecord

app = typer.Typer(
    no_args_is_help=True, help="Make a saddle record from numbers, sections, a mesh, a scan or tracings."
)
app.command("scan")(from_scan)
app.command("trace")(from_tracings)


@app.command("file")
def from_file(
    saddle: Annotated[Path, typer.Argument(help="Saddle file (TOML or JSON): its numbers.", readable=False)],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="Where the record is written.", readable=False)
    ],
    mesh: Annotated[
        Path | None,
        typer.Option("--mesh", help="A mesh of the underside, in the saddle's own axes.", readable=False),
    ] = None,
    mesh_unit: Annotated[str, typer.Option(help="Unit of that mesh: mm, cm, m or in.")] = "",
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace a file that is already there.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Make a saddle record from a saddle file.

    \b
    Examples:
      saddlebench saddle file rowan.toml -o rowan.saddle.json
      saddlebench saddle file rowan.toml --mesh rowan.stl --mesh-unit mm -o rowan.saddle.json
    """
    with guarded("saddle file", as_json=as_json):
        from saddlebench.exchange.job import saddle_record
        from saddlebench.exchange.records import write_saddle

        require_free(output, overwrite=overwrite)
        record = saddle_record(saddle, mesh=mesh, mesh_unit=mesh_unit)
        write_saddle(record, output)
        if as_json:
            print_json("saddle file", result=summary(record) | {"written": str(output)})
            return
        print_saddle(record)
        words().print(f"Written: {output}")


def summary(record: "SaddleRecord") -> dict[str, Any]:
    """Return what a saddle record is, in short, for machines."""
    from saddlebench.engine.errors import NotMeasured, Undetermined
    from saddlebench.engine.saddle.record import model_of

    model = model_of(record)
    judged = not isinstance(model, NotMeasured | Undetermined)
    return {
        "label": record.label,
        "family": record.family.value,
        "can_be_judged": judged,
        "why_not": None if judged else getattr(model, "reason", ""),
        "pads": [pad.name for pad in record.pads],
        "assumed": list(record.assumed),
    }


def print_saddle(record: "SaddleRecord") -> None:
    """Print a saddle record in short."""
    held = summary(record)
    console = results()
    console.print(f"[bold]{held['label']}[/bold], {held['family']}")
    if not held["can_be_judged"]:
        console.print(f"Cannot be judged: {held['why_not']}")
    for pad in held["pads"]:
        console.print(f"Pad: {pad}")
    if held["assumed"]:
        console.print(f"Not given, taken at its usual value: {', '.join(held['assumed'])}")
