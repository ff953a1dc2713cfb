"""The commands, gathered."""

from typing import Annotated

import typer

from saddlebench import __version__
from saddlebench.cli import (
    back,
    doctor,
    instruments,
    keep,
    pack,
    records,
    repeat,
    replica,
    saddle,
    schemas,
    show,
    stock,
    trace,
)
from saddlebench.cli.alter import alter
from saddlebench.cli.change import change
from saddlebench.cli.demo import demo
from saddlebench.cli.doubt import doubt
from saddlebench.cli.draw import draw
from saddlebench.cli.fit import fit
from saddlebench.cli.order import order
from saddlebench.cli.report import report
from saddlebench.cli.season import season
from saddlebench.cli.serve import serve
from saddlebench.cli.shortlist import shortlist
from saddlebench.cli.trend import trend
from saddlebench.cli.yard_card import yard_card

HELP = """Measure a horse's back, judge a saddle on it, and say how sure that is.

\b
The main job, from a fitter's files to findings:
  saddlebench back table readings.csv --sheet bramble.toml -o bramble.back.json
  saddlebench saddle file rowan.toml -o rowan.saddle.json
  saddlebench fit bramble.back.json rowan.saddle.json --rider 70 -o bramble.fit.json
  saddlebench draw bramble.fit.json -o pictures
  saddlebench report bramble.fit.json -o bramble.pdf

\b
What to do about it:
  saddlebench alter bramble.back.json rowan.saddle.json --rider 70 -o rowan.plan.json
  saddlebench order rowan.plan.json rowan.saddle.json --number 17 --pdf order.pdf

\b
The practice's pages:
  saddlebench serve           on this machine
  saddlebench serve --phone   for the phone too
  saddlebench keep            backups, restoring, leaving with everything

\b
On an invented yard:
  saddlebench demo            the job on files
  saddlebench serve --demo    the pages

A screening aid, not a diagnosis. Pain, lameness, wounds or sudden change: the veterinary surgeon first. A
qualified fitter's ridden assessment completes it; local law and professional codes come first.

Exit status: 0 done (a finding "not right" is a result), 1 what was given is wrong (and the message says
where), 2 the command was called wrongly, 3 the program itself failed.
"""

app = typer.Typer(no_args_is_help=True, help=HELP, rich_markup_mode=None, pretty_exceptions_enable=False)
app.add_typer(back.app, name="back")
app.add_typer(trace.app, name="trace")
app.add_typer(saddle.app, name="saddle")
app.command("fit")(fit)
app.command("alter")(alter)
app.command("order")(order)
app.command("change")(change)
app.add_typer(repeat.app, name="repeat")
app.command("trend")(trend)
app.command("doubt")(doubt)
app.add_typer(stock.app, name="stock")
app.command("shortlist")(shortlist)
app.command("season")(season)
app.command("show")(show.show)
app.command("draw")(draw)
app.command("report")(report)
app.add_typer(replica.app, name="replica")
app.command("export")(show.export)
app.command("yard-card")(yard_card)
app.command("instruments")(instruments.instruments)
app.command("schema")(schemas.schema)
app.command("demo")(demo)
app.command("serve")(serve)
app.add_typer(keep.app, name="keep")
app.add_typer(records.app, name="records")
app.add_typer(pack.app, name="pack")
app.command("doctor")(doctor.doctor)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"saddlebench {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Hold what goes before a command."""
