"""A practice's records from the command line: in a data folder, or with a server."""

from pathlib import Path
from typing import Annotated, Any

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, results, words
from saddlebench.cli.records_at import TOKEN, TOKEN_FILE, records_at
from saddlebench.cli.records_kinds import Kind, facts_of, print_found, print_list, record_of
from saddlebench.engine.errors import input_problem

HELP = f"""Look at, fetch and bring a practice's records: in a data folder, or with a server.

Without --at the usual data folder is meant. With a server's address (--at https://host:port) a token is
wanted: in a file that only you can read, named by --token-file or {TOKEN_FILE}; or in the
variable {TOKEN}. It is never given among a command's words: others on this machine could read it there.
"""
app = typer.Typer(no_args_is_help=True, help=HELP, rich_markup_mode=None)
At = Annotated[
    str, typer.Option("--at", envvar="SADDLEBENCH_AT", help="A data folder, or a server's address.")
]
TokenFile = Annotated[
    Path | None, typer.Option("--token-file", help="File with the token; only its owner may read it.")
]
Practice = Annotated[
    str, typer.Option("--practice", help="Name of the practice, where a folder holds several.")
]
OfKind = Annotated[Kind, typer.Argument(help="Kind of record.")]
Named = Annotated[str, typer.Argument(help="The record's uuid, as lists show it.")]
Page = Annotated[int, typer.Option("--page", min=1, help="Fifty rows a page.")]


@app.command("list")
def list_records(
    kind: OfKind,
    horse: Annotated[str, typer.Option("--horse", help="Only this horse's.")] = "",
    saddle: Annotated[str, typer.Option("--saddle", help="Only this saddle's.")] = "",
    visit: Annotated[str, typer.Option("--visit", help="Only this visit's.")] = "",
    page: Page = 1,
    at: At = "",
    token_file: TokenFile = None,
    practice: Practice = "",
    as_json: AsJson = False,
) -> None:
    """List records of a kind.

    \b
    Examples:
      saddlebench records list horses
      saddlebench records list backs --horse 1f6c… --at https://laptop.local:8642 --token-file token
    """
    with guarded("records list", as_json=as_json), records_at(at, token_file, practice) as held:
        narrowed = {"horse": horse, "saddle": saddle, "visit": visit}
        for name, given in narrowed.items():
            if given and name not in kind.narrowed_by:
                raise input_problem(f"{kind.value} are not listed by {name}", "Leave it out.")  # noqa: EM102
        found = held.get(kind.value, {**narrowed, "page": page})
        if as_json:
            print_json("records list", result={"kind": kind.value, **found})
            return
        print_list(kind, found)


@app.command()
def find(
    text: Annotated[str, typer.Argument(help="Any part of anything: a name, a number, a place.")],
    at: At = "",
    token_file: TokenFile = None,
    practice: Practice = "",
    as_json: AsJson = False,
) -> None:
    """Find horses, saddles, people and yards by any part of anything."""
    with guarded("records find", as_json=as_json), records_at(at, token_file, practice) as held:
        found = held.get("search", {"q": text})
        if as_json:
            print_json("records find", result=found)
            return
        print_found(found)


@app.command()
def show(
    kind: OfKind,
    uuid: Named,
    at: At = "",
    token_file: TokenFile = None,
    practice: Practice = "",
    as_json: AsJson = False,
) -> None:
    """Show one record."""
    with guarded("records show", as_json=as_json), records_at(at, token_file, practice) as held:
        found = held.get(f"{kind.value}/{_uuid(uuid)}")
        if as_json:
            print_json("records show", result={"kind": kind.value, "record": found})
            return
        facts_of(found)


@app.command()
def get(
    kind: OfKind,
    uuid: Named,
    out: Annotated[Path, typer.Option("-o", "--out", help="File to write.")],
    version: Annotated[
        int | None, typer.Option("--version", min=1, help="Of a back, saddle or fit check; else the current.")
    ] = None,
    at: At = "",
    token_file: TokenFile = None,
    practice: Practice = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Fetch a record into a file: measured records and photos byte for byte, others as `put` takes them.

    \b
    Examples:
      saddlebench records get backs 1f6c… -o juniper.back.json
      saddlebench records get horses 1f6c… -o juniper.json
    """
    with guarded("records get", as_json=as_json):
        require_free(out, overwrite=overwrite)
        from saddlebench.exchange.whole_file import write_whole

        with records_at(at, token_file, practice) as held:
            write_whole(out, record_of(held, kind, _uuid(uuid), version))
        if as_json:
            print_json("records get", result={"written": str(out)})
            return
        results().print(str(out), soft_wrap=True)


@app.command()
def put(
    kind: OfKind,
    file: Annotated[Path, typer.Argument(help="Record file, photo, or values as `get` writes them.")],
    of: Annotated[
        str, typer.Option("--of", help="The back or saddle that this is a further version of.")
    ] = "",
    horse: Annotated[str, typer.Option("--horse", help="Whose back or photo it is.")] = "",
    saddle: Annotated[str, typer.Option("--saddle", help="Whose photo it is.")] = "",
    visit: Annotated[str, typer.Option("--visit", help="At which visit.")] = "",
    why: Annotated[str, typer.Option("--why", help="Why a version was corrected or measured again.")] = "",
    shot: Annotated[str, typer.Option("--shot", help="Which shot of the list a photo is.")] = "",
    seen: Annotated[
        int | None, typer.Option("--seen", min=0, help="The version this one follows; else the current.")
    ] = None,
    at: At = "",
    token_file: TokenFile = None,
    practice: Practice = "",
    as_json: AsJson = False,
) -> None:
    """Bring a record, new or changed; the same file twice is one. A fit check is asked for and awaited.

    \b
    Examples:
      saddlebench records put horses juniper.json
      saddlebench records put backs juniper.back.json --horse 1f6c…
      saddlebench records put saddles brown.saddle.json --of 77ab… --why "measured again"
      saddlebench records put photos near-side.jpg --visit 90aa…
      saddlebench records put studies question.json
    """
    with guarded("records put", as_json=as_json):
        from saddlebench.cli.records_put import Given, bring

        given = Given(
            of=_uuid(of) if of else "",
            horse=_uuid(horse) if horse else "",
            saddle=_uuid(saddle) if saddle else "",
            visit=_uuid(visit) if visit else "",
            why=why,
            shot=shot,
            seen=seen,
            quiet=as_json,
        )
        with records_at(at, token_file, practice) as held:
            made: dict[str, Any] = bring(held, kind, file, given)
        if as_json:
            print_json("records put", result={"kind": kind.value, **made})
            return
        results().print(made["uuid"], soft_wrap=True)
        words().print(made["said"])


@app.command("read-phone")
def read_phone(
    file: Annotated[Path, typer.Argument(help="The file that the phone saved: saddlebench-unsent-….jsonl.")],
    at: At = "",
    token_file: TokenFile = None,
    practice: Practice = "",
    as_json: AsJson = False,
) -> None:
    """Read in what a phone kept and could not send; read twice, or sent meanwhile, it counts once.

    \b
    Example:
      saddlebench records read-phone saddlebench-unsent-2026-03-02-1710.jsonl
    """
    with guarded("records read-phone", as_json=as_json):
        content = file.read_bytes()
        with records_at(at, token_file, practice) as held:
            found: dict[str, Any] = held.send("POST", "phone/unsent", content=content)
        if as_json:
            print_json("records read-phone", result=found)
            return
        results().print(f"{found['entries']} entries and {found['photos']} photos of the file are here.")
        for one in found["held"]:
            words().print(
                f"! {one['field']}: {one['by']} entered “{one['theirs']}” meanwhile; yours is kept beside it."
            )
        for one in found["problems"]:
            words().print(f"✕ {one['where']}: {one['what']}. {one['cure']}")


def _uuid(text: str) -> str:
    from uuid import UUID

    try:
        return str(UUID(text))
    except ValueError:
        what = f"“{text[:40]}” is no record's uuid"
        raise input_problem(what, "Copy it from a list: saddlebench records list …") from None
