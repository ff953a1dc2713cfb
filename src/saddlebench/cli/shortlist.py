"""The shortlist: which saddles of a stock suit one horse and rider."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.choosing import (
    ChoosingFile,
    ClusterAddress,
    HorseMass,
    ListOutput,
    OwnLimitsFile,
    Tries,
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
from saddlebench.cli.stated import one_of

if TYPE_CHECKING:
    from saddlebench.engine.choose import Shortlist


def shortlist(
    back: Annotated[Path, typer.Argument(help="A back record.", readable=False)],
    stock: Annotated[Path, typer.Argument(help="A stock table (CSV).", readable=False)],
    rider_mass: Annotated[float, typer.Option("--rider", help="Rider's mass, dressed [kg].")],
    horse_mass: HorseMass = 0.0,
    build: Annotated[str, typer.Option(help="The horse's build: ordinary, pony or cob.")] = "ordinary",
    flat_withers: Annotated[bool, typer.Option("--flat-withers", help="Flat-withered horse.")] = False,
    thigh: Annotated[
        float, typer.Option(help="Rider sitting, wall to front of the knee [mm]; 0: not known.", min=0)
    ] = 0.0,
    leg: Annotated[float, typer.Option(help="Rider standing, hip to floor [mm]; 0: not known.", min=0)] = 0.0,
    discipline: Annotated[str, typer.Option(help="Only saddles for this.")] = "",
    everything: Annotated[
        bool, typer.Option("--all", help="Also saddles that are on trial, out or reserved.")
    ] = False,
    length: Annotated[int, typer.Option("--length", help="How many saddles.", min=1, max=200)] = 20,
    draws: Tries = 48,
    seed: Annotated[int, typer.Option(help="The same seed gives the same list.", min=0)] = 0,
    limits: OwnLimitsFile = None,
    choosing: ChoosingFile = None,
    workers: Workers = 0,
    cluster: ClusterAddress = "",
    output: ListOutput = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture",
            help="What would tell which stands first, drawn: a name ending in .svg, .png or .pdf.",
        ),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Find the saddles of a stock that suit one horse and rider best, each with reasons for and against.

    Ctrl-C stops it; what is known by then is printed as partial.

    \b
    Example:
      saddlebench shortlist dumpling.back.json shop/stock.csv --rider 82 --horse 580 --build cob --thigh 560
    """
    with guarded("shortlist", as_json=as_json):
        from dataclasses import replace

        from saddlebench.engine.choose import RiderSize, Wanted
        from saddlebench.engine.choose import shortlist as choose
        from saddlebench.engine.errors import NotMeasured
        from saddlebench.engine.fit.default_criteria import DEFAULT_CRITERIA
        from saddlebench.engine.fit.horse import NO_MASS, Build, Horse
        from saddlebench.engine.fit.loads import Rider
        from saddlebench.exchange.back_job import measured
        from saddlebench.exchange.limits import read_limits
        from saddlebench.exchange.records import read_back
        from saddlebench.exchange.shop import read_stock
        from saddlebench.report.shortlist_json import shortlist_as_json

        for path in (output, picture):
            if path is not None:
                require_free(path, overwrite=overwrite)
        one_of(build, Build, "--build")
        unknown = NotMeasured("not given")
        criteria = DEFAULT_CRITERIA if limits is None else read_limits(limits).criteria()
        settings = replace(settings_by(choosing), length=length, draws=draws, seed=seed, criteria=criteria)
        with progress(quiet=as_json) as show, stopped_by_ctrl_c() as stop, pool_of(workers, cluster) as pool:
            show("reading", 0, 2, "the back")
            made = measured(read_back(back))
            show("reading", 1, 2, "the stock")
            held = read_stock(stock)
            show("reading", 2, 2, "")
            wanted = Wanted(
                label=made.record.label,
                surface=made.estimated.surface,
                landmarks=made.record.landmarks,
                rider=Rider(mass_kg=rider_mass),
                rider_size=RiderSize(thigh_mm=thigh or unknown, leg_mm=leg or unknown),
                horse=Horse(mass_kg=horse_mass or NO_MASS, build=Build(build), is_flat_withered=flat_withers),
                estimated=made.estimated,
            )
            found = choose(
                wanted,
                held.candidates(only_free=not everything, discipline=discipline),
                settings,
                pool=pool,
                progress=lambda done, of, doing: show(doing, done, of, ""),
                stop=stop,
            )
        told = shortlist_as_json(found, held)
        write_told(told, output)
        if picture is not None:
            _draw(found, picture)
        if as_json:
            print_json("shortlist", result=told)
        else:
            tell(told)


def _draw(found: "Shortlist", path: Path) -> None:
    if not found.order_doubts:
        words().print("No other saddle may stand first as well: there is nothing to draw.")
        return
    from saddlebench.exchange.doubt_of_order import ORDER_HEADING
    from saddlebench.exchange.drawings import PAGE_WIDTH_MM, write_drawing
    from saddlebench.exchange.drawings.doubt import doubt_chart

    chart = doubt_chart(
        found.order_doubts, heading=ORDER_HEADING, pair=found.wanted_label, width_mm=PAGE_WIDTH_MM
    )
    write_drawing(chart, path)
    words().print(f"Written: {path}")


def tell(told: dict[str, Any]) -> None:
    """Print a shortlist as a table, each saddle's reasons below."""
    from rich.table import Table

    console = results()
    title = f"Saddles for {told['horse']}" + ("" if told["complete"] else " (partial)")
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    table.add_column("", justify="right")
    table.add_column("saddle", overflow="fold")
    table.add_column("where", overflow="fold")
    for heading in ("price", "cost", "stays in the list"):
        table.add_column(heading, justify="right")
    for one in told["entries"]:
        stays = one["stays_share"]
        table.add_row(
            str(one["rank"]),
            f"{one['saddle']}, {one['number']}" + (f"; {one['change']}" if one["change"] else ""),
            one["where"],
            one["price"],
            f"{one['cost']:.1f}",
            "not tried" if stays is None else f"{100.0 * stays:.0f} of 100 tries",
        )
    console.print(table)
    for one in told["entries"]:
        _tell_reasons(one)
    console.print()
    ruled_out = ", ".join(f"{count} {limit}" for limit, count in told["ruled_out"].items())
    ruled = f"Ruled out: {ruled_out or 'none'}."
    if told["order_words"]:
        console.print("What would tell which stands first", style="bold")
    for line in (
        *told["order_words"],
        *told["would_help"],
        *told["work_words"],
        ruled,
        *told["cost"]["words"],
    ):
        console.print(line, markup=False)
    for caution in told["cautions"]:
        words().print(f"• {caution}")


def _tell_reasons(one: dict[str, Any]) -> None:
    console = results()
    console.print(f"\n{one['rank']}  {one['saddle']}", markup=False, style="bold")
    for sign, key in (("+", "for"), ("−", "against")):
        for reason in one[key]:
            console.print(f"   {sign} {reason}", markup=False)
    for line in (
        one["sure"],
        one["doubt"],
        one["level"],
        f"Same shape: {', '.join(one['alike'])}" if one["alike"] else "",
    ):
        if line:
            console.print(f"   {line}", markup=False)
