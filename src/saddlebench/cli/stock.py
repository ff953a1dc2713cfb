"""Commands on the stock: check a table, print a label, invent a stock to try things on."""

from pathlib import Path
from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, results, words

app = typer.Typer(no_args_is_help=True, help="The stock as a table: check it, label it, or invent one.")
Table = Annotated[Path, typer.Argument(help="A stock table (CSV).", readable=False)]


@app.command("check")
def check(stock: Table, as_json: AsJson = False) -> None:
    """Read a stock table and every saddle record it names; tell every problem by row and field.

    \b
    Example:
      saddlebench stock check stock.csv
    """
    with guarded("stock check", as_json=as_json):
        from collections import Counter

        from saddlebench.exchange.shop import read_stock

        held = read_stock(stock)
        where = Counter(str(item.where) for item in held.items)
        free = sum(item.is_free for item in held.items)
        if as_json:
            result = {"saddles": len(held.items), "free": free, "where": dict(where)}
            print_json("stock check", result=result)
            return
        places = ", ".join(f"{count} {place}" for place, count in where.most_common())
        results().print(f"{len(held.items)} saddles ({places}); {free} can be tried now.")


@app.command("label")
def label(
    stock: Table,
    number: Annotated[str, typer.Argument(help="The saddle's number in the table.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="A .pdf for the whole label, a .png for the code alone.")
    ],
    site: Annotated[
        str, typer.Option(help="Address of the practice's pages, for a code that opens the saddle's page.")
    ] = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a label of 90 × 40 mm with a QR code of the saddle's page or record.

    \b
    Example:
      saddlebench stock label stock.csv INV-00012 -o label.pdf
    """
    with guarded("stock label", as_json=as_json):
        from saddlebench.engine.errors import Where, input_problem
        from saddlebench.exchange.shop import read_stock
        from saddlebench.report.stock_label import label_pdf, label_png

        require_free(output, overwrite=overwrite)
        if output.suffix not in (".pdf", ".png"):
            message = "The label is a .pdf, the code alone a .png."
            raise typer.BadParameter(message, param_hint="--output")
        item = read_stock(stock).item(number)
        if item is None:
            what = f"there is no saddle {number}"
            raise input_problem(what, "Use a number of the table.", Where(file=str(stock), field="number"))
        output.write_bytes((label_pdf if output.suffix == ".pdf" else label_png)(item, site))
        if as_json:
            print_json("stock label", result={"written": str(output)})
        else:
            words().print(f"Written: {output}")


@app.command("rules")
def rules(
    practice: Annotated[str, typer.Option(help="Whose they are to be.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="A new file (TOML).")],
    version: Annotated[str, typer.Option("--version", help="Which version: a number or a day.")] = "1",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Write the weights, sizes and hard limits that saddles are chosen by, to be made your own.

    Change the file, give it another version, and pass it on with --choosing.

    \b
    Example:
      saddlebench stock rules --practice "Fernlea" -o fernlea.choosing.toml
    """
    with guarded("stock rules", as_json=as_json):
        from saddlebench.exchange.shop.rules import ChoosingRules, choosing_text

        require_free(output, overwrite=overwrite)
        output.write_text(choosing_text(ChoosingRules(), practice, version), encoding="utf-8")
        if as_json:
            print_json("stock rules", result={"written": str(output)})
        else:
            words().print(f"Written: {output}")


@app.command("invent")
def invent(
    folder: Annotated[Path, typer.Argument(help="A new folder.", readable=False)],
    count: Annotated[int, typer.Option("--count", "-n", help="How many saddles.", min=2, max=100_000)] = 500,
    seed: Annotated[int, typer.Option(help="The same seed gives the same stock.", min=0)] = 7,
    as_json: AsJson = False,
) -> None:
    """Write an invented stock: a table and its saddle records. No saddle in it exists.

    Two of them were made for the demo's wide cob.

    \b
    Example:
      saddlebench stock invent invented-shop -n 1000
    """
    with guarded("stock invent", as_json=as_json):
        from saddlebench.demo.stock_files import write_invented_stock
        from saddlebench.engine.errors import Where, input_problem

        if folder.exists() and any(folder.iterdir()):
            raise input_problem("is not empty", "Name a new folder.", Where(file=str(folder)))
        table = write_invented_stock(folder, count, seed)
        if as_json:
            print_json("stock invent", result={"written": str(table), "saddles": count})
        else:
            words().print(f"Written: {table}, {count} invented saddles")
