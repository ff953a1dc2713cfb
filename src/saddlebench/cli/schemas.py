"""The published JSON Schemas of every file the program reads or writes."""

import json
from typing import Annotated

import typer

from saddlebench.cli.console import results


def schema(
    name: Annotated[str, typer.Argument(help="Which file's schema; without a name they are listed.")] = "",
) -> None:
    """Print the JSON Schema of a file that the program reads or writes.

    \b
    Examples:
      saddlebench schema
      saddlebench schema instrument > instrument.schema.json
    """
    from saddlebench.exchange.schemas import SCHEMAS

    if not name:
        for key, made in SCHEMAS.items():
            results().print(f"{key:18} {made.about}")
        return
    if name not in SCHEMAS:
        message = f"“{name}” is not one of {', '.join(SCHEMAS)}."
        raise typer.BadParameter(message, param_hint="NAME")
    typer.echo(json.dumps(SCHEMAS[name].make(), ensure_ascii=False, indent=2))
