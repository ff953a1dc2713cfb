"""The instruments that come with the program."""

from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, guarded, print_json, results


def instruments(
    name: Annotated[str, typer.Argument(help="Print this instrument's description.")] = "",
    as_json: AsJson = False,
) -> None:
    """List the instruments that come with the program, or print one as a start for your own.

    \b
    Examples:
      saddlebench instruments
      saddlebench instruments comb-41x10 > my-comb.toml
    """
    with guarded("instruments", as_json=as_json):
        from saddlebench.exchange.instruments import example_instrument, example_names, example_text

        if name:
            text = example_text(name)
            if as_json:
                print_json("instruments", result={"name": name, "toml": text})
            else:
                typer.echo(text, nl=False)
            return
        listed = {key: example_instrument(key).name for key in example_names()}
        if as_json:
            print_json("instruments", result=listed)
            return
        for key, words in listed.items():
            results().print(f"{key:18} {words}")
