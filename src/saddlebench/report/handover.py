"""What goes with records in a handover pack: drawings, reports, and a replica kit where it is asked for."""

import re
import uuid as uuids
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.errors import InputProblemsError, Problem, Weight
from saddlebench.exchange.back_job import MeasuredBack, measured
from saddlebench.exchange.drawings import as_svg
from saddlebench.exchange.packs.document import BackPart
from saddlebench.exchange.readers import Reader, read_by
from saddlebench.exchange.records import BackDocument, StudyDocument, parse_document
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.handover.choice import Gathered, PackChoice
from saddlebench.practice.handover.gathering import gather
from saddlebench.practice.handover.sending import Enclosed, send_pack
from saddlebench.practice.queries.packs import SentShown, sent_pack
from saddlebench.practice.rules import Actor
from saddlebench.report.album import Picture, drawings_of
from saddlebench.report.owner import owner_report
from saddlebench.report.replica.kit import (
    KitRequest,
    TemplateRequest,
    Told,
    slug_of,
    untold,
    write_kit,
    write_templates,
)
from saddlebench.report.setting import Setting
from saddlebench.report.workshop import workshop_report

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy

_STUDY_PICTURES = (Picture.OVERVIEW, Picture.FINDINGS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wants:
    """What is to go with the records."""

    drawings: bool = True
    """Of each back its sections at true size; of each fit check what it looks like."""
    reports: bool = True
    """Of each fit check, for the owner and for the workshop."""
    kit: bool = False
    """Of each back, everything to rebuild it."""
    instruments: tuple[Instrument, ...] = ()
    """The recipient's own: settings are written for each."""
    reader: Reader = field(default_factory=Reader)
    """Who reads drawings, reports and the kit's papers there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOver:
    """A pack that was made, and what could not go with it."""

    pack: SentShown
    problems: tuple[Problem, ...]
    """Warnings only: what a back or a fit check did not allow."""


def hand_over(
    actor: Actor | None,
    choice: PackChoice,
    home: Path,
    wants: Wants,
    *,
    recipient: uuids.UUID | None = None,
    uuid: uuids.UUID | None = None,
    told: Told = untold,
) -> HandedOver:
    """Gather what was chosen, make what goes with it, and make the pack.

    Raises
    ------
    NotFoundError, InputProblemsError, KeyMissingError
        As gathering and sending raise them.
    """
    gathered = gather(actor, choice, home)
    with TemporaryDirectory(prefix="saddlebench-enclosed-") as scratch:
        enclosed, problems = enclosures_of(gathered, wants, Path(scratch), told)
        told("pack", 0, 1, "signed and checked")
        pack = send_pack(actor, gathered, home, enclosed=enclosed, recipient=recipient, uuid=uuid)
        told("pack", 1, 1, "done")
    return HandedOver(pack=sent_pack(actor, pack.uuid), problems=problems)


def enclosures_of(
    gathered: Gathered, wants: Wants, folder: Path, told: Told = untold
) -> tuple[list[Enclosed], tuple[Problem, ...]]:
    """Return what goes with records, and what could not be made and why.

    Parameters
    ----------
    gathered : the records
    wants : what is wanted
    folder : where files of kits are written
    told : of progress; it may raise to stop the work
    """
    enclosed: list[Enclosed] = []
    problems: list[Problem] = []
    makers: list[Callable[[], Iterator[Enclosed]]] = [
        partial(_of_back, back, gathered.files, wants, folder, told, problems)
        for back in (gathered.backs if wants.drawings or wants.kit else ())
    ]
    for number, study in enumerate(gathered.studies, start=1):
        text = gathered.files[study.version.file].decode("utf-8")
        makers.append(partial(_of_study, text, study.version.file, f"{number:02d}", study.label, wants))
    for done, make in enumerate(makers):
        told("enclosed", done, len(makers), "drawings and documents")
        try:
            with read_by(wants.reader):
                enclosed += make()
        except InputProblemsError as error:
            problems += [_left_out(one) for one in error.problems]
    told("enclosed", len(makers), len(makers), "done")
    return enclosed, tuple(problems)


def _left_out(problem: Problem) -> Problem:
    what = f"left out of the pack: {problem.what}"
    return Problem(what=what, cure=problem.cure, where=problem.where, weight=Weight.WARNING)


def _of_back(
    part: BackPart,
    files: Mapping[str, bytes],
    wants: Wants,
    folder: Path,
    told: Told,
    problems: list[Problem],
) -> Iterator[Enclosed]:
    text = files[part.version.file].decode("utf-8")
    back = measured(parse_document(BackDocument, text, part.version.file).record())
    slug = f"{slug_of(part.label)}-{part.uuid[:8]}"
    if wants.drawings:
        written = write_templates(back, TemplateRequest(file_types=("svg",)), folder / "drawings" / slug)
        yield from _enclosed(written.paths, folder, f"{part.label}, {said('true size')}")
    if wants.kit:
        kit = _kit(back, wants, folder / "kit" / slug, told)
        problems += [_left_out(one) for one in kit[1]]
        yield from _enclosed(kit[0], folder, f"{part.label}, {said('to rebuild it')}")


def _kit(
    back: MeasuredBack, wants: Wants, folder: Path, told: Told
) -> tuple[tuple[Path, ...], tuple[Problem, ...]]:
    written = write_kit(back, folder, KitRequest(instruments=wants.instruments), told=told)
    return written.paths, written.problems


def _enclosed(paths: tuple[Path, ...], folder: Path, words: str) -> Iterator[Enclosed]:
    for path in paths:
        name = re.sub(r"[^A-Za-z0-9._/-]", "-", path.relative_to(folder).as_posix())
        yield Enclosed(file=name, words=f"{words}: {path.name}"[:200], content=path)


def _of_study(text: str, file: str, number: str, label: str, wants: Wants) -> Iterator[Enclosed]:
    study: FitStudy = parse_document(StudyDocument, text, file).study()
    if wants.drawings:
        for picture, drawing in drawings_of(study, _STUDY_PICTURES):
            yield Enclosed(
                file=f"drawings/fit-check-{number}-{picture.value}.svg",
                words=f"{label}: {said(picture.value)}"[:200],
                content=as_svg(drawing).encode("utf-8"),
            )
    if wants.reports:
        setting = Setting(reader=wants.reader)
        for name, make in (("owner", owner_report), ("workshop", workshop_report)):
            yield Enclosed(
                file=f"documents/fit-check-{number}-{name}.pdf",
                words=f"{label}: {said(f'for the {name} (PDF)')}"[:200],
                content=make(study, setting),
            )
