"""The replica kit: every way to rebuild a back elsewhere, in one folder, and a page that explains it."""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from saddlebench.engine.back.instruments import Instrument
from saddlebench.engine.errors import InputProblemsError, Problem
from saddlebench.engine.replica.ribs import RibChoices, rib_replica
from saddlebench.engine.replica.settings import TOLERANCE_MM, InstrumentSettings, settings_for
from saddlebench.engine.replica.templates import Form, template_set
from saddlebench.exchange.back_job import MeasuredBack
from saddlebench.exchange.planar import PlanarDrawing, as_dxf, planar_svg
from saddlebench.exchange.readers import reader
from saddlebench.exchange.records import SettingsDocument, as_json
from saddlebench.exchange.ribs import SheetChoices, nested, sheet_drawing
from saddlebench.exchange.solids import (
    SolidChoices,
    SolidReplica,
    as_3mf,
    as_glb,
    as_stl,
    solid_name,
    solid_replica,
)
from saddlebench.exchange.templates import (
    PAPERS,
    Paper,
    PrintScale,
    TemplateNames,
    template_drawing,
    ticks_every_mm,
)
from saddlebench.exchange.vocabulary import said
from saddlebench.exchange.whole_file import write_whole
from saddlebench.report.replica.settings import settings_pdf
from saddlebench.report.replica.templates import template_pdf
from saddlebench.report.replica.words import CAUTIONS, problem_words
from saddlebench.report.setting import Paper as SheetPaper

Told = Callable[[str, int, int, str], None]
"""Told a task, how much of it is done, of how much, and what comes next. It may raise to stop the work."""


def untold(task: str, done: int, of: int, doing: str) -> None:
    """Take no note of progress."""
    del task, done, of, doing


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What was written, and what is to be said about it."""

    paths: tuple[Path, ...]
    problems: tuple[Problem, ...] = ()
    """Warnings only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateRequest:
    """Which templates are wanted."""

    distances_mm: tuple[float, ...] | None = None
    """Sections behind the shoulder mark; None: the stations [mm]."""
    forms: tuple[Form, ...] = (Form.HOLLOW, Form.FULL)
    thickness_mm: float = 0.0
    """Of the sheet they are cut from [mm]."""
    paper: Paper = PAPERS["a4"]
    scale: PrintScale = field(default_factory=PrintScale)
    file_types: tuple[str, ...] = ("pdf", "svg", "dxf")


@dataclass(frozen=True, slots=True, kw_only=True)
class RibRequest:
    """Which ribs are wanted."""

    distances_mm: tuple[float, ...] | None = None
    """Behind the shoulder mark; None: evenly over what was measured [mm]."""
    ribs: RibChoices = field(default_factory=RibChoices)
    sheets: SheetChoices = field(default_factory=SheetChoices)
    file_types: tuple[str, ...] = ("svg", "dxf")


@dataclass(frozen=True, slots=True, kw_only=True)
class SolidRequest:
    """Which solid is wanted."""

    solid: SolidChoices = field(default_factory=SolidChoices)
    file_types: tuple[str, ...] = ("3mf", "stl", "glb")


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRequest:
    """What a kit holds."""

    instruments: tuple[Instrument, ...] = ()
    """The recipient's own; settings are written for each."""
    templates: TemplateRequest = field(default_factory=TemplateRequest)
    ribs: RibRequest = field(default_factory=RibRequest)
    solid: SolidRequest = field(default_factory=SolidRequest)
    tolerance_mm: float = TOLERANCE_MM


def slug_of(words: str) -> str:
    """Return words as part of a file's name: small letters, digits, dashes."""
    return re.sub(r"[^a-z0-9]+", "-", words.casefold()).strip("-")[:48] or "back"


def write_settings(
    back: MeasuredBack,
    settings: InstrumentSettings,
    folder: Path,
    *,
    back_version: str = "",
    paper: SheetPaper = SheetPaper.A4,
) -> Written:
    """Write settings as a sheet to print and as a document for machines."""
    record = back.record
    name = f"settings-{slug_of(settings.instrument.name)}"
    document = SettingsDocument.of(settings, record.label, record.measured_on, back_version)
    paths = (folder / f"{name}.pdf", folder / f"{name}.json")
    write_whole(paths[0], settings_pdf(settings, back.estimated, record.label, record.measured_on, paper))
    write_whole(paths[1], as_json(document).encode("utf-8"))
    return Written(paths=paths, problems=settings.problems)


def write_templates(
    back: MeasuredBack, request: TemplateRequest, folder: Path, told: Told = untold
) -> Written:
    """Write templates: a PDF for each form, and every template as SVG and DXF."""
    templates = template_set(
        back.estimated,
        request.distances_mm,
        forms=request.forms,
        thickness_mm=request.thickness_mm,
        ticks_every_mm=ticks_every_mm(),
    )
    names = TemplateNames(label=back.record.label, measured_on=back.record.measured_on)
    paths: list[Path] = []
    if "pdf" in request.file_types:
        for form in request.forms:
            chosen = [one for one in templates if one.form is form]
            path = folder / f"templates-{form}-{request.paper.name.lower()}.pdf"
            content = template_pdf(
                chosen,
                names,
                request.paper,
                request.scale,
                told=partial(_on_paper, told, form),
            )
            write_whole(path, content)
            paths.append(path)
    paths += _write_drawings(
        [template_drawing(one, names) for one in templates], request.file_types, folder, "template", told
    )
    return Written(paths=tuple(paths))


def _on_paper(told: Told, form: Form, done: int, of: int) -> None:
    told("templates", done, of, f"{form}, on paper")


def _write_drawings(
    drawings: Sequence[PlanarDrawing],
    file_types: Sequence[str],
    folder: Path,
    prefix: str,
    told: Told,
) -> Iterator[Path]:
    for done, drawing in enumerate(drawings, start=1):
        name = drawing.name if drawing.name.startswith("ribs") else f"{prefix}-{drawing.name}"
        if "svg" in file_types:
            write_whole(folder / f"{name}.svg", planar_svg(drawing).encode("utf-8"))
            yield folder / f"{name}.svg"
        if "dxf" in file_types:
            write_whole(folder / f"{name}.dxf", as_dxf(drawing))
            yield folder / f"{name}.dxf"
        told(f"{prefix}s", done, len(drawings), "for the cutter")


def write_ribs(back: MeasuredBack, request: RibRequest, folder: Path, told: Told = untold) -> Written:
    """Write the sheets of a slotted replica."""
    replica = rib_replica(back.estimated, request.ribs, request.distances_mm)
    sheets = nested(replica, request.sheets)
    record = back.record
    drawings = [
        sheet_drawing(
            sheet, len(sheets), record.label, reader().day(record.measured_on), request.ribs.thickness_mm
        )
        for sheet in sheets
    ]
    paths = tuple(_write_drawings(drawings, request.file_types, folder, "rib", told))
    return Written(paths=paths, problems=replica.problems)


def write_solid(back: MeasuredBack, request: SolidRequest, folder: Path, told: Told = untold) -> Written:
    """Write the solid, a file to each piece and kind."""
    made = solid_replica(
        back.estimated, request.solid, told=lambda done, of, doing: told("solid", done, of, doing)
    )
    paths = tuple(_write_pieces(made, back.record.label, request.file_types, folder, told))
    return Written(paths=paths, problems=made.problems)


def _write_pieces(
    made: SolidReplica, label: str, file_types: Sequence[str], folder: Path, told: Told
) -> Iterator[Path]:
    writers = {
        "3mf": lambda piece: as_3mf(piece, f"{label}, piece {piece.name}"),
        "stl": as_stl,
        "glb": as_glb,
    }
    for done, piece in enumerate(made.pieces, start=1):
        for kind in file_types:
            path = folder / f"solid-{solid_name(label, piece)}.{kind}"
            write_whole(path, writers[kind](piece))
            yield path
        told("solid's files", done, len(made.pieces), piece.name)


def write_kit(
    back: MeasuredBack,
    folder: Path,
    request: KitRequest | None = None,
    *,
    told: Told = untold,
    back_version: str = "",
) -> Written:
    """Write everything needed to rebuild a back elsewhere.

    What back or instrument do not allow (a solid over a gap, settings of a scan) is left out and said.

    Parameters
    ----------
    back : the back
    folder : written into, made if need be
    request : what it holds, by default everything for no particular instrument
    told : of progress
    back_version : digest of the back record's file

    Raises
    ------
    InputProblemsError
        If nothing at all can be made of the back.
    OSError
        If the folder cannot be written to.
    """
    request = request or KitRequest()
    jobs: list[Callable[[], Written]] = [
        lambda: write_templates(back, request.templates, folder / "templates", told),
        lambda: write_ribs(back, request.ribs, folder / "ribs", told),
        lambda: write_solid(back, request.solid, folder / "solid", told),
    ]

    def settings_job(instrument: Instrument) -> Written:
        told("settings", 0, 1, instrument.name)
        settings = settings_for(back.estimated, instrument, tolerance_mm=request.tolerance_mm)
        # A3 is for templates; a list of settings is read in the hand.
        paper = SheetPaper.LETTER if request.templates.paper.name == "Letter" else SheetPaper.A4
        written = write_settings(back, settings, folder / "settings", back_version=back_version, paper=paper)
        told("settings", 1, 1, "done")
        return written

    jobs = [*(partial(settings_job, one) for one in request.instruments), *jobs]
    paths: list[Path] = []
    problems: list[Problem] = []
    for job in jobs:
        try:
            written = job()
        except InputProblemsError as error:
            problems += error.problems
            continue
        paths += written.paths
        problems += written.problems
    if not paths:
        raise InputProblemsError(problems)
    about = folder / "READ-ME-FIRST.txt"
    write_whole(about, _about(back, request, problems).encode("utf-8"))
    return Written(paths=(about, *paths), problems=tuple(problems))


def _about(back: MeasuredBack, request: KitRequest, problems: Sequence[Problem]) -> str:
    record, ribs = back.record, request.ribs.ribs
    is_checked = request.templates.scale.checked
    scale = (
        "print scale checked" if is_checked else "print scale not checked: measure both bars on every sheet"
    )
    told = {
        "settings/": ("what to set on an instrument: a sheet to print, and the same as JSON",),
        "templates/": (
            "sections and topline at true size: PDF on sheets of paper, SVG and DXF",
            "hollow: stands above the skin, to lay on the horse or on a rebuild",
            "full: the back's own shape, to lay in the saddle's underside",
            scale,
        ),
        "ribs/": (
            f"slotted parts for sheets {ribs.thickness_mm:g} mm thick, play {ribs.play_mm:g} mm",
            "push the ribs (R, slot below) onto the lengthwise members (L, slot above)",
        ),
        "solid/": ("the back as a solid: 3MF states mm; STL is in mm, its box in its name; GLB in metres",),
    }
    lines = [
        f"{said('Replica kit of')} {record.label}, {said('measured on')} {reader().day(record.measured_on)}",
        f"{said('Back record')}: {said(back.quality.words)}",
        "",
        *(
            f"{folder if first == 0 else '':12}{said(words)}"
            for folder, parts in told.items()
            for first, words in enumerate(parts)
        ),
        "",
        said("Prove the rebuild: measure it as if it were the horse, make a back record of it, then"),
        "  saddlebench replica prove ORIGINAL REBUILD -o check-sheet.pdf",
        "",
        *(f"! {problem_words(problem)}" for problem in problems),
        *([""] if problems else []),
        *(said(caution) for caution in CAUTIONS),
    ]
    return "\n".join(lines) + "\n"
