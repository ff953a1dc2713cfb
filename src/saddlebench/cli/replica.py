"""Commands that rebuild a back elsewhere, and prove the rebuild."""

from collections.abc import Iterator
from contextlib import contextmanager
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
from saddlebench.cli.replica_told import (
    proof_json,
    proof_table,
    set_json,
    set_table,
    settings_json,
    settings_table,
)

if TYPE_CHECKING:
    from saddlebench.engine.back.instruments import Instrument
    from saddlebench.exchange.job import MeasuredBack
    from saddlebench.report import Paper as SettingPaper
    from saddlebench.report.replica.kit import Written

app = typer.Typer(
    no_args_is_help=True, help="Rebuild a back elsewhere: settings, templates, ribs, a solid; and prove it."
)

Back = Annotated[Path, typer.Argument(help="A back record.", readable=False)]
Folder = Annotated[Path, typer.Option("--output", "-o", help="Folder for what is made.", readable=False)]
Instrument_ = Annotated[
    str, typer.Option("--instrument", "-i", help="Instrument file or shipped name: what it is rebuilt on.")
]
At = Annotated[
    str,
    typer.Option("--at", help="Distances behind the shoulder mark, mm: “-40, 0, 120”. Usually the stations."),
]
Tolerance = Annotated[float, typer.Option("--tolerance", help="What is near enough, mm.", min=0.1, max=20.0)]
As = Annotated[list[str] | None, typer.Option("--as", help="Kind of file; may be given again. Usually all.")]
Thickness = Annotated[float, typer.Option("--thickness", help="Of the sheet, mm.", min=0.0, max=40.0)]


Language_ = Annotated[str, typer.Option("--in", help="Language of the papers: en or de.")]
Lengths_ = Annotated[
    str,
    typer.Option(
        "--lengths", help="Lengths on the papers: mm or in. An instrument's readings stay in its divisions."
    ),
]
SheetPaper = Annotated[str, typer.Option("--paper", help="Of the sheet: a4 or letter.")]


@contextmanager
def _speaking(language: str, lengths: str) -> Iterator[None]:
    """Let papers be written in a language, with mm or inches, while this lasts."""
    from saddlebench.engine.units import Length
    from saddlebench.exchange.readers import Language, Reader, read_by

    length = Length(_chosen([lengths], [Length.MM, Length.INCH], "--lengths")[0])
    with read_by(Reader(language=Language(_chosen([language], list(Language), "--in")[0]), length=length)):
        yield


def _sheet_paper(paper: str) -> "SettingPaper":
    from saddlebench.report import Paper

    papers = {"a4": Paper.A4, "letter": Paper.LETTER}
    return papers[_chosen([paper], list(papers), "--paper")[0]]


@app.command("settings")
def settings(
    back: Back,
    output: Folder,
    instrument: Instrument_,
    at: At = "",
    tolerance: Tolerance = 2.0,
    paper: SheetPaper = "a4",
    language: Language_ = "en",
    lengths: Lengths_ = "mm",
    as_json: AsJson = False,
) -> None:
    """Write what to set on another instrument so that it shows a back: a sheet to print, and JSON.

    \b
    Example:
      saddlebench replica settings bramble.back.json -i my-comb.toml -o bramble-kit
    """
    with guarded("replica settings", as_json=as_json), _speaking(language, lengths):
        from saddlebench.engine.replica.settings import settings_for
        from saddlebench.exchange.job import digest
        from saddlebench.report.replica.kit import write_settings

        held = _measured(back)
        with progress(quiet=as_json) as show:
            show("settings", 0, 1, instrument)
            made = settings_for(
                held.estimated, _instrument(instrument), _distances(at), tolerance_mm=tolerance
            )
            written = write_settings(held, made, output, back_version=digest(back), paper=_sheet_paper(paper))
            show("settings", 1, 1, "done")
        if as_json:
            print_json("replica settings", result=settings_json(made, written), problems=written.problems)
            return
        settings_table(made)
        _tell(written)


@app.command("check")
def check(
    back: Back,
    readings: Annotated[
        Path, typer.Argument(help="Table of what the instrument shows once set (CSV).", readable=False)
    ],
    instrument: Instrument_,
    at: At = "",
    tolerance: Tolerance = 2.0,
    as_json: AsJson = False,
) -> None:
    """Say of an instrument as it was set whether each station is near enough, and what to move if not.

    The table holds the stations set so far, numbered as on the sheet of settings.

    \b
    Example:
      saddlebench replica check bramble.back.json as-set.csv -i my-comb.toml
    """
    with guarded("replica check", as_json=as_json):
        from saddlebench.engine.replica.set_check import check_set
        from saddlebench.engine.replica.settings import settings_for
        from saddlebench.exchange.readings import read_readings

        held, tool = _measured(back), _instrument(instrument)
        made = settings_for(held.estimated, tool, _distances(at), tolerance_mm=tolerance)
        found = check_set(held.estimated, made, read_readings(readings, tool))
        if as_json:
            print_json("replica check", result=[set_json(one) for one in found])
            return
        set_table(found)
        _mind()


@app.command("templates")
def templates(
    back: Back,
    output: Folder,
    at: At = "",
    forms: Annotated[
        list[str] | None,
        typer.Option("--form", help="hollow (on the horse) or full (in the saddle). Usually both."),
    ] = None,
    thickness: Thickness = 0.0,
    paper: Annotated[str, typer.Option(help="a4, a3 or letter.")] = "a4",
    measured_across: Annotated[
        float | None, typer.Option(help="Length of the bar across the sheet as printed, mm (100 in truth).")
    ] = None,
    measured_down: Annotated[
        float | None, typer.Option(help="Length of the bar down the sheet as printed, mm (100 in truth).")
    ] = None,
    file_types: As = None,
    language: Language_ = "en",
    lengths: Lengths_ = "mm",
    as_json: AsJson = False,
) -> None:
    """Write sections and topline at true size: PDF over sheets of paper, SVG and DXF for a cutter.

    \b
    Examples:
      saddlebench replica templates bramble.back.json -o bramble-kit
      saddlebench replica templates bramble.back.json -o kit --measured-across 99.4 --measured-down 100.2
    """
    with guarded("replica templates", as_json=as_json), _speaking(language, lengths):
        from saddlebench.engine.replica.templates import Form
        from saddlebench.exchange.templates import PAPERS, print_scale_from
        from saddlebench.report.replica.kit import TemplateRequest, write_templates

        request = TemplateRequest(
            distances_mm=_distances(at),
            forms=tuple(Form(form) for form in _chosen(forms, [f.value for f in Form], "--form")),
            thickness_mm=thickness,
            paper=PAPERS[_chosen([paper], list(PAPERS), "--paper")[0]],
            scale=print_scale_from(measured_across, measured_down),
            file_types=tuple(_chosen(file_types, ["pdf", "svg", "dxf"], "--as")),
        )
        held = _measured(back)
        with progress(quiet=as_json) as show:
            written = write_templates(held, request, output, show)
        _told("replica templates", written, as_json=as_json)


@app.command("ribs")
def ribs(
    back: Back,
    output: Folder,
    at: At = "",
    thickness: Annotated[
        float, typer.Option(help="Of card, plywood or foam board, mm.", min=0.2, max=40.0)
    ] = 3.0,
    sheet: Annotated[str, typer.Option(help="Size of a raw sheet, mm: 1000x700.")] = "1000x700",
    play: Annotated[float, typer.Option(help="A slot is so much wider than the sheet is thick, mm.")] = 0.2,
    kerf: Annotated[float, typer.Option(help="Width of the cut, mm; 0 for a knife.")] = 0.0,
    spacing: Annotated[float, typer.Option(help="Ribs stand at most so far apart, mm.")] = 70.0,
    beside: Annotated[
        str,
        typer.Option(
            help="Lengthwise members beside the midline, mm out: “60, 110”; “none”: only the midline’s."
        ),
    ] = "90",
    file_types: As = None,
    language: Language_ = "en",
    lengths: Lengths_ = "mm",
    as_json: AsJson = False,
) -> None:
    """Write a replica of slotted ribs, nested on sheets, for a cutter or a knife.

    \b
    Example:
      saddlebench replica ribs bramble.back.json -o bramble-kit --thickness 4 --sheet 800x600 --kerf 0.2
    """
    with guarded("replica ribs", as_json=as_json), _speaking(language, lengths):
        from saddlebench.engine.replica.ribs import RibChoices
        from saddlebench.exchange.ribs import SheetChoices
        from saddlebench.report.replica.kit import RibRequest, write_ribs

        width, height = _sizes(sheet, 2, "--sheet")
        request = RibRequest(
            distances_mm=_distances(at),
            ribs=RibChoices(
                thickness_mm=thickness,
                play_mm=play,
                spacing_mm=spacing,
                beside_mm=() if beside.strip() == "none" else _distances(beside, "--beside") or (),
                inset_mm=max(15.0, 2.0 * thickness),
            ),
            sheets=SheetChoices(width_mm=width, height_mm=height, kerf_mm=kerf),
            file_types=tuple(_chosen(file_types, ["svg", "dxf"], "--as")),
        )
        held = _measured(back)
        with progress(quiet=as_json) as show:
            written = write_ribs(held, request, output, show)
        _told("replica ribs", written, as_json=as_json)


@app.command("solid")
def solid(
    back: Back,
    output: Folder,
    bed: Annotated[
        str,
        typer.Option(
            help="Bed of the printer or mill, mm, along × across × high: 250x250x300. Usually one piece."
        ),
    ] = "",
    wall: Annotated[
        float, typer.Option(help="Thickness of the shell, mm; 0: solid throughout.", min=0.0)
    ] = 6.0,
    dowel: Annotated[float, typer.Option(help="Diameter of the dowels between pieces, mm.")] = 8.0,
    plain: Annotated[bool, typer.Option("--plain", help="Without engraved lines.")] = False,
    file_types: As = None,
    as_json: AsJson = False,
) -> None:
    """Write the back as a closed solid on a flat base, for printing or milling.

    \b
    Example:
      saddlebench replica solid bramble.back.json -o bramble-kit --bed 250x250x320
    """
    with guarded("replica solid", as_json=as_json):
        from saddlebench.exchange.solids import SolidChoices
        from saddlebench.report.replica.kit import SolidRequest, write_solid

        along, across, high = _sizes(bed, 3, "--bed") if bed else (0.0, 0.0, 0.0)
        request = SolidRequest(
            solid=SolidChoices(
                bed_mm=(along, across, high) if bed else None,
                wall_mm=wall if wall > 0.0 else None,
                dowel_mm=dowel,
                engrave=not plain,
            ),
            file_types=tuple(_chosen(file_types, ["3mf", "stl", "glb"], "--as")),
        )
        held = _measured(back)
        with progress(quiet=as_json) as show:
            written = write_solid(held, request, output, show)
        _told("replica solid", written, as_json=as_json)


@app.command("prove")
def prove(
    original: Annotated[Path, typer.Argument(help="The back record that was rebuilt.", readable=False)],
    rebuild: Annotated[
        Path,
        typer.Argument(help="A back record of the rebuild, measured with any instrument.", readable=False),
    ],
    output: Annotated[
        Path,
        typer.Option(
            "--output", "-o", help="Where the rebuild check sheet (PDF) is written.", readable=False
        ),
    ],
    tolerance: Tolerance = 2.0,
    overwrite: Overwrite = False,
    paper: SheetPaper = "a4",
    language: Language_ = "en",
    lengths: Lengths_ = "mm",
    as_json: AsJson = False,
) -> None:
    """Compare a rebuild, measured with any instrument, with its original; write the rebuild check sheet.

    \b
    Example:
      saddlebench replica prove bramble.back.json bramble-rebuilt.back.json -o check-sheet.pdf
    """
    with guarded("replica prove", as_json=as_json), _speaking(language, lengths):
        from saddlebench.engine.replica.proof import prove_rebuild
        from saddlebench.exchange.whole_file import write_whole
        from saddlebench.report.replica.proof import ProofNames, headline, proof_pdf

        require_free(output, overwrite=overwrite)
        on = _sheet_paper(paper)
        first, second = _measured(original), _measured(rebuild)
        found = prove_rebuild(first.estimated, second.estimated, tolerance_mm=tolerance)
        names = ProofNames(
            original=first.record.label,
            original_day=first.record.measured_on,
            replica=second.record.label,
            replica_day=second.record.measured_on,
            instrument=second.record.instrument.name,
        )
        write_whole(output, proof_pdf(found, first.estimated, names, on))
        if as_json:
            print_json("replica prove", result=proof_json(found, output))
            return
        proof_table(found)
        results().print(f"[bold]{headline(found)}[/bold]")
        words().print(f"Written: {output}")
        _mind()


@app.command("kit")
def kit(
    back: Back,
    output: Folder,
    instruments: Annotated[
        list[str] | None,
        typer.Option("--instrument", "-i", help="The recipient's instrument; may be given again."),
    ] = None,
    paper: Annotated[str, typer.Option(help="a4, a3 or letter.")] = "a4",
    thickness: Annotated[
        float, typer.Option(help="Of the sheets for the ribs, mm.", min=0.2, max=40.0)
    ] = 3.0,
    sheet: Annotated[str, typer.Option(help="Size of a raw sheet, mm.")] = "1000x700",
    bed: Annotated[str, typer.Option(help="Bed of the printer or mill, mm: 250x250x300.")] = "",
    language: Language_ = "en",
    lengths: Lengths_ = "mm",
    as_json: AsJson = False,
) -> None:
    """Write everything at once: settings, templates, ribs, solid, and a page that says what is what.

    \b
    Example:
      saddlebench replica kit bramble.back.json -i my-comb.toml -o bramble-kit
    """
    with guarded("replica kit", as_json=as_json), _speaking(language, lengths):
        from saddlebench.engine.replica.ribs import RibChoices
        from saddlebench.exchange.job import digest
        from saddlebench.exchange.ribs import SheetChoices
        from saddlebench.exchange.solids import SolidChoices
        from saddlebench.exchange.templates import PAPERS
        from saddlebench.report.replica import kit as kits

        width, height = _sizes(sheet, 2, "--sheet")
        along, across, high = _sizes(bed, 3, "--bed") if bed else (0.0, 0.0, 0.0)
        request = kits.KitRequest(
            instruments=tuple(_instrument(name) for name in instruments or []),
            templates=kits.TemplateRequest(paper=PAPERS[_chosen([paper], list(PAPERS), "--paper")[0]]),
            ribs=kits.RibRequest(
                ribs=RibChoices(thickness_mm=thickness, inset_mm=max(15.0, 2.0 * thickness)),
                sheets=SheetChoices(width_mm=width, height_mm=height),
            ),
            solid=kits.SolidRequest(solid=SolidChoices(bed_mm=(along, across, high) if bed else None)),
        )
        held = _measured(back)
        with progress(quiet=as_json) as show:
            written = kits.write_kit(held, output, request, told=show, back_version=digest(back))
        _told("replica kit", written, as_json=as_json)


def _measured(path: Path) -> "MeasuredBack":
    from saddlebench.exchange.job import measured
    from saddlebench.exchange.records import read_back

    return measured(read_back(path))


def _instrument(name: str) -> "Instrument":
    from saddlebench.exchange.instruments import example_instrument, read_instrument

    is_file = name.endswith((".toml", ".json"))
    return read_instrument(Path(name)) if is_file else example_instrument(name)


def _distances(text: str, option: str = "--at") -> tuple[float, ...] | None:
    from saddlebench.engine.errors import InputProblemsError
    from saddlebench.exchange.places import read_places

    try:
        return read_places(text)
    except InputProblemsError as error:
        problem = error.problems[0]
        msg = f"{problem.what}. {problem.cure}"
        raise typer.BadParameter(msg, param_hint=option) from error


def _sizes(text: str, count: int, option: str) -> tuple[float, ...]:
    parts = text.lower().replace("×", "x").split("x")
    try:
        sizes = tuple(float(part) for part in parts)
    except ValueError:
        sizes = ()
    if len(sizes) != count:
        example = "1000x700" if count == 2 else "250x250x300"
        message = f"“{text}” is no size; write it as {example}."
        raise typer.BadParameter(message, param_hint=option)
    return sizes


def _chosen(given: list[str] | None, known: list[str], option: str) -> list[str]:
    unknown = [name for name in given or [] if name not in known]
    if unknown:
        message = f"“{unknown[0]}” is not one of {', '.join(known)}."
        raise typer.BadParameter(message, param_hint=option)
    return given or known


def _told(command: str, written: "Written", *, as_json: bool) -> None:
    if as_json:
        result = {"written": [str(path) for path in written.paths]}
        print_json(command, result=result, problems=_as_warnings(written))
        return
    _tell(written)


def _as_warnings(written: "Written") -> tuple[Any, ...]:
    from dataclasses import replace

    from saddlebench.engine.errors import Weight

    return tuple(replace(problem, weight=Weight.WARNING) for problem in written.problems)


def _tell(written: "Written") -> None:
    print_problems(_as_warnings(written))
    for path in written.paths:
        words().print(f"Written: {path}")
    _mind()


def _mind() -> None:
    from saddlebench.report.replica.words import CAUTIONS

    for caution in CAUTIONS:
        words().print(caution, style="dim")
