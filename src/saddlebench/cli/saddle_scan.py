"""The command that makes a saddle record from a scan of the saddle lying upside down."""

from pathlib import Path
from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, progress
from saddlebench.cli.measured_underside import MeasuredUnderside, Targets, hand_on

Unit = Annotated[str, typer.Option("--unit", help="Unit of the scan: mm, cm, m or in. Never guessed.")]
HeadingOption = Annotated[
    str,
    typer.Option(
        "--heading",
        help="Where pommel and cantle cannot be told apart: “as found” or “the other way round”.",
    ),
]


def from_scan(
    scan: Annotated[
        Path,
        typer.Argument(
            help="Scan of the saddle upside down, in any axes: a mesh or a point cloud.", readable=False
        ),
    ],
    saddle: Annotated[
        Path, typer.Option("--saddle", "-s", help="Saddle file (TOML or JSON): its numbers.", readable=False)
    ],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="Where the record is written.", readable=False)
    ],
    unit: Unit = "",
    heading: HeadingOption = "from the shape",
    picture: Annotated[
        Path | None, typer.Option("--picture", help="Where what was found is drawn (SVG).", readable=False)
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a saddle record from a scan of the saddle lying upside down.

    \b
    Example:
      saddlebench saddle scan rowan.ply --saddle rowan.toml --unit m -o rowan.saddle.json --picture rowan.svg
    """
    with guarded("saddle scan", as_json=as_json):
        from saddlebench.engine.errors import Where, input_problem
        from saddlebench.engine.units import Length
        from saddlebench.exchange.drawings.scanned_underside import scanned_underside
        from saddlebench.exchange.job import saddle_record
        from saddlebench.exchange.saddles.scanned import (
            Heading,
            saddle_from_scan,
            scan_measures,
            scan_sentences,
        )

        to = Targets(output=output, picture=picture, overwrite=overwrite)
        to.require_free()
        if unit and unit not in list(Length):
            what = f"“{unit[:20]}” is no unit of length known here"
            raise input_problem(what, "Write mm, cm, m or in.", Where(field="unit"))
        if heading not in list(Heading):
            what = f"“{heading[:30]}” does not say which end is the pommel"
            cure = f"Write one of: {', '.join(Heading)}."
            raise input_problem(what, cure, Where(field="heading"))
        record = saddle_record(saddle, mesh=None, mesh_unit="")
        with progress(quiet=as_json) as show:
            scanned = saddle_from_scan(
                record,
                scan,
                Length(unit) if unit else None,
                heading=Heading(heading),
                tell=lambda done, of, doing: show("scan", done, of, doing),
            )
        made = MeasuredUnderside(
            record=scanned.record,
            measures=scan_measures(scanned),
            sentences=scan_sentences(scanned),
            remarks=scanned.remarks,
            draw=lambda: scanned_underside(scanned),
        )
        hand_on("saddle scan", made, to, as_json=as_json)
