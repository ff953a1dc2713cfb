"""The season: many horses against a stock, and one saddle against many horses."""

from pathlib import Path
from typing import Annotated, Any

import typer

from saddlebench.cli.choosing import (
    ChoosingFile,
    ClusterAddress,
    ListOutput,
    OwnLimitsFile,
    Workers,
    pool_of,
    settings_by,
    stopped_by_ctrl_c,
    write_told,
)
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


def season(
    horses: Annotated[Path, typer.Argument(help="A table of horses (CSV).", readable=False)],
    stock: Annotated[Path, typer.Argument(help="A stock table (CSV).", readable=False)],
    saddle: Annotated[
        str, typer.Option("--saddle", help="Only this saddle, by its number: which horses could take it?")
    ] = "",
    length: Annotated[int, typer.Option("--length", help="Saddles for each horse.", min=1, max=50)] = 5,
    limits: OwnLimitsFile = None,
    choosing: ChoosingFile = None,
    workers: Workers = 0,
    cluster: ClusterAddress = "",
    output: ListOutput = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a short list of saddles for every horse of a table, or find the horses for one saddle.

    A season plans: it says nothing of confidence. Decide with a shortlist for each horse.
    Ctrl-C stops it; the horses that are done by then are printed as partial.

    \b
    Examples:
      saddlebench season horses.csv shop/stock.csv -o season.json
      saddlebench season horses.csv shop/stock.csv --saddle INV-00012
    """
    with guarded("season", as_json=as_json):
        from dataclasses import replace

        from saddlebench.engine.choose import season as plan
        from saddlebench.engine.choose import takers
        from saddlebench.engine.errors import Where, input_problem
        from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
        from saddlebench.exchange.limits import read_limits
        from saddlebench.exchange.shop import read_horses, read_stock
        from saddlebench.report.shortlist_json import season_as_json, takers_as_json

        if output is not None:
            require_free(output, overwrite=overwrite)
        criteria = DEFAULT_CRITERIA if limits is None else read_limits(limits).criteria()
        settings = replace(settings_by(choosing), length=length, criteria=criteria)
        told: dict[str, Any]
        with progress(quiet=as_json) as show, stopped_by_ctrl_c() as stop, pool_of(workers, cluster) as pool:
            show("reading", 0, 1, "horses and stock")
            wanted, held = read_horses(horses), read_stock(stock)
            show("reading", 1, 1, "")

            def note(done: int, of: int, doing: str) -> None:
                show("season", done, of, doing)

            if saddle:
                one = {c.key: c for c in held.candidates(only_free=False)}.get(saddle)
                if one is None:
                    what = f"there is no saddle {saddle}"
                    raise input_problem(what, "Use a number of the table.", Where(file=str(stock)))
                told = takers_as_json(takers(one, wanted, settings, pool=pool, progress=note, stop=stop))
            else:
                offered = held.candidates()
                lists = list(plan(wanted, offered, settings, pool=pool, progress=note, stop=stop))
                told = season_as_json(lists, len(wanted), held)
        write_told(told, output)
        if as_json:
            print_json("season", result=told)
        elif saddle:
            _tell_takers(told)
        else:
            _tell_season(told)


def _tell_takers(told: dict[str, Any]) -> None:
    console = results()
    console.print(f"Horses for {told['saddle']}" + ("" if told["complete"] else " (partial)"))
    for one in told["horses"]:
        change = f"; {one['change']}" if one["change"] else ""
        console.print(f"  {one['rank']}  {one['horse']}: {one['cost']:.1f}{change}", markup=False)
    for one in told["ruled_out"]:
        console.print(f"  not {one['horse']}: {one['words']}", markup=False)
    for one in told["not_judged"]:
        console.print(f"  {one['horse']}: cannot be judged, {one['reason']}", markup=False)
    for caution in told["cautions"]:
        words().print(f"• {caution}")


def _tell_season(told: dict[str, Any]) -> None:
    console = results()
    if not told["complete"]:
        console.print(f"Stopped early: {told['done']} of {told['horses']} horses are done; this is partial.")
    for found in told["lists"]:
        console.print(f"\n[bold]{found['horse']}[/bold]")
        for one in found["entries"]:
            change = f"; {one['change']}" if one["change"] else ""
            console.print(
                f"  {one['rank']}  {one['saddle']}, {one['number']}: {one['cost']:.1f}{change}", markup=False
            )
        if not found["entries"]:
            console.print("  no saddle passes the hard limits")
    for caution in told["lists"][0]["cautions"] if told["lists"] else ():
        words().print(f"• {caution}")
