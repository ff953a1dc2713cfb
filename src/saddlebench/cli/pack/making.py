"""A pack of one's own: made of what is chosen, or as the answer to one that was taken."""

from pathlib import Path
from typing import Annotated, Any

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
from saddlebench.cli.pack.asked import (
    Backs,
    Changes,
    Here,
    Home,
    Horses,
    In,
    Instruments,
    Kit,
    Lengths,
    Message,
    NamesPeople,
    Orders,
    Out,
    Photos,
    Plans,
    Practice,
    RecordsOnly,
    Saddles,
    Several,
    Shortlists,
    Studies,
    To,
    Visits,
    practice_of,
    uuids_of,
)
from saddlebench.cli.stated import instrument_named, reader_named
from saddlebench.engine.errors import input_problem

_OPTIONS = {
    "backs": "--back",
    "studies": "--fit-check",
    "saddles": "--saddle",
    "horses": "--horse",
    "plans": "--plan",
    "orders": "--order",
    "visits": "--visit",
    "changes": "--change",
    "shortlists": "--shortlist",
    "photos": "--photo",
}
"""What names records of a kind."""


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
    records_only: RecordsOnly = False,
    language: In = "en",
    lengths: Lengths = "mm",
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
        **_records(
            backs=backs,
            studies=studies,
            saddles=saddles,
            horses=horses,
            plans=plans,
            orders=orders,
            visits=visits,
            changes=changes,
            shortlists=shortlists,
            photos=photos,
        ),
        "message": message,
        "names_people": name_people,
    }
    with guarded("pack make", as_json=as_json):
        require_free(out, overwrite=overwrite)
        with practice_of(home, practice) as here:
            wants = _wants(
                kit=kit,
                records_only=records_only,
                instruments=instruments,
                read=(language, lengths),
            )
            _make("pack make", here, choice, wants, to, out, as_json=as_json)


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
    records_only: RecordsOnly = False,
    language: In = "en",
    lengths: Lengths = "mm",
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
    (named,) = uuids_of([pack], "PACK")
    chosen = {
        **_records(
            backs=backs,
            studies=studies,
            saddles=saddles,
            plans=plans,
            orders=orders,
            visits=visits,
            changes=changes,
            shortlists=shortlists,
            photos=photos,
        ),
        "message": message,
        "names_people": name_people,
        "questions": tuple(questions or ()),
    }
    with guarded("pack answer", as_json=as_json):
        require_free(out, overwrite=overwrite)
        with practice_of(home, practice) as here:
            from django.utils import timezone

            from saddlebench.practice.handover.choice import WorkDone
            from saddlebench.practice.queries.packs import taken_pack

            today = timezone.localdate()
            work = tuple(WorkDone(on=today, words=one) for one in done or ())
            answered = taken_pack(here.actor, named).pack_uuid
            choice = {**chosen, "answers": answered, "work_done": work}
            wants = _wants(kit=False, records_only=records_only, instruments=None, read=(language, lengths))
            _make("pack answer", here, choice, wants, to, out, as_json=as_json)


def _records(**named: Several) -> dict[str, Any]:
    return {kind: uuids_of(given, _OPTIONS[kind]) for kind, given in named.items()}


def _wants(*, kit: bool, records_only: bool, instruments: Several, read: tuple[str, str]) -> Any:
    from saddlebench.report.handover import Wants

    return Wants(
        drawings=not records_only,
        reports=not records_only,
        kit=kit,
        instruments=tuple(instrument_named(name) for name in instruments or ()),
        reader=reader_named(*read),
    )


def _make(
    command: str, here: Here, choice: dict[str, Any], wants: Any, to: str, out: Path, *, as_json: bool
) -> None:
    import shutil

    from saddlebench.practice.handover.choice import PackChoice
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
