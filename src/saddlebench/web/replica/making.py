"""Making the files of a part, or of the whole kit, beside the pages; they are kept a while for download."""

import tempfile
import uuid as uuids
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from django.conf import settings
from django.urls import reverse

from saddlebench.engine.errors import Problem
from saddlebench.exchange.readers import read_by, reader
from saddlebench.exchange.vocabulary import said
from saddlebench.exchange.whole_file import write_whole
from saddlebench.practice import queries
from saddlebench.practice.catalogue import Value
from saddlebench.practice.enums import Action
from saddlebench.practice.keeping.made import made_path, take_out_old_made
from saddlebench.practice.queries.rebuilds import RebuildSource
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.jobs import ask_job
from saddlebench.practice.services.long_work import Outcome, Run, long_work
from saddlebench.web.base.instruments import chosen_instrument
from saddlebench.web.replica.choices import (
    KIT,
    PARTS,
    RIBS,
    SOLID,
    TEMPLATES,
    check_choices,
    kit_of,
    reader_of,
    ribs_of,
    solid_of,
    templates_of,
)
from saddlebench.web.replica.loading import measured_source

if TYPE_CHECKING:
    from saddlebench.report.replica.kit import Told, Written

NOTES = "NOTES.txt"
"""What there is to say of a part, beside its files; a whole kit says it in its own page."""


def ask_files(
    actor: Actor,
    source: RebuildSource,
    what: str,
    given: Mapping[str, Value],
    *,
    instruments: Sequence[str] = (),
    uuid: uuids.UUID | None = None,
    back_to: str = "",
) -> uuids.UUID:
    """Queue the files of a part of a version's kit; asked twice with one uuid, they are made once.

    Raises
    ------
    InputProblemsError
        If the choices do not go together.
    NotFoundError
        If there is no such instrument.
    """
    check_choices(what, given)
    for name in instruments:
        chosen_instrument(actor, name)
    chosen = uuid or uuids.uuid4()
    return ask_job(
        actor,
        make_files,
        {
            "back": str(source.uuid),
            "number": source.number,
            "what": what,
            "given": dict(given),
            "instruments": list(instruments),
        },
        action=Action.REBUILD,
        words=f"{PARTS[what].words} of {source.horse.label}’s back",
        uuid=chosen,
        leads_to=reverse("replica:made", args=[chosen]),
        back_to=back_to,
    )


@long_work
def make_files(
    run: Run, *, back: str, number: int, what: str, given: Mapping[str, Value], instruments: Sequence[str]
) -> Outcome:
    """Make the files of a part, and keep them in one archive under the name of the run."""
    run.tell(0, 1, "reading the back")
    source = queries.rebuild_source(run.actor, uuids.UUID(back), number)
    home = Path(settings.SADDLEBENCH_HOME)
    take_out_old_made(home, run.actor.practice_id)
    with tempfile.TemporaryDirectory(prefix="saddlebench-made-") as held:
        folder = Path(held) / folder_name(source, what)
        with read_by(reader_of(given)):
            written = _write(run, source, what, given, instruments, folder)
            if what != KIT:
                (folder / NOTES).write_text(_notes(source, what, written.problems), encoding="utf-8")
        run.tell(1, 1, "packing the files")
        archive = Path(held) / "made.zip"
        _pack(folder, archive)
        target = made_path(home, run.actor.practice_id, run.uuid)
        target.parent.mkdir(parents=True, exist_ok=True)
        write_whole(target, archive.read_bytes())
        target.chmod(0o600)
    return Outcome()


def folder_name(source: RebuildSource, what: str) -> str:
    """Return what the folder of a part is called: the horse, the part, the day."""
    from saddlebench.report.replica.kit import slug_of  # noqa: PLC0415

    return f"{slug_of(source.horse.label)}-{what}-{source.measured_on.isoformat()}"


def _write(
    run: Run,
    source: RebuildSource,
    what: str,
    given: Mapping[str, Value],
    instruments: Sequence[str],
    folder: Path,
) -> "Written":
    from saddlebench.engine.replica.settings import TOLERANCE_MM  # noqa: PLC0415
    from saddlebench.report.replica import kit  # noqa: PLC0415

    back = measured_source(source)

    def told(task: str, done: int, of: int, doing: str) -> None:
        run.tell(done, of, f"{task}: {doing}")

    tell: Told = told
    if what == TEMPLATES:
        return kit.write_templates(back, templates_of(given), folder, tell)
    if what == RIBS:
        return kit.write_ribs(back, ribs_of(given), folder, tell)
    if what == SOLID:
        return kit.write_solid(back, solid_of(given), folder, tell)
    tools = tuple(chosen_instrument(run.actor, name) for name in instruments)
    request = kit_of(given, tools, TOLERANCE_MM)
    return kit.write_kit(back, folder, request, told=tell, back_version=source.sha256)


def _notes(source: RebuildSource, what: str, problems: Sequence[Problem]) -> str:
    from saddlebench.report.replica.words import CAUTIONS, problem_words  # noqa: PLC0415

    day = reader().day(source.measured_on)
    lines = [
        f"{source.horse.label}: {said(PARTS[what].words)}",
        f"{said('measured on')} {day}, {said(f'version {source.number}')}",
        "",
        *(f"! {problem_words(problem)}" for problem in problems),
        *([""] if problems else []),
        *(said(caution) for caution in CAUTIONS),
    ]
    return "\n".join(lines) + "\n"


def _pack(folder: Path, archive: Path) -> None:
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                packed.write(path, f"{folder.name}/{path.relative_to(folder).as_posix()}")
