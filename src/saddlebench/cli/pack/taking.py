"""A pack of another practice: fetched, verified, taken."""

from typing import Annotated

import typer

from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    progress,
    require_free,
    results,
    words,
)
from saddlebench.cli.pack.asked import Home, Out, PackFile, Practice, Several, practice_of, uuids_of
from saddlebench.cli.pack.told import check_told, taken_told


def check(file: PackFile, home: Home = None, practice: Practice = "", as_json: AsJson = False) -> None:
    """Verify a pack and say what taking it would change; nothing is written.

    \b
    Example:
      saddlebench pack check juniper.zip
    """
    with guarded("pack check", as_json=as_json), practice_of(home, practice) as here:
        from saddlebench.exchange.packs import opened_pack
        from saddlebench.practice.handover.comparing import compare
        from saddlebench.practice.handover.keys import keys_to_open

        with opened_pack(file, keys_to_open(here.actor, here.home)) as pack:
            check_told(compare(here.actor, pack), as_json=as_json)


def take(
    file: PackFile,
    trust_key: Annotated[
        bool, typer.Option("--trust", help="The sender's key is new here, and its fingerprint was compared.")
    ] = False,
    trust_changed: Annotated[
        bool,
        typer.Option(
            "--trust-changed-key", help="The sender's key is another than before, and was compared."
        ),
    ] = False,
    same: Annotated[
        Several, typer.Option("--same", help="PACK-UUID=UUID-HERE: this horse or saddle is that one here.")
    ] = None,
    other: Annotated[
        Several, typer.Option("--another", help="PACK-UUID: this horse or saddle is none of those here.")
    ] = None,
    further: Annotated[
        Several, typer.Option("--further", help="PACK-UUID: take theirs as a further version.")
    ] = None,
    home: Home = None,
    practice: Practice = "",
    as_json: AsJson = False,
) -> None:
    """Verify a pack and take it: all of it or nothing, each record once, with where it came from.

    \b
    Example:
      saddlebench pack take juniper.zip --trust
    """
    pairs = [one.partition("=") for one in same or ()]
    named = uuids_of([one for one, _, _ in pairs], "--same")
    here_named = uuids_of([one for _, _, one in pairs], "--same")
    decided = {**dict(zip(named, here_named, strict=True)), **dict.fromkeys(uuids_of(other, "--another"))}
    with guarded("pack take", as_json=as_json), practice_of(home, practice) as here:
        from saddlebench.exchange.packs import opened_pack
        from saddlebench.practice.handover.deciding import TakeChoices
        from saddlebench.practice.handover.keys import keys_to_open
        from saddlebench.practice.handover.taking import take_pack

        choices = TakeChoices(
            trusts_key=trust_key,
            trusts_changed_key=trust_changed,
            same_as=decided,
            further_versions=frozenset(uuids_of(further, "--further")),
        )
        with opened_pack(file, keys_to_open(here.actor, here.home)) as pack:
            taken_told(take_pack(here.actor, pack, choices, here.home), here.actor, as_json=as_json)


def fetch(
    link: Annotated[str, typer.Argument(help="The link that the sender gave.")],
    out: Out,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Fetch a pack by a link from another practice's server; broken off, it goes on where it was.

    \b
    Example:
      saddlebench pack fetch https://their-server.example/handover/Xy3… -o juniper.zip
    """
    with guarded("pack fetch", as_json=as_json):
        require_free(out, overwrite=overwrite)
        from saddlebench.exchange.packs.fetching import fetch_pack

        with progress(quiet=as_json) as show:
            size = fetch_pack(link, out, told=lambda got, of: show("fetched", got >> 10, of >> 10, "kB"))
        if as_json:
            print_json("pack fetch", result={"written": str(out), "bytes": size})
            return
        results().print(str(out), soft_wrap=True)
        words().print("Nothing of it is believed yet: saddlebench pack check.")
