"""Handover packs from the command line: made, checked, taken, answered, fetched."""

import typer

from saddlebench.cli.pack.keys import key, trust
from saddlebench.cli.pack.making import answer, make
from saddlebench.cli.pack.taking import check, fetch, take

HELP = """Hand records over to another practice, and take what another hands over.

A pack is one file: records, drawings, photos, signed with the practice's key. Anybody can read it; with --to
it is closed to all but the recipient. Send it by any means.
"""
app = typer.Typer(no_args_is_help=True, help=HELP, rich_markup_mode=None)
for command in (key, trust, make, answer, check, take, fetch):
    app.command()(command)
