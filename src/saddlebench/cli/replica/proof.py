"""A rebuild against its original."""

from pathlib import Path
from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, results, words
from saddlebench.cli.replica.asked import (
    In,
    Lengths,
    PaperName,
    Tolerance,
    measured_back,
    sheet_paper,
    speaking,
)
from saddlebench.cli.replica.told import cautions_told, proof_json, proof_table


def prove(
    original: Annotated[Path, typer.Argument(help="The back record that was rebuilt.", readable=False)],
    rebuild: Annotated[
        Path,
        typer.Argument(help="A back record of the rebuild, measured with any instrument.", readable=False),
    ],
    output: Annotated[
        Path,
        typer.Option(
            "--output", "-o", help="Where the rebuild check sheet (PDF) is written.", readable=False
        ),
    ],
    tolerance: Tolerance = 2.0,
    overwrite: Overwrite = False,
    paper: PaperName = "a4",
    language: In = "en",
    lengths: Lengths = "mm",
    as_json: AsJson = False,
) -> None:
    """Compare a rebuild, measured with any instrument, with its original; write the rebuild check sheet.

    \b
    Example:
      saddlebench replica prove bramble.back.json bramble-rebuilt.back.json -o check-sheet.pdf
    """
    with guarded("replica prove", as_json=as_json), speaking(language, lengths):
        from saddlebench.engine.replica.proof import prove_rebuild
        from saddlebench.exchange.whole_file import write_whole
        from saddlebench.report.replica.proof import ProofNames, headline, proof_pdf

        require_free(output, overwrite=overwrite)
        on = sheet_paper(paper)
        first, second = measured_back(original), measured_back(rebuild)
        found = prove_rebuild(first.estimated, second.estimated, tolerance_mm=tolerance)
        names = ProofNames(
            original=first.record.label,
            original_day=first.record.measured_on,
            replica=second.record.label,
            replica_day=second.record.measured_on,
            instrument=second.record.instrument.name,
        )
        write_whole(output, proof_pdf(found, first.estimated, names, on))
        if as_json:
            print_json("replica prove", result=proof_json(found, output))
            return
        proof_table(found)
        results().print(f"[bold]{headline(found)}[/bold]")
        words().print(f"Written: {output}")
        cautions_told()
