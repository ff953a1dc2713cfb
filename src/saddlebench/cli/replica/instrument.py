"""A back on another instrument: what to set, and whether what was set is near enough."""

from pathlib import Path
from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, guarded, print_json, progress
from saddlebench.cli.replica.asked import (
    At,
    Back,
    Folder,
    In,
    InstrumentName,
    Lengths,
    PaperName,
    Tolerance,
    distances,
    measured_back,
    sheet_paper,
    speaking,
)
from saddlebench.cli.replica.told import (
    cautions_told,
    paths_told,
    set_json,
    set_table,
    settings_json,
    settings_table,
)
from saddlebench.cli.stated import instrument_named


def settings(
    back: Back,
    output: Folder,
    instrument: InstrumentName,
    at: At = "",
    tolerance: Tolerance = 2.0,
    paper: PaperName = "a4",
    language: In = "en",
    lengths: Lengths = "mm",
    as_json: AsJson = False,
) -> None:
    """Write what to set on another instrument so that it shows a back: a sheet to print, and JSON.

    \b
    Example:
      saddlebench replica settings bramble.back.json -i my-comb.toml -o bramble-kit
    """
    with guarded("replica settings", as_json=as_json), speaking(language, lengths):
        from saddlebench.engine.replica.settings import settings_for
        from saddlebench.exchange.back_job import digest
        from saddlebench.report.replica.kit import write_settings

        held = measured_back(back)
        with progress(quiet=as_json) as show:
            show("settings", 0, 1, instrument)
            made = settings_for(
                held.estimated, instrument_named(instrument), distances(at), tolerance_mm=tolerance
            )
            written = write_settings(held, made, output, back_version=digest(back), paper=sheet_paper(paper))
            show("settings", 1, 1, "done")
        if as_json:
            print_json("replica settings", result=settings_json(made, written), problems=written.problems)
            return
        settings_table(made)
        paths_told(written)


def check(
    back: Back,
    readings: Annotated[
        Path, typer.Argument(help="Table of what the instrument shows once set (CSV).", readable=False)
    ],
    instrument: InstrumentName,
    at: At = "",
    tolerance: Tolerance = 2.0,
    lengths: Lengths = "mm",
    as_json: AsJson = False,
) -> None:
    """Say of an instrument as it was set whether each station is near enough, and what to move if not.

    The table holds the stations set so far, numbered as on the sheet of settings.

    \b
    Example:
      saddlebench replica check bramble.back.json as-set.csv -i my-comb.toml
    """
    with guarded("replica check", as_json=as_json), speaking("en", lengths):
        from saddlebench.engine.replica.set_check import check_set
        from saddlebench.engine.replica.settings import settings_for
        from saddlebench.exchange.readings import read_readings

        held, tool = measured_back(back), instrument_named(instrument)
        made = settings_for(held.estimated, tool, distances(at), tolerance_mm=tolerance)
        found = check_set(held.estimated, made, read_readings(readings, tool))
        if as_json:
            print_json("replica check", result=[set_json(one) for one in found])
            return
        set_table(found)
        cautions_told()
