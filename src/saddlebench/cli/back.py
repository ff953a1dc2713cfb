"""Commands that make and judge back records."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    print_problems,
    problem_as_json,
    require_free,
    words,
)
from saddlebench.cli.look import look
from saddlebench.cli.stated import day_named, unit_named

if TYPE_CHECKING:
    from saddlebench.engine.errors import Problem
    from saddlebench.exchange.back_job import MeasuredBack

app = typer.Typer(no_args_is_help=True, help="Make a back record from readings or a scan, and judge it.")

Output = Annotated[
    Path,
    typer.Option(
        "--output", "-o", help="Where the back record is written.", show_default=False, readable=False
    ),
]


@app.command("table")
def from_table(
    readings: Annotated[
        Path, typer.Argument(help="Table of readings (CSV), as described in docs/reference.", readable=False)
    ],
    sheet: Annotated[
        Path,
        typer.Option("--sheet", "-s", help="Back sheet (TOML): horse, day, stance, marks.", readable=False),
    ],
    output: Output,
    instrument: Annotated[
        str, typer.Option("--instrument", "-i", help="Instrument file or shipped name, if not the sheet's.")
    ] = "",
    unit: Annotated[
        str,
        typer.Option(
            "--unit", help="Unit of distances and heights, if the table does not say: mm, cm, m, in."
        ),
    ] = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a back record from a table of gauge readings or of points of tracings.

    \b
    Example:
      saddlebench back table readings.csv --sheet bramble.toml -o bramble.back.json
    """
    length = unit_named(unit)
    with guarded("back table", as_json=as_json):
        from saddlebench.exchange.back_job import measured, table_record
        from saddlebench.exchange.records import write_back

        require_free(output, overwrite=overwrite)
        back = measured(table_record(readings, sheet, instrument=instrument, unit=length))
        write_back(back.record, output)
        tell("back table", back, output, (), as_json=as_json)


@app.command("scan")
def from_scan(
    scans: Annotated[
        list[Path],
        typer.Argument(
            help="Scan of the horse as it comes: PLY, OBJ, STL, OFF, GLB, XYZ or LAS; or two to six files "
            "that each show a part of it, the one that the marks were read off first.",
            readable=False,
        ),
    ],
    marks: Annotated[
        Path,
        typer.Option("--marks", "-m", help="Marks file (TOML): unit, up, head, landmarks.", readable=False),
    ],
    output: Output,
    label: Annotated[
        str, typer.Option(help="What the record is called, if the marks file does not say.")
    ] = "",
    day: Annotated[
        str, typer.Option(help="Day of the scan (2026-05-14), if the marks file does not say.")
    ] = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a back record from a scan, or from several that each show a part of the horse.

    \b
    Example:
      saddlebench back scan mare.ply --marks mare.marks.toml -o mare.back.json
      saddlebench back scan near.ply off.ply --marks mare.marks.toml -o mare.back.json
    """
    measured_on = day_named(day)
    with guarded("back scan", as_json=as_json):
        from saddlebench.exchange.back_job import measured, scan_record
        from saddlebench.exchange.records import write_back

        require_free(output, overwrite=overwrite)
        first, *more = scans
        scanned = scan_record(first, marks, more=more, label=label, measured_on=measured_on)
        back = measured(scanned.record)
        write_back(scanned.record, output, scan_file=scanned.scan_file)
        tell("back scan", back, output, scanned.remarks, as_json=as_json)


app.command("look")(look)


@app.command("check")
def check(
    back: Annotated[Path, typer.Argument(help="A back record.", readable=False)],
    as_json: AsJson = False,
) -> None:
    """Say how good a back record is, and describe the back in numbers.

    \b
    Example:
      saddlebench back check bramble.back.json
    """
    with guarded("back check", as_json=as_json):
        from saddlebench.exchange.back_job import measured
        from saddlebench.exchange.records import read_back

        tell("back check", measured(read_back(back)), None, (), as_json=as_json)


def tell(
    command: str, back: "MeasuredBack", output: Path | None, remarks: "tuple[Problem, ...]", *, as_json: bool
) -> None:
    """Print a back: its problems, itself in numbers, the verdict on its quality."""
    problems = (*remarks, *back.quality.problems)
    if as_json:
        print_json(command, problems=problems, result=_as_json(back, output))
        return
    from saddlebench.cli.tables import back_table
    from saddlebench.report.backs import described

    console = words()
    print_problems(problems)
    back_table(back.record.label, described(back))
    for left in back.quality.must_haves_left:
        console.print(f"! still missing: {left}")
    console.print(f"Quality: [bold]{back.quality.words}[/bold]")
    if output is not None:
        console.print(f"Written: {output}")


def _as_json(back: "MeasuredBack", output: Path | None) -> dict[str, Any]:
    from saddlebench.report.backs import described

    return {
        "label": back.record.label,
        "measured_on": back.record.measured_on.isoformat(),
        "quality": {
            "verdict": back.quality.verdict.value,
            "repeat_stations": list(back.quality.repeat_stations),
            "must_haves_left": list(back.quality.must_haves_left),
            "problems": [problem_as_json(problem) for problem in back.quality.problems],
        },
        "descriptors": [line.as_json() for line in described(back)],
        "written": None if output is None else str(output),
    }
