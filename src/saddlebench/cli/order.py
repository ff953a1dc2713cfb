"""The work order that a saddler gets: a record, a sheet, the underside drawn."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.alter import tell_cannot
from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    require_free,
    results,
    words,
)
from saddlebench.cli.stated import day_named

if TYPE_CHECKING:
    from saddlebench.engine.alter import ReplicaCheck
    from saddlebench.exchange.records import OrderDocument


def order(
    plan: Annotated[Path, typer.Argument(help="An alteration plan.", readable=False)],
    saddle: Annotated[Path, typer.Argument(help="The saddle's record.", readable=False)],
    number: Annotated[str, typer.Option("--number", help="The order's number.")],
    back: Annotated[
        Path | None,
        typer.Option("--back", help="The back record or fit check: says what it should do on the replica."),
    ] = None,
    output: Annotated[Path | None, typer.Option("--output", "-o", help="Where the order is written.")] = None,
    pdf: Annotated[Path | None, typer.Option("--pdf", help="Where the sheet for the saddler goes.")] = None,
    drawing: Annotated[
        Path | None, typer.Option("--drawing", help="The underside alone, as .svg, .png or .pdf.")
    ] = None,
    due: Annotated[str, typer.Option(help="When it is due, as 2026-12-18.")] = "",
    practice: Annotated[str, typer.Option(help="Who orders.")] = "",
    workshop: Annotated[str, typer.Option(help="Who is to do it.")] = "",
    seat: Annotated[str, typer.Option(help="Seat size, to know the saddle by.")] = "",
    colour: Annotated[str, typer.Option(help="Colour, to know the saddle by.")] = "",
    photo: Annotated[list[str] | None, typer.Option(help="Name of a photo that goes along.")] = None,
    unsafe: Annotated[list[str] | None, typer.Option(help="Something unsafe: mended first.")] = None,
    leave: Annotated[list[str] | None, typer.Option(help="Something not to touch.")] = None,
    price_limit: Annotated[str, typer.Option("--price-limit", help="Up to what without asking.")] = "",
    loan: Annotated[str, typer.Option(help="The loan saddle meanwhile.")] = "",
    weight: Annotated[
        float, typer.Option(help="Weight on the seat on the replica [kg].", min=5, max=120)
    ] = 30.0,
    today: Annotated[str, typer.Option(help="The day it is written; today if not given.")] = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a plan into a work order: a record, a sheet for the saddler, the underside drawn.

    \b
    Example:
      saddlebench order larch.plan.json larch.saddle.json --number 17 --back juno.back.json --pdf order.pdf
    """
    with guarded("order", as_json=as_json):
        from saddlebench.engine.errors import NotMeasured, Undetermined
        from saddlebench.engine.fit.loads import Rider
        from saddlebench.engine.saddle.record import model_of
        from saddlebench.exchange.drawings import underside, write_drawing
        from saddlebench.exchange.job import StudyRequest
        from saddlebench.exchange.planning import is_fit_check, replica_of, task_of_files
        from saddlebench.exchange.records import read_plan, read_saddle, write_order
        from saddlebench.exchange.work_orders import Wishes, order_of
        from saddlebench.report.work_order import write_order_document

        for path in (output, pdf, drawing):
            if path is not None:
                require_free(path, overwrite=overwrite)
        held, record = read_plan(plan), read_saddle(saddle)
        check: ReplicaCheck | Undetermined = Undetermined("the back was not given")
        if back is not None:
            request = None if is_fit_check(back) else StudyRequest(rider=Rider(mass_kg=70.0), draws=0)
            task = task_of_files(back, saddle, request)
            check = task if isinstance(task, Undetermined) else replica_of(task, held.alteration, weight)
        wishes = Wishes(
            number=number,
            written_on=day_named(today, "--today") or dt.datetime.now().astimezone().date(),
            due_on=day_named(due, "--due"),
            practice=practice,
            workshop=workshop,
            seat=seat,
            colour=colour,
            photos=tuple(photo or ()),
            unsafe=tuple(unsafe or ()),
            leave=tuple(leave or ()),
            price_limit=price_limit,
            loan=loan,
        )
        document = order_of(held, record, check, wishes)
        model = model_of(record)
        if isinstance(model, NotMeasured | Undetermined):
            tell_cannot("order", model.reason, as_json=as_json)
            return
        if output is not None:
            write_order(document, output)
        if pdf is not None:
            write_order_document(document, model, pdf)
        if drawing is not None:
            write_drawing(underside(model, document.alteration), drawing)
        written = [str(path) for path in (output, pdf, drawing) if path is not None]
        if as_json:
            from saddlebench.report.plan_json import order_as_json

            print_json("order", result=order_as_json(document) | {"written": written})
            return
        _tell_order(document)
        for name in written:
            words().print(f"Written: {name}")


def _tell_order(document: "OrderDocument") -> None:
    from rich.padding import Padding

    from saddlebench.exchange.altering import signed_mm

    console = results()
    console.print(f"[bold]Work order {document.number}[/bold]: {document.saddle.label}, {document.state}")
    for one in document.unsafe_first:
        console.print(Padding(f"✕ unsafe, mend first: {one}", (0, 0, 0, 2)))
    for line in document.work:
        asked = (
            f"{line.place}: {signed_mm(line.bench_mm)} ±{line.tolerance_bench_mm:g} on the bench, {line.how}"
        )
        console.print(Padding(asked, (0, 0, 0, 2)))
    for one in document.others:
        console.print(Padding(one, (0, 0, 0, 2)))
    if not document.work and not document.others:
        console.print(Padding("nothing is to be altered", (0, 0, 0, 2)))
    for caution in document.cautions:
        words().print(f"• {caution}")
