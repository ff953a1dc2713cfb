"""Commands that show what is in a record, and export it."""

from pathlib import Path
from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, words


def show(
    record: Annotated[Path, typer.Argument(help="Any record file that this program wrote.", readable=False)],
    as_json: AsJson = False,
) -> None:
    """Show what is in a record: a back in numbers, a saddle in short, findings, a change, a trend, a hand.

    \b
    Example:
      saddlebench show bramble.fit.json
    """
    with guarded("show", as_json=as_json):
        from saddlebench.exchange.records import (
            BackDocument,
            ChangeDocument,
            SaddleDocument,
            SettingsDocument,
            kind_of,
            read_back,
            read_change,
            read_saddle,
            read_study,
        )

        kind = kind_of(record)
        if kind is BackDocument:
            from saddlebench.cli.back import tell
            from saddlebench.exchange.back_job import measured

            tell("show", measured(read_back(record)), None, (), as_json=as_json)
        elif kind is SaddleDocument:
            from saddlebench.cli.saddle import print_saddle, summary

            held = read_saddle(record)
            if as_json:
                print_json("show", result=summary(held))
            else:
                print_saddle(held)
        elif kind is ChangeDocument:
            from saddlebench.cli.change import tell_change
            from saddlebench.exchange.change_json import change_as_json

            study = read_change(record)
            if as_json:
                print_json("show", result=change_as_json(study))
            else:
                tell_change(study)
        elif kind is SettingsDocument:
            from saddlebench.cli.replica.told import settings_file_json, settings_file_table
            from saddlebench.exchange.records.document import read_document

            settings = read_document(SettingsDocument, record, lambda document: document)
            if as_json:
                print_json("show", result=settings_file_json(settings))
            else:
                settings_file_table(settings)
        elif not _show_hand_or_trend(kind, record, as_json=as_json):
            from saddlebench.cli.fit import tell_study

            tell_study("show", read_study(record), None, as_json=as_json)


def _show_hand_or_trend(kind: type, record: Path, *, as_json: bool) -> bool:
    """Show an exercise, a repeat study or a trend; return whether it was one."""
    from saddlebench.cli import repeat, trend
    from saddlebench.exchange.records.document import read_document
    from saddlebench.exchange.records.repeat import CheckMeDocument, RepeatDocument, read_repeats
    from saddlebench.exchange.records.trend import TrendDocument, read_trend
    from saddlebench.exchange.repeat_json import repeats_as_json

    if kind is CheckMeDocument:
        found = read_document(CheckMeDocument, record, lambda document: document.found())
        result, tell = repeat.check_as_json(found), lambda: repeat.tell_check(found)
    elif kind is RepeatDocument:
        study = read_repeats(record)
        result, tell = repeats_as_json(study), lambda: repeat.tell_repeats(study)
    elif kind is TrendDocument:
        held = read_trend(record)
        result = trend.trends_as_json(held)
        tell = lambda: trend.tell_trend(held)  # noqa: E731
    else:
        return False
    if as_json:
        print_json("show", result=result | {"written": []})
    else:
        tell()
    return True


def export(
    study: Annotated[Path, typer.Argument(help="A fit check.", readable=False)],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="A name ending in .json or .csv.", readable=False)
    ],
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Export a fit check's findings as JSON or as a table (CSV) for other programs.

    \b
    Example:
      saddlebench export bramble.fit.json -o bramble-findings.csv
    """
    with guarded("export", as_json=as_json):
        from saddlebench.engine.errors import Where, input_problem
        from saddlebench.exchange.records import read_study
        from saddlebench.exchange.whole_file import write_whole
        from saddlebench.report.findings_json import findings_csv, study_json

        makers = {".json": study_json, ".csv": findings_csv}
        if output.suffix.lower() not in makers:
            cure = "Choose a name ending in .json or .csv."
            raise input_problem("the name does not say what to export as", cure, Where(file=str(output)))
        require_free(output, overwrite=overwrite)
        write_whole(output, makers[output.suffix.lower()](read_study(study)).encode("utf-8"))
        if as_json:
            print_json("export", result={"written": str(output)})
        else:
            words().print(f"Written: {output}")
