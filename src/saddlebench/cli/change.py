"""The change study: two or more back records of one horse, compared."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    progress,
    require_free,
    results,
    words,
)
from saddlebench.cli.own_hand import OwnErrorsFiles, own_errors_of
from saddlebench.cli.stated import one_of

if TYPE_CHECKING:
    from saddlebench.engine.change.results import ChangeStudy
    from saddlebench.exchange.change_job import Rejudged


def change(
    backs: Annotated[
        list[Path],
        typer.Argument(help="Back records of one horse, two or more, in any order.", readable=False),
    ],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Where the change study is written.")
    ] = None,
    pictures: Annotated[
        Path | None, typer.Option("--pictures", help="Folder for map, sections and chart.")
    ] = None,
    file_type: Annotated[str, typer.Option("--as", help="Of the pictures: svg, png or pdf.")] = "svg",
    phone: Annotated[bool, typer.Option("--phone", help="Pictures in one column, for a phone.")] = False,
    saddles: Annotated[
        list[Path] | None,
        typer.Option(
            "--saddle",
            help="A saddle record, judged on every day's back; may be given again.",
            readable=False,
        ),
    ] = None,
    rider_mass: Annotated[float, typer.Option("--rider", help="Rider's mass for --saddle [kg].")] = 70.0,
    draws: Annotated[int, typer.Option("--tries", help="Tries for the confidence of --saddle.", min=0)] = 64,
    other_device: Annotated[
        bool,
        typer.Option("--other-device", help="Instruments of one description were not the same piece."),
    ] = False,
    own_errors: OwnErrorsFiles = None,
    same_horse: Annotated[
        bool, typer.Option("--same-horse", help="Records under different names are of one horse.")
    ] = False,
    seed: Annotated[int, typer.Option(help="The same seed gives the same study.", min=0)] = 0,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Say what changed between two or more back records, where, by how much, and what cannot be told.

    \b
    Examples:
      saddlebench change may.back.json november.back.json
      saddlebench change *.back.json -o bramble.change.json --pictures pictures
      saddlebench change may.back.json november.back.json --saddle rowan.saddle.json --rider 70
    """
    with guarded("change", as_json=as_json):
        from saddlebench.engine.change.settings import ChangeSettings
        from saddlebench.exchange.change_job import change_files

        one_of(file_type, ("svg", "png", "pdf"), "--as")
        if output is not None:
            require_free(output, overwrite=overwrite)
        settings = ChangeSettings(same_device=not other_device, same_horse=same_horse, seed=seed)
        with progress(quiet=as_json) as show:
            study = change_files(
                backs,
                own_errors=own_errors_of(own_errors),
                settings=settings,
                progress=lambda done, of, doing: show("change study", done, of, doing),
            )
            rejudged = _rejudged(backs, saddles or [], rider_mass, draws, own_errors, show) if saddles else ()
        if output is not None:
            from saddlebench.exchange.records import write_change

            write_change(study, output)
        drawn = _draw(study, pictures, file_type, phone=phone) if pictures is not None else []
        if as_json:
            from saddlebench.exchange.change_json import change_as_json

            written = [str(path) for path in ([output] if output else []) + drawn]
            print_json("change", result=change_as_json(study, tuple(rejudged)) | {"written": written})
            return
        tell_change(study)
        for one in rejudged:
            _tell_rejudged(one, study)
        for path in ([output] if output else []) + drawn:
            words().print(f"Written: {path}")


def _rejudged(
    backs: list[Path],
    saddles: list[Path],
    rider_mass: float,
    draws: int,
    own_errors: list[Path] | None,
    show: Any,
) -> "tuple[Rejudged, ...]":
    from saddlebench.cli.warm import warm_up
    from saddlebench.engine.fit.loads import Rider
    from saddlebench.exchange.back_job import measured
    from saddlebench.exchange.change_job import rejudge
    from saddlebench.exchange.job import StudyRequest
    from saddlebench.exchange.records import read_back, read_saddle

    warm_up(show)
    errors = own_errors_of(own_errors)
    held = sorted((read_back(path) for path in backs), key=lambda record: record.measured_on)
    return rejudge(
        [measured(record, errors(record)) for record in held],
        [read_saddle(path) for path in saddles],
        StudyRequest(rider=Rider(mass_kg=rider_mass), draws=draws),
        progress=lambda done, of, doing: show("saddles then and now", done, of, doing),
    )


def _draw(study: "ChangeStudy", folder: Path, file_type: str, *, phone: bool) -> list[Path]:
    from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM
    from saddlebench.exchange.drawings.change_album import write_change_album

    return write_change_album(study, folder, file_type, width_mm=PHONE_WIDTH_MM if phone else PAGE_WIDTH_MM)


def tell_change(study: "ChangeStudy") -> None:
    """Print a change study in words, with its cautions."""
    from rich.padding import Padding

    from saddlebench.engine.change.results import NotComparable
    from saddlebench.exchange.change_words import day, registration_words, sentences, step_words

    console = results()
    first, last = study.visits[0], study.visits[-1]
    said = sentences(study)
    console.print(f"[bold]{study.horse}[/bold]: {day(first)} to {day(last)}")
    console.print(f"[bold]{said[0]}[/bold]")
    for sentence in said[1:]:
        console.print(Padding(sentence, (0, 0, 0, 2)))
    if len(study.visits) > 2:
        console.print("\nEvery visit against the first:")
        for step in study.steps:
            console.print(Padding(step_words(step, study.visits[step.later]), (0, 0, 0, 2)))
    whole = study.whole
    cautions: tuple[str, ...] = ()
    if not isinstance(whole, NotComparable):
        _numbers_table(study)
        console.print(f"\n{registration_words(whole.registration)}")
        cautions = whole.cautions
    console.print()
    for caution in (*cautions, *study.cautions):
        console.print(Padding(f"· {caution}", (0, 0, 0, 2)))


def _numbers_table(study: "ChangeStudy") -> None:
    from rich.table import Table

    from saddlebench.engine.back.estimates import Estimate
    from saddlebench.engine.change.results import Comparison
    from saddlebench.exchange.change_words import digits_of, estimate_words, number_words, region_words

    whole = study.whole
    if not isinstance(whole, Comparison):
        return
    table = Table(title="By how much", title_justify="left", box=None, pad_edge=False)
    for heading in ("", "change (95 % interval)", "told from error?"):
        table.add_column(heading, overflow="fold")
    rows = [(number_words(one), one.change, one.is_told) for one in whole.numbers if one.side == "both"]
    rows += [(region_words(one), one.volume, one.is_told) for one in whole.volumes if one.along is None]
    for name, held, is_told in rows:
        if isinstance(held, Estimate):
            said = "◆ yes" if is_told else "○ cannot be told"
            table.add_row(name, estimate_words(held, digits_of(held.unit)), said)
        else:
            table.add_row(name, held.reason, "? not measured")
    results().print()
    results().print(table)


def _tell_rejudged(one: "Rejudged", study: "ChangeStudy") -> None:
    from rich.table import Table

    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.exchange.change_words import day
    from saddlebench.exchange.own_errors import errors_words
    from saddlebench.exchange.phrases import SYMBOLS, title_of

    changed = one.changed()
    table = Table(
        title=f"{one.saddle} on the back of every day", title_justify="left", box=None, pad_edge=False
    )
    for heading in ("", *(day(visit) for visit in study.visits)):
        table.add_column(heading, overflow="fold")
    for row in changed:
        finding = next(f for f in row if f is not None)
        verdicts = ("–" if f is None else f"{SYMBOLS[f.verdict]} {f.verdict.value}" for f in row)
        table.add_row(title_of(finding), *verdicts)
    console = results()
    console.print()
    console.print(table if changed else f"{one.saddle}: every answer is the same on every day.")
    judged = [study for study in one.studies if isinstance(study, FitStudy)]
    for words_of_errors in dict.fromkeys(errors_words(study.inputs.own_errors) for study in judged):
        console.print(f"  {words_of_errors}")
