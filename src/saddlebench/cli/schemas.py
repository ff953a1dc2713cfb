"""The published JSON Schemas of every file the program reads or writes."""

import json
from typing import Annotated

import typer

from saddlebench.cli.console import results
from saddlebench.cli.stated import one_of


def schema(
    name: Annotated[str, typer.Argument(help="Which file's schema; without a name they are listed.")] = "",
) -> None:
    """Print the JSON Schema of a file that the program reads or writes.

    \b
    Examples:
      saddlebench schema
      saddlebench schema instrument > instrument.schema.json
    """
    from saddlebench.cli.output_schema import output_schema
    from saddlebench.exchange.schemas import SCHEMAS, Published

    own = Published(about="what commands print with --json", file="", make=output_schema)
    known = {**SCHEMAS, "command-output": own}
    if not name:
        for key, made in known.items():
            results().print(f"{key:18} {made.about}")
        return
    typer.echo(json.dumps(known[one_of(name, known, "NAME")].make(), ensure_ascii=False, indent=2))
