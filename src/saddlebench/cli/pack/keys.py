"""The practice's own key, and the keys of others."""

from pathlib import Path
from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, results, words
from saddlebench.cli.pack.asked import Home, Practice, practice_of
from saddlebench.engine.errors import input_problem


def key(
    out: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Also write it as a QR code (SVG or PNG).", readable=False),
    ] = None,
    home: Home = None,
    practice: Practice = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Show the practice's own key line and its fingerprint, to be read out over the telephone.

    \b
    Example:
      saddlebench pack key -o our-key.svg
    """
    with guarded("pack key", as_json=as_json), practice_of(home, practice) as here:
        from saddlebench.practice.handover.keys import own_key

        public = own_key(here.actor, here.home).public
        if out is not None:
            require_free(out, overwrite=overwrite)
            import segno

            segno.make(public.line, error="m").save(str(out), scale=4, border=4)
        if as_json:
            print_json("pack key", result={"line": public.line, "fingerprint": public.fingerprint})
            return
        results().print(public.line, soft_wrap=True)
        words().print(f"Fingerprint, to compare over the telephone: {public.fingerprint}")


def trust(
    line: Annotated[str, typer.Argument(help="The other practice's key line.")],
    name: Annotated[str, typer.Option("--name", help="Whose it is.")],
    fingerprint: Annotated[
        str, typer.Option("--fingerprint", help="As they read it out: thirty digits, blanks do not matter.")
    ],
    home: Home = None,
    practice: Practice = "",
    as_json: AsJson = False,
) -> None:
    """Trust another practice's key after comparing its fingerprint.

    \b
    Example:
      saddlebench pack trust SADDLEBENCH-KEY:1:… --name "Gorse Saddlery" --fingerprint "12345 67890 …"
    """
    with guarded("pack trust", as_json=as_json), practice_of(home, practice) as here:
        from saddlebench.exchange.packs import parse_key_line
        from saddlebench.practice.handover.keys import trust_key

        found = parse_key_line(line).fingerprint
        if "".join(fingerprint.split()) != "".join(found.split()):
            what = f"the line's fingerprint is {found}, not what was read out"
            raise input_problem(what, "Do not trust it: ask them to send the line again.")
        held = trust_key(here.actor, line, name)
        if as_json:
            result = {"uuid": str(held.uuid), "name": held.label, "fingerprint": held.fingerprint}
            print_json("pack trust", result=result)
            return
        words().print(f"Trusted: {held.label}, {held.fingerprint}")
