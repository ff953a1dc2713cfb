"""What to alter on a saddle: a plan, or one tried by hand."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.choosing import HorseMass, OwnLimitsFile, Tries
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
from saddlebench.cli.stated import one_of

if TYPE_CHECKING:
    from saddlebench.exchange.job import StudyRequest
    from saddlebench.exchange.planning import Planned
    from saddlebench.exchange.records import PlanDocument

AIMS = {
    "even": "EVEN",
    "bigger-shoulder": "BIGGER_SHOULDER",
    "leave-room": "LEAVE_ROOM",
}


def alter(
    back: Annotated[Path, typer.Argument(help="A back record, or a fit check.", readable=False)],
    saddle: Annotated[Path, typer.Argument(help="The saddle's record.", readable=False)],
    rider_mass: Annotated[
        float, typer.Option("--rider", help="Rider's mass, dressed [kg]; a fit check knows it.")
    ] = 0.0,
    output: Annotated[Path | None, typer.Option("--output", "-o", help="Where the plan is written.")] = None,
    aim: Annotated[str, typer.Option(help=f"What is aimed at: {', '.join(AIMS)}.")] = "even",
    by_hand: Annotated[
        list[str] | None,
        typer.Option(
            "--set", help="Try this by hand instead: “near front +5”, “arch +10”; may be given again."
        ),
    ] = None,
    no_arch: Annotated[bool, typer.Option("--no-arch", help="Leave the front arch as it is.")] = False,
    with_pad: Annotated[bool, typer.Option("--pad", help="A pad may be added.")] = False,
    price: Annotated[
        float,
        typer.Option(help="What each mm moved must win, over the usual; 0: nothing.", min=0.0),
    ] = 1.0,
    horse_mass: HorseMass = 0.0,
    draws: Tries = 256,
    seed: Annotated[int, typer.Option(help="The same seed gives the same plan.", min=0)] = 0,
    limits: OwnLimitsFile = None,
    after: Annotated[
        Path | None, typer.Option("--after", help="Also write the fit check of the altered saddle here.")
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", help="Draw pressures before and after, as .svg, .png or .pdf."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Plan what to alter on a saddle: the least that lets it lie best, every finding before and after.

    \b
    Examples:
      saddlebench alter juno.back.json larch.saddle.json --rider 76 -o larch.plan.json
      saddlebench alter juno.fit.json larch.saddle.json --set "near front +5" --set "off rear -4"
    """
    with guarded("alter", as_json=as_json):
        from saddlebench.cli.warm import warm_up
        from saddlebench.engine.alter import Aim, Policy
        from saddlebench.engine.errors import Undetermined
        from saddlebench.exchange.hand import by_hand as read_by_hand
        from saddlebench.exchange.planning import is_fit_check, planned, task_of_files
        from saddlebench.exchange.records import PlanDocument

        for path in (output, after, picture):
            if path is not None:
                require_free(path, overwrite=overwrite)
        wanted = read_by_hand(by_hand) if by_hand else None
        policy = Policy(
            aim=Aim[AIMS[one_of(aim, AIMS, "--aim")]], arch=not no_arch, pad=with_pad, price_of_mm=price
        )
        request = None if is_fit_check(back) else _request(rider_mass, horse_mass, draws, seed, limits)
        with progress(quiet=as_json) as show:
            warm_up(show)
            task = task_of_files(back, saddle, request)
            made = (
                task
                if isinstance(task, Undetermined)
                else planned(
                    task, policy, wanted, progress=lambda done, of, doing: show("plan", done, of, doing)
                )
            )
        if isinstance(made, Undetermined):
            tell_cannot("alter", made.reason, as_json=as_json)
            return
        document = PlanDocument.of(made.plan, made.bedding, by_hand=made.by_hand)
        _write(made, document, output, after)
        if picture is not None:
            _draw(made, picture)
        if as_json:
            from saddlebench.report.plan_json import plan_as_json

            held = plan_as_json(document)
            print_json("alter", result=held | {"written": None if output is None else str(output)})
            return
        tell_plan(made)
        for path in (output, after, picture):
            if path is not None:
                words().print(f"Written: {path}")


def _write(made: "Planned", document: "PlanDocument", output: Path | None, after: Path | None) -> None:
    from saddlebench.exchange.records import write_plan, write_study

    if output is not None:
        write_plan(document, output)
    if after is not None:
        write_study(made.plan.after, after)


def _draw(made: "Planned", path: Path) -> None:
    from saddlebench.engine.errors import Undetermined
    from saddlebench.exchange.drawings import PAGE_WIDTH_MM, Scene, before_and_after, write_drawing

    before, after = Scene.of_study(made.plan.before), Scene.of_study(made.plan.after)
    if not isinstance(before, Undetermined) and not isinstance(after, Undetermined):
        write_drawing(before_and_after(before, after, width_mm=PAGE_WIDTH_MM), path)


def _request(rider: float, horse: float, draws: int, seed: int, limits: Path | None) -> "StudyRequest":
    from saddlebench.engine.fit.horse import NO_MASS, Horse
    from saddlebench.engine.fit.loads import Rider
    from saddlebench.exchange.job import StudyRequest
    from saddlebench.exchange.limits import read_limits

    if not rider > 0.0:
        message = "a back record does not know who rides: give the rider's mass."
        raise typer.BadParameter(message, param_hint="--rider")
    return StudyRequest(
        rider=Rider(mass_kg=rider),
        horse=Horse(mass_kg=horse or NO_MASS),
        draws=draws,
        seed=seed,
        own_limits=None if limits is None else read_limits(limits),
    )


def tell_cannot(command: str, reason: str, *, as_json: bool) -> None:
    """Say that a saddle cannot be planned for, and why."""
    if as_json:
        print_json(command, result={"cannot_be_planned": reason})
    else:
        results().print(reason)


def tell_plan(made: "Planned") -> None:
    """Print a plan: what to do, what comes of it, what holds it back, and the cautions."""
    from rich.padding import Padding

    from saddlebench.cli.plan_tables import changes_table, work_table
    from saddlebench.engine.errors import Undetermined
    from saddlebench.exchange.altering import SHORT_OF_IT, others_of
    from saddlebench.exchange.doubt_words import MOST_DOUBTS, told_of_doubts
    from saddlebench.exchange.own_errors import errors_words
    from saddlebench.exchange.plan_words import bedding_words, binding_words, summary_words

    console, plan = results(), made.plan
    for line in summary_words(plan, by_hand=made.by_hand):
        console.print(line)
    work_table(plan.alteration)
    for one in others_of(plan.alteration):
        console.print(Padding(one, (0, 0, 0, 2)))
    changes_table(plan.changes)
    doubtful = told_of_doubts(plan.after.put.doubts)
    if doubtful:
        console.print("\nWhat cannot be told of it, and what would help:")
        for line in doubtful[:MOST_DOUBTS]:
            console.print(Padding(line, (0, 0, 0, 2)))
    if plan.binding:
        console.print("\nWhat holds it back:")
        for limit in binding_words(plan.binding):
            console.print(Padding(limit, (0, 0, 0, 2)))
    if not isinstance(made.bedding, Undetermined):
        console.print("")
        for line in bedding_words(made.bedding):
            console.print(line)
    told = words()
    told.print(f"• {SHORT_OF_IT}")
    told.print(f"• {errors_words(plan.before.inputs.own_errors)}")
    for caution in plan.after.cautions:
        told.print(f"• {caution}")
