"""The fit check: one back, one saddle, judged."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import (
    AsJson,
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
    from saddlebench.engine.fit.loads import LoadCase
    from saddlebench.engine.fit.study import FitStudy


def fit(
    back: Annotated[Path, typer.Argument(help="A back record.", readable=False)],
    saddle: Annotated[Path, typer.Argument(help="A saddle record.", readable=False)],
    rider_mass: Annotated[float, typer.Option("--rider", help="Rider's mass, dressed [kg].")],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Where the fit check is written."),
    ] = None,
    horse_mass: Annotated[float, typer.Option("--horse", help="Horse's mass [kg]; 0: not known.")] = 0.0,
    build: Annotated[str, typer.Option(help="The horse's build: ordinary, pony or cob.")] = "ordinary",
    flat_withers: Annotated[bool, typer.Option("--flat-withers", help="Flat-withered horse.")] = False,
    no_pads: Annotated[bool, typer.Option("--no-pads", help="Leave out the record's pads.")] = False,
    also: Annotated[
        list[str] | None,
        typer.Option(
            "--also", help="A further load case to show, for example “canter, peak”; may be given again."
        ),
    ] = None,
    back_lift: Annotated[float, typer.Option("--lift", help="How far the lifted back rises [mm].")] = 25.0,
    off_centre: Annotated[float, typer.Option(help="Rider sits to the left by [mm]; negative: right.")] = 0.0,
    near_stirrup: Annotated[
        float,
        typer.Option(
            "--near-stirrup", help="Share of the stirrups' load on the near one [%].", min=0.0, max=100.0
        ),
    ] = 50.0,
    load_height: Annotated[
        float,
        typer.Option(
            "--load-height",
            help="How far above the panels the rider's load acts [mm]; 0 to 60 for a rider who balances.",
            min=0.0,
            max=500.0,
        ),
    ] = 30.0,
    limits: Annotated[
        Path | None,
        typer.Option("--limits", help="A file of the practice's own limits.", readable=False),
    ] = None,
    own_errors: OwnErrorsFiles = None,
    draws: Annotated[int, typer.Option("--tries", help="Tries for the confidence; 0: none.", min=0)] = 256,
    seed: Annotated[int, typer.Option(help="The same seed gives the same fit check.", min=0)] = 0,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace a file that is already there.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Check how a saddle fits a back, unladen and ridden; every finding says how sure it is.

    A finding "not right" is a result: the command ends with status 0.

    \b
    Example:
      saddlebench fit bramble.back.json rowan.saddle.json --rider 70 --horse 540 -o bramble.fit.json
      saddlebench fit bramble.back.json rowan.saddle.json --rider 70 --limits practice-limits.toml
    """
    with guarded("fit", as_json=as_json):
        from saddlebench.cli.warm import warm_up
        from saddlebench.engine.errors import NotMeasured, Undetermined
        from saddlebench.engine.fit.horse import NO_MASS, Build, Horse
        from saddlebench.engine.fit.loads import Rider
        from saddlebench.engine.fit.study import StudySettings
        from saddlebench.exchange.job import StudyRequest, study_files
        from saddlebench.exchange.limits import read_limits

        if output is not None:
            require_free(output, overwrite=overwrite)
        mass: float | NotMeasured = horse_mass or NO_MASS
        request = StudyRequest(
            rider=Rider(
                mass_kg=rider_mass,
                off_centre_mm=off_centre,
                left_stirrup_share=near_stirrup / 100.0,
                load_height_mm=load_height,
            ),
            horse=Horse(
                mass_kg=mass, build=Build(one_of(build, Build, "--build")), is_flat_withered=flat_withers
            ),
            pads=() if no_pads else None,
            more_cases=_more_cases(also or []),
            draws=draws,
            seed=seed,
            own_limits=None if limits is None else read_limits(limits),
        )
        with progress(quiet=as_json) as show:
            warm_up(show)
            study = study_files(
                back,
                saddle,
                request,
                own_errors=own_errors_of(own_errors),
                settings=StudySettings(back_lift_mm=back_lift),
                progress=lambda done, of, doing: show("fit check", done, of, doing),
            )
        if isinstance(study, Undetermined):
            _tell_undetermined(study.reason, as_json=as_json)
            return
        if output is not None:
            from saddlebench.exchange.records import write_study

            write_study(study, output)
        tell_study("fit", study, output, as_json=as_json)


def _more_cases(names: "list[str]") -> "tuple[LoadCase, ...]":
    from saddlebench.engine.fit.loads import MORE_CASES

    known = {case.name: case for case in MORE_CASES}
    return tuple(known[one_of(name, known, "--also")] for name in dict.fromkeys(names))


def _tell_undetermined(reason: str, *, as_json: bool) -> None:
    if as_json:
        print_json("fit", result={"cannot_be_judged": reason})
    else:
        results().print(reason)


def tell_study(command: str, study: "FitStudy", output: Path | None, *, as_json: bool) -> None:
    """Print a fit check: as JSON, or as a table with its cautions."""
    if as_json:
        from saddlebench.report.findings_json import study_as_json

        written = {"written": None if output is None else str(output)}
        print_json(command, result=study_as_json(study) | written)
        return
    from saddlebench.cli.tables import findings_table, states_table, under_the_hand
    from saddlebench.exchange.own_errors import errors_words

    states_table(study)
    findings_table(study)
    under_the_hand(study)
    console = words()
    console.print(errors_words(study.inputs.own_errors))
    for caution in study.cautions:
        console.print(f"• {caution}")
    if output is not None:
        console.print(f"Written: {output}")
