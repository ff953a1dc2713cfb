"""Keeping: backups, restoring, proving, and leaving with everything."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, results, words
from saddlebench.engine.errors import input_problem

if TYPE_CHECKING:
    from saddlebench.practice.keeping.backup import Proof

app = typer.Typer(
    no_args_is_help=True, help="Back up, restore, prove, and leave with everything.", rich_markup_mode=None
)
BackupFile = Annotated[
    Path, typer.Argument(help="A backup made by `saddlebench keep backup`, or a daily one.")
]


@app.command()
def backup(
    into: Annotated[
        Path | None, typer.Option("--into", help="Folder for the backup, such as a stick's.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Make a verified backup of records and files, while the pages are in use.

    \b
    Example:
      saddlebench keep backup --into /media/stick
    """
    with guarded("keep backup", as_json=as_json):
        from saddlebench.practice.start import set_up

        home = set_up()
        from saddlebench.practice.keeping.backup import back_up

        made = back_up(home, now=datetime.now(UTC), folder=into)
        if as_json:
            print_json("keep backup", result={"file": str(made.path), "made_at": made.made_at.isoformat()})
            return
        results().print(str(made.path), soft_wrap=True)
        words().print("Made and read back: every byte is as the records are.")


@app.command("list")
def list_backups(as_json: AsJson = False) -> None:
    """List the backups of the data folder, the newest first."""
    with guarded("keep list", as_json=as_json):
        from saddlebench.practice.start import set_up

        home = set_up()
        from saddlebench.practice.keeping.backup import backups_in

        found = backups_in(home)
        if as_json:
            rows = [{"file": str(b.path), "kind": b.kind, "made_at": b.made_at.isoformat()} for b in found]
            print_json("keep list", result=rows)
            return
        for one in found:
            results().print(f"{one.made_at:%Y-%m-%d %H:%M} UTC  {one.kind:8} {one.path}", soft_wrap=True)
        if not found:
            words().print("No backup yet. Make one: saddlebench keep backup")


@app.command()
def prove(file: BackupFile, as_json: AsJson = False) -> None:
    """Prove a backup: restore it into a throw-away folder and compare every table and file.

    \b
    Example:
      saddlebench keep prove saddlebench-daily-20260514T180000Z-1a2b.zip
    """
    with guarded("keep prove", as_json=as_json):
        import tempfile

        from saddlebench.practice.start import set_up

        set_up()
        from saddlebench.practice.keeping.backup import restore as restore_backup

        with tempfile.TemporaryDirectory(prefix="saddlebench-prove-") as scratch:
            proof = restore_backup(_there(file), Path(scratch) / "restored")
        _tell("keep prove", file, None, proof, as_json=as_json)


@app.command()
def restore(
    file: BackupFile,
    into: Annotated[Path | None, typer.Argument(help="Folder to restore into; must not exist yet.")] = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="Put it in the place of the data folder, which is kept beside it."),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Restore a backup into a new folder and prove it equal; with --replace, go on working with it.

    \b
    Examples:
      saddlebench keep restore saddlebench-daily-20260514T180000Z-1a2b.zip looked-at
      saddlebench keep restore saddlebench-daily-20260514T180000Z-1a2b.zip --replace
    """
    with guarded("keep restore", as_json=as_json):
        if (into is None) != replace:
            raise input_problem("it is not said where to restore to", "Name a new folder, or add --replace.")
        from saddlebench.practice.start import set_up

        home = set_up()
        from django.db import connections

        from saddlebench.practice.keeping.backup import restore as restore_backup
        from saddlebench.practice.keeping.backup import swap_in

        target = into or home.with_name(f"{home.name}.restored")
        proof = restore_backup(_there(file), target)
        if replace:
            connections.close_all()
            old = swap_in(target, home, now=datetime.now(UTC))
            words().print(f"The folder as it was is kept: {old}")
        _tell("keep restore", file, home if replace else target, proof, as_json=as_json)


@app.command()
def leave(
    file: Annotated[Path, typer.Argument(help="Archive to write, such as everything.zip.")],
    practice: Annotated[
        str, typer.Option("--practice", help="Name of the practice, where the folder holds several.")
    ] = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Write everything a practice has into one archive of open formats: JSON, CSV, vCard, pictures.

    \b
    Example:
      saddlebench keep leave everything.zip
    """
    with guarded("keep leave", as_json=as_json):
        require_free(file, overwrite=overwrite)
        from saddlebench.practice.start import set_up, start

        home = set_up()
        start(home)
        from saddlebench.practice.crossing.leaving import leave as write_everything
        from saddlebench.practice.queries.standing import owners

        found = [one for one in owners() if not practice or one.practice == practice]
        if len(found) != 1:
            names = ", ".join(f"“{one.practice}”" for one in owners()) or "none"
            what = f"the folder holds these practices: {names}"
            raise input_problem(what, "Name one: --practice “…”.")
        manifest = write_everything(found[0].actor, file, home)
        if as_json:
            print_json("keep leave", result={"file": str(file), "files": len(manifest.files)})
            return
        results().print(str(file), soft_wrap=True)
        count = len(manifest.files)
        words().print(f"{count} files, read back and as they should be; READ-ME.txt says what is what.")


def _there(file: Path) -> Path:
    if not file.is_file():
        raise input_problem(f"{file} is not there", "Name a backup; list them: saddlebench keep list")  # noqa: EM102
    return file


def _tell(command: str, file: Path, target: Path | None, proof: "Proof", *, as_json: bool) -> None:
    if as_json:
        result = {
            "file": str(file),
            "restored_into": None if target is None else str(target),
            "tables": proof.tables,
            "rows": proof.rows,
            "files": proof.files,
        }
        print_json(command, result=result)
        return
    where = f" in {target}" if target else ""
    results().print(
        f"Equal{where}: {proof.rows} rows of {proof.tables} tables, {proof.files} files.", soft_wrap=True
    )
