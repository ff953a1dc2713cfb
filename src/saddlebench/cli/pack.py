"""Handover packs from the command line: made, checked, taken, answered, fetched."""

import uuid as uuids
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    print_problems,
    progress,
    require_free,
    results,
    words,
)
from saddlebench.cli.pack_told import check_told, taken_told
from saddlebench.engine.errors import InputProblemsError, SaddlebenchError, input_problem

if TYPE_CHECKING:
    from saddlebench.practice.rules import Actor

HELP = """Hand records over to another practice, and take what another hands over.

A pack is one file: records, drawings, photos, signed with the practice's key. Anybody can read it; with --to
it is closed to all but the recipient. Send it by any means.
"""
app = typer.Typer(no_args_is_help=True, help=HELP, rich_markup_mode=None)
Home = Annotated[Path | None, typer.Option("--at", help="Data folder; else the usual one.", readable=False)]
Practice = Annotated[
    str, typer.Option("--practice", help="Name of the practice, where a folder holds several.")
]
PackFile = Annotated[Path, typer.Argument(help="A pack: a file, or its unpacked folder.", readable=False)]
Out = Annotated[Path, typer.Option("-o", "--output", help="Pack to write.", readable=False)]
To = Annotated[str, typer.Option("--to", help="Close it to this practice, by the name of its key here.")]
Several = list[str] | None
Backs = Annotated[Several, typer.Option("--back", help="Uuid of a back record; may be given again.")]
Studies = Annotated[
    Several, typer.Option("--fit-check", help="Uuid of a fit check, with what it was run on.")
]
Saddles = Annotated[Several, typer.Option("--saddle", help="Uuid of a saddle.")]
Horses = Annotated[Several, typer.Option("--horse", help="Uuid of a horse; what else of it is chosen apart.")]
Photos = Annotated[Several, typer.Option("--photo", help="Uuid of a photo or film; its place is never sent.")]
Plans = Annotated[Several, typer.Option("--plan", help="Uuid of an alteration plan, with its fit check.")]
Orders = Annotated[
    Several, typer.Option("--order", help="Uuid of a work order that was sent, with its plan.")
]
Visits = Annotated[
    Several, typer.Option("--visit", help="Uuid of a visit; nothing that is about people is sent.")
]
Changes = Annotated[
    Several, typer.Option("--change", help="Uuid of a change study, with the backs compared.")
]
Shortlists = Annotated[Several, typer.Option("--shortlist", help="Uuid of a shortlist of one horse.")]
Message = Annotated[str, typer.Option("--message", help="What to say with it.")]
Kit = Annotated[bool, typer.Option("--kit", help="Add everything to rebuild each back.")]
Instruments = Annotated[
    Several, typer.Option("--instrument", "-i", help="For --kit: instrument file or shipped name.")
]
Language_ = Annotated[str, typer.Option("--in", help="Language of drawings and reports: en or de.")]
Lengths_ = Annotated[str, typer.Option("--lengths", help="Lengths on drawings and reports: mm or in.")]
Plain = Annotated[bool, typer.Option("--records-only", help="No drawings and reports beside the records.")]
NamesPeople = Annotated[bool, typer.Option("--name-people", help="Say who recorded what.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Here:
    """The practice that a command works for."""

    home: Path
    actor: "Actor"


@contextmanager
def _practice(home: Path | None, practice: str) -> Iterator[Here]:
    """Yield the practice of a data folder; what it refuses becomes a problem."""
    from saddlebench.cli.records_at import owner_of
    from saddlebench.datafolder import data_folder, prepare_compiled_cache
    from saddlebench.practice.start import start

    folder = home or data_folder()
    if not folder.is_dir():
        raise input_problem(f"there is no folder {folder}", "Name the data folder: --at.")  # noqa: EM102
    start(folder)
    prepare_compiled_cache()
    try:
        yield Here(home=folder, actor=owner_of(folder, practice))
    except InputProblemsError:
        raise
    except SaddlebenchError as error:
        what, _, cure = str(error).partition(". ")
        raise input_problem(what.removesuffix("."), cure or "Look at what was given.") from error


def _uuids(given: Several, option: str) -> tuple[uuids.UUID, ...]:
    try:
        return tuple(uuids.UUID(one) for one in given or ())
    except ValueError:
        raise typer.BadParameter("This is no uuid.", param_hint=option) from None


@app.command()
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
    with guarded("pack key", as_json=as_json), _practice(home, practice) as here:
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


@app.command()
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
    with guarded("pack trust", as_json=as_json), _practice(home, practice) as here:
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


@app.command()
def make(
    out: Out,
    backs: Backs = None,
    studies: Studies = None,
    saddles: Saddles = None,
    horses: Horses = None,
    plans: Plans = None,
    orders: Orders = None,
    visits: Visits = None,
    changes: Changes = None,
    shortlists: Shortlists = None,
    photos: Photos = None,
    message: Message = "",
    to: To = "",
    kit: Kit = False,
    instruments: Instruments = None,
    records_only: Plain = False,
    language: Language_ = "en",
    lengths: Lengths_ = "mm",
    name_people: NamesPeople = False,
    home: Home = None,
    practice: Practice = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a pack of what is chosen; owners and addresses are never in it.

    \b
    Examples:
      saddlebench pack make --fit-check 1f6c… --photo 7d21… -o juniper.zip
      saddlebench pack make --back 1f6c… --kit -i my-comb.toml --to "Gorse Saddlery" -o juniper.zip.age
    """
    choice = {
        "backs": _uuids(backs, "--back"),
        "studies": _uuids(studies, "--fit-check"),
        "saddles": _uuids(saddles, "--saddle"),
        "horses": _uuids(horses, "--horse"),
        "plans": _uuids(plans, "--plan"),
        "orders": _uuids(orders, "--order"),
        "visits": _uuids(visits, "--visit"),
        "changes": _uuids(changes, "--change"),
        "shortlists": _uuids(shortlists, "--shortlist"),
        "photos": _uuids(photos, "--photo"),
        "message": message,
        "names_people": name_people,
    }
    with guarded("pack make", as_json=as_json):
        require_free(out, overwrite=overwrite)
        with _practice(home, practice) as here:
            wants = _wants(
                kit=kit,
                records_only=records_only,
                instruments=instruments,
                read=(language, lengths),
            )
            _make("pack make", here, choice, wants, to, out, as_json=as_json)


@app.command()
def answer(
    pack: Annotated[
        str, typer.Argument(help="Uuid of the pack that is answered, as `pack take` printed it.")
    ],
    out: Out,
    done: Annotated[Several, typer.Option("--done", help="What was done; may be given again.")] = None,
    questions: Annotated[Several, typer.Option("--question", help="What to ask; may be given again.")] = None,
    backs: Backs = None,
    studies: Studies = None,
    saddles: Saddles = None,
    plans: Plans = None,
    orders: Orders = None,
    visits: Visits = None,
    changes: Changes = None,
    shortlists: Shortlists = None,
    photos: Photos = None,
    message: Message = "",
    to: To = "",
    records_only: Plain = False,
    language: Language_ = "en",
    lengths: Lengths_ = "mm",
    name_people: NamesPeople = False,
    home: Home = None,
    practice: Practice = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Answer a pack that was taken: what was done, what is asked, and records of one's own.

    \b
    Example:
      saddlebench pack answer 5a0e… --done "Flock evened in front" --fit-check 1f6c… -o answer.zip
    """
    (named,) = _uuids([pack], "PACK")
    chosen = {
        "backs": _uuids(backs, "--back"),
        "studies": _uuids(studies, "--fit-check"),
        "saddles": _uuids(saddles, "--saddle"),
        "plans": _uuids(plans, "--plan"),
        "orders": _uuids(orders, "--order"),
        "visits": _uuids(visits, "--visit"),
        "changes": _uuids(changes, "--change"),
        "shortlists": _uuids(shortlists, "--shortlist"),
        "photos": _uuids(photos, "--photo"),
        "message": message,
        "names_people": name_people,
        "questions": tuple(questions or ()),
    }
    with guarded("pack answer", as_json=as_json):
        require_free(out, overwrite=overwrite)
        with _practice(home, practice) as here:
            from django.utils import timezone

            from saddlebench.practice.handover.gathering import WorkDone
            from saddlebench.practice.queries.packs import taken_pack

            today = timezone.localdate()
            work = tuple(WorkDone(on=today, words=one) for one in done or ())
            answered = taken_pack(here.actor, named).pack_uuid
            choice = {**chosen, "answers": answered, "work_done": work}
            wants = _wants(kit=False, records_only=records_only, instruments=None, read=(language, lengths))
            _make("pack answer", here, choice, wants, to, out, as_json=as_json)


def _wants(*, kit: bool, records_only: bool, instruments: Several, read: tuple[str, str]) -> Any:
    from saddlebench.exchange.instruments import example_instrument, read_instrument
    from saddlebench.report.handover import Wants

    tools = tuple(
        read_instrument(Path(name)) if name.endswith((".toml", ".json")) else example_instrument(name)
        for name in instruments or ()
    )
    return Wants(
        drawings=not records_only,
        reports=not records_only,
        kit=kit,
        instruments=tools,
        reader=_reader(*read),
    )


def _reader(language: str, lengths: str) -> Any:
    from saddlebench.engine.units import Length
    from saddlebench.exchange.readers import Language, Reader

    known = (("--in", language, list(Language)), ("--lengths", lengths, [Length.MM, Length.INCH]))
    for option, given, kinds in known:
        if given not in kinds:
            message = f"“{given}” is not one of {', '.join(kinds)}."
            raise typer.BadParameter(message, param_hint=option)
    return Reader(language=Language(language), length=Length(lengths))


def _make(
    command: str, here: Here, choice: dict[str, Any], wants: Any, to: str, out: Path, *, as_json: bool
) -> None:
    import shutil

    from saddlebench.practice.handover.gathering import PackChoice
    from saddlebench.practice.handover.sending import pack_file
    from saddlebench.practice.queries.packs import partners
    from saddlebench.report.handover import hand_over

    known = {one.label: one.uuid for one in partners(here.actor) if one.ended_at is None}
    if to and to not in known:
        names = ", ".join(f"“{name}”" for name in known) or "none yet"
        what = f"there is no trusted key of “{to}”; there are: {names}"
        raise input_problem(what, "Trust it first: saddlebench pack trust.")
    with progress(quiet=as_json) as show:
        made = hand_over(
            here.actor, PackChoice(**choice), here.home, wants, recipient=known.get(to), told=show
        )
    draft = out.with_name(f".{out.name}.part")
    shutil.copyfile(pack_file(here.home, made.pack.uuid), draft)
    draft.chmod(0o600)
    draft.replace(out)
    if as_json:
        result = {
            "written": str(out),
            "pack": str(made.pack.uuid),
            "sha256": made.pack.sha256,
            "closed": made.pack.is_sealed,
            "holds": made.pack.holds,
        }
        print_json(command, result=result, problems=made.problems)
        return
    print_problems(made.problems)
    results().print(str(out), soft_wrap=True)
    closed = f"closed to {to}" if to else "open: whoever has it can read it"
    words().print(f"{made.pack.size_bytes / 1e6:.1f} MB, signed, {closed}. Send it by any means.")


@app.command()
def check(file: PackFile, home: Home = None, practice: Practice = "", as_json: AsJson = False) -> None:
    """Verify a pack and say what taking it would change; nothing is written.

    \b
    Example:
      saddlebench pack check juniper.zip
    """
    with guarded("pack check", as_json=as_json), _practice(home, practice) as here:
        from saddlebench.exchange.packs import opened_pack
        from saddlebench.practice.handover.comparing import compare
        from saddlebench.practice.handover.keys import keys_to_open

        with opened_pack(file, keys_to_open(here.actor, here.home)) as pack:
            check_told(compare(here.actor, pack), as_json=as_json)


@app.command()
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
    named = _uuids([one for one, _, _ in pairs], "--same")
    here_named = _uuids([one for _, _, one in pairs], "--same")
    decided = {**dict(zip(named, here_named, strict=True)), **dict.fromkeys(_uuids(other, "--another"))}
    with guarded("pack take", as_json=as_json), _practice(home, practice) as here:
        from saddlebench.exchange.packs import opened_pack
        from saddlebench.practice.handover.deciding import TakeChoices
        from saddlebench.practice.handover.keys import keys_to_open
        from saddlebench.practice.handover.taking import take_pack

        choices = TakeChoices(
            trusts_key=trust_key,
            trusts_changed_key=trust_changed,
            same_as=decided,
            further_versions=frozenset(_uuids(further, "--further")),
        )
        with opened_pack(file, keys_to_open(here.actor, here.home)) as pack:
            taken_told(take_pack(here.actor, pack, choices, here.home), here.actor, as_json=as_json)


@app.command()
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
