"""The commands, gathered."""

import typer

app = typer.Typer(no_args_is_help=True, help="Measure a horse's back, judge a saddle on it.")
