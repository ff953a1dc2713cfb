"""Commands that rebuild a back elsewhere, and prove the rebuild."""

import typer

from saddlebench.cli.replica.instrument import check, settings
from saddlebench.cli.replica.making import kit, ribs, solid, templates
from saddlebench.cli.replica.proof import prove

app = typer.Typer(
    no_args_is_help=True, help="Rebuild a back elsewhere: settings, templates, ribs, a solid; and prove it."
)
for command in (settings, check, templates, ribs, solid, prove, kit):
    app.command()(command)
