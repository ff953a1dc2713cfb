"""A back for workshop and machine: templates, slotted ribs, a solid, and all of it at once."""

from typing import Annotated

import typer

from saddlebench.cli.console import AsJson, guarded, progress
from saddlebench.cli.replica.asked import (
    As,
    At,
    Back,
    Folder,
    In,
    Lengths,
    Thickness,
    bed_of,
    distances,
    measured_back,
    sizes,
    speaking,
)
from saddlebench.cli.replica.told import written_told
from saddlebench.cli.stated import instrument_named, one_of, some_of


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
    language: In = "en",
    lengths: Lengths = "mm",
    as_json: AsJson = False,
) -> None:
    """Write sections and topline at true size: PDF over sheets of paper, SVG and DXF for a cutter.

    \b
    Examples:
      saddlebench replica templates bramble.back.json -o bramble-kit
      saddlebench replica templates bramble.back.json -o kit --measured-across 99.4 --measured-down 100.2
    """
    with guarded("replica templates", as_json=as_json), speaking(language, lengths):
        from saddlebench.engine.replica.templates import Form
        from saddlebench.exchange.templates import PAPERS, print_scale_from
        from saddlebench.report.replica.kit import TemplateRequest, write_templates

        request = TemplateRequest(
            distances_mm=distances(at),
            forms=tuple(Form(form) for form in some_of(forms, Form, "--form")),
            thickness_mm=thickness,
            paper=PAPERS[one_of(paper, PAPERS, "--paper")],
            scale=print_scale_from(measured_across, measured_down),
            file_types=some_of(file_types, ("pdf", "svg", "dxf"), "--as"),
        )
        held = measured_back(back)
        with progress(quiet=as_json) as show:
            written = write_templates(held, request, output, show)
        written_told("replica templates", written, as_json=as_json)


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
    language: In = "en",
    lengths: Lengths = "mm",
    as_json: AsJson = False,
) -> None:
    """Write a replica of slotted ribs, nested on sheets, for a cutter or a knife.

    \b
    Example:
      saddlebench replica ribs bramble.back.json -o bramble-kit --thickness 4 --sheet 800x600 --kerf 0.2
    """
    with guarded("replica ribs", as_json=as_json), speaking(language, lengths):
        from saddlebench.engine.replica.ribs import RibChoices
        from saddlebench.exchange.ribs import SheetChoices
        from saddlebench.report.replica.kit import RibRequest, write_ribs

        width, height = sizes(sheet, 2, "--sheet")
        request = RibRequest(
            distances_mm=distances(at),
            ribs=RibChoices(
                thickness_mm=thickness,
                play_mm=play,
                spacing_mm=spacing,
                beside_mm=() if beside.strip() == "none" else distances(beside, "--beside") or (),
                inset_mm=max(15.0, 2.0 * thickness),
            ),
            sheets=SheetChoices(width_mm=width, height_mm=height, kerf_mm=kerf),
            file_types=some_of(file_types, ("svg", "dxf"), "--as"),
        )
        held = measured_back(back)
        with progress(quiet=as_json) as show:
            written = write_ribs(held, request, output, show)
        written_told("replica ribs", written, as_json=as_json)


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

        request = SolidRequest(
            solid=SolidChoices(
                bed_mm=bed_of(bed),
                wall_mm=wall if wall > 0.0 else None,
                dowel_mm=dowel,
                engrave=not plain,
            ),
            file_types=some_of(file_types, ("3mf", "stl", "glb"), "--as"),
        )
        held = measured_back(back)
        with progress(quiet=as_json) as show:
            written = write_solid(held, request, output, show)
        written_told("replica solid", written, as_json=as_json)


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
    language: In = "en",
    lengths: Lengths = "mm",
    as_json: AsJson = False,
) -> None:
    """Write everything at once: settings, templates, ribs, solid, and a page that says what is what.

    \b
    Example:
      saddlebench replica kit bramble.back.json -i my-comb.toml -o bramble-kit
    """
    with guarded("replica kit", as_json=as_json), speaking(language, lengths):
        from saddlebench.engine.replica.ribs import RibChoices
        from saddlebench.exchange.back_job import digest
        from saddlebench.exchange.ribs import SheetChoices
        from saddlebench.exchange.solids import SolidChoices
        from saddlebench.exchange.templates import PAPERS
        from saddlebench.report.replica import kit as kits

        width, height = sizes(sheet, 2, "--sheet")
        request = kits.KitRequest(
            instruments=tuple(instrument_named(name) for name in instruments or []),
            templates=kits.TemplateRequest(paper=PAPERS[one_of(paper, PAPERS, "--paper")]),
            ribs=kits.RibRequest(
                ribs=RibChoices(thickness_mm=thickness, inset_mm=max(15.0, 2.0 * thickness)),
                sheets=SheetChoices(width_mm=width, height_mm=height),
            ),
            solid=kits.SolidRequest(solid=SolidChoices(bed_mm=bed_of(bed))),
        )
        held = measured_back(back)
        with progress(quiet=as_json) as show:
            written = kits.write_kit(held, output, request, told=show, back_version=digest(back))
        written_told("replica kit", written, as_json=as_json)
