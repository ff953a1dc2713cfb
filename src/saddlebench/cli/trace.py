"""Commands that make paper to trace on, and read it from photos."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.back import tell
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
from saddlebench.cli.trace_asked import (
    Plain,
    asked_of,
    distances_of,
    kind_of,
    photo_size_of,
    two_places_of,
)

if TYPE_CHECKING:
    from saddlebench.engine.back.instruments import TracedCurve
    from saddlebench.exchange.tracings.gathering import NamedSheet
    from saddlebench.exchange.tracings.sheet_read import Asked

app = typer.Typer(no_args_is_help=True, help="Trace a back on paper, and read the paper from photos.")

Photos = Annotated[
    list[Path], typer.Argument(help="Photos of trace sheets: JPEG, PNG, WebP or HEIC.", readable=False)
]
RulerAcross = Annotated[
    float | None, typer.Option("--ruler-across", help="The printed 100 mm ruler across, as measured [mm].")
]
RulerDown = Annotated[
    float | None, typer.Option("--ruler-down", help="The printed 100 mm ruler down, as measured [mm].")
]
Corners = Annotated[
    str,
    typer.Option(
        help="Without markers: the sheet's corners in the photo, from the upper left one round: "
        "“x,y x,y x,y x,y”, in dots."
    ),
]
Size = Annotated[
    str, typer.Option(help="Without markers: the sheet's true width and height, “420x297” [mm].")
]
KnownLength = Annotated[
    str,
    typer.Option(
        "--length",
        help="Without markers: two places in the photo and how far apart they truly are, “x,y x,y 300” [mm]; "
        "instead of the size, or to check it.",
    ),
]
Kind = Annotated[str, typer.Option(help="Without markers: sections, topline or saddle.")]


@app.command("sheet")
def sheet(
    kind: Annotated[str, typer.Argument(help="What is traced on it: sections, topline or saddle.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="Where the PDF is written.", readable=False)],
    paper: Annotated[str, typer.Option(help="a4, a3 or letter.")] = "a4",
    tiles: Annotated[
        int | None, typer.Option(help="Papers side by side, 1 to 3; usually what such a curve needs.")
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a sheet to trace on: print it at 100 %, glue it, trace, photograph.

    \b
    Example:
      saddlebench trace sheet sections --paper a3 -o sections.pdf
    """
    chosen = kind_of(kind)
    with guarded("trace sheet", as_json=as_json):
        from saddlebench.exchange.sheets.layout import layout_of
        from saddlebench.report.trace_sheet import write_trace_sheet

        require_free(output, overwrite=overwrite)
        layout = layout_of(chosen, paper, tiles)
        write_trace_sheet(layout, output)
        left, low, right, high = layout.area
        if as_json:
            found = {
                "kind": chosen.value,
                "paper": layout.paper.name,
                "papers": layout.tiles,
                "width_mm": right - left,
                "height_mm": high - low,
                "written": str(output),
            }
            print_json("trace sheet", result=found)
            return
        words().print(
            f"Written: {output}: {layout.tiles} × {layout.paper.name}, room for curves "
            f"{right - left:.0f} × {high - low:.0f} mm. Print at 100 %; measure the printed ruler."
        )


@app.command("read")
def read(
    photos: Photos,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Folder for each photo with its curves drawn on it.")
    ] = None,
    ruler_across: RulerAcross = None,
    ruler_down: RulerDown = None,
    corners: Corners = "",
    size: Size = "",
    length: KnownLength = "",
    kind: Kind = "sections",
    as_json: AsJson = False,
) -> None:
    """Read the curves on photographed sheets, and say how sure they are.

    \b
    Example:
      saddlebench trace read one.jpg two.jpg -o looked-at
    """
    asked = asked_of(ruler_across, ruler_down, Plain(corners=corners, size=size, length=length, kind=kind))
    with guarded("trace read", as_json=as_json):
        from saddlebench.exchange.tracings.over_photo import write_over_photo

        found = read_photos(photos, asked, quiet=as_json)
        written = []
        for path, named in zip(photos, found, strict=True):
            if output is not None:
                over = output / f"{path.stem}-traced.jpg"
                write_over_photo(path, named.sheet, over)
                written.append(str(over))
        if as_json:
            shown = [_sheet_json(named) for named in found]
            print_json("trace read", result={"photos": shown, "written": written})
            return
        _table(found)
        for named in found:
            print_problems(named.sheet.remarks)
        for name in written:
            words().print(f"Written: {name}")


@app.command("back")
def back(
    photos: Photos,
    sheet_file: Annotated[
        Path,
        typer.Option("--sheet", "-s", help="Back sheet (TOML): horse, day, stance, marks.", readable=False),
    ],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="Where the back record is written.", readable=False)
    ],
    at: Annotated[
        str,
        typer.Option("--at", help="Stations' distances behind the shoulder mark, mm: “-80, 0, 80”."),
    ],
    heights: Annotated[
        str,
        typer.Option(help="Without a topline sheet: the midline's height at each of --at, mm: “1540, 1522”."),
    ] = "",
    topline_starts: Annotated[
        float,
        typer.Option("--topline-starts", help="Where the topline's long line lay, behind the mark, mm."),
    ] = 0.0,
    topline_level: Annotated[
        float,
        typer.Option("--topline-level", help="Its level lines fell towards the tail by so many degrees."),
    ] = 0.0,
    ruler_across: RulerAcross = None,
    ruler_down: RulerDown = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a back record from photos of trace sheets.

    \b
    Example:
      saddlebench trace back *.jpg --sheet bramble.toml --at "-80, 0, 80, 160" -o bramble.back.json
    """
    distances = distances_of(at, "--at")
    measured_heights = distances_of(heights, "--heights")
    if measured_heights and len(measured_heights) != len(distances):
        message = f"{len(measured_heights)} heights for {len(distances)} stations."
        raise typer.BadParameter(message, param_hint="--heights")
    asked = asked_of(ruler_across, ruler_down, Plain())
    with guarded("trace back", as_json=as_json):
        from dataclasses import replace

        from saddlebench.engine.back.readings import ToplineHeights
        from saddlebench.exchange.back_job import measured, sheet_record
        from saddlebench.exchange.records import write_back
        from saddlebench.exchange.tracings.as_readings import instrument_of
        from saddlebench.exchange.tracings.gathering import gather

        require_free(output, overwrite=overwrite)
        found = read_photos(photos, asked, quiet=as_json)
        gathered = gather(found, distances, topline_starts_mm=topline_starts, topline_level_deg=topline_level)
        readings = gathered.readings
        if measured_heights:
            topline = ToplineHeights(distance_mm=tuple(distances), height_mm=tuple(measured_heights))
            readings = replace(readings, topline=topline)
        record = sheet_record(
            sheet_file,
            readings,
            lambda tool: instrument_of(traced(tool), [named.sheet for named in found]),
        )
        made = measured(record)
        write_back(record, output)
        tell("trace back", made, output, gathered.remarks, as_json=as_json)


def traced(tool: object) -> "TracedCurve":
    """Return an instrument that is a traced curve, or say that it is none."""
    from saddlebench.engine.back.instruments import TracedCurve
    from saddlebench.engine.errors import Where, input_problem

    if not isinstance(tool, TracedCurve):
        what = "the sheet’s instrument is no traced curve"
        raise input_problem(what, "Name one: curve-mm comes with the program.", Where(field="instrument"))
    return tool


def read_photos(photos: list[Path], asked: "Asked", *, quiet: bool) -> "list[NamedSheet]":
    """Return what is on each photo; of those that cannot be read, every reason."""
    from saddlebench.engine.errors import InputProblemsError, Problem
    from saddlebench.exchange.tracings.gathering import NamedSheet
    from saddlebench.exchange.tracings.photo_file import read_photo

    found: list[NamedSheet] = []
    problems: list[Problem] = []
    with progress(quiet=quiet) as show:
        for done, path in enumerate(photos):
            show("photos", done, len(photos), path.name)
            try:
                found.append(NamedSheet(name=path.name, sheet=read_photo(path, asked)))
            except InputProblemsError as error:
                problems += error.problems
        show("photos", len(photos), len(photos), "done")
    if problems:
        raise InputProblemsError(problems)
    return found


def _sheet_json(named: "NamedSheet") -> dict[str, Any]:
    sheet = named.sheet
    return {
        "photo": named.name,
        "kind": sheet.kind.value,
        "stations": list(sheet.stations),
        "printed_across": sheet.scale.across,
        "printed_down": sheet.scale.down,
        "printed_sd": sheet.scale.sd,
        "printed_by": sheet.scale.source,
        "tilt_deg": sheet.tilt_deg,
        "curl_per_m": sheet.curl,
        "markers": sheet.n_markers,
        "curves": [
            {
                "points_mm": curve.points.round(2).tolist(),
                "seen": [bool(one) for one in curve.seen],
                "marks_mm": curve.ticks.round(2).tolist(),
                "point_sd_mm": curve.point_sd_mm,
                "midline_by_mark": curve.by_tick,
            }
            for curve in sheet.curves
        ],
        "remarks": [str(one) for one in sheet.remarks],
    }


def _table(found: "list[NamedSheet]") -> None:
    from rich.table import Table

    table = Table("photo", "kind", "curve", "station", "from, to mm", "a point ± mm", "size ± %")
    for named in found:
        sheet = named.sheet
        said = len(sheet.stations) == len(sheet.curves)
        for k, curve in enumerate(sheet.curves):
            table.add_row(
                named.name,
                sheet.kind.value,
                str(k + 1),
                str(sheet.stations[k]) if said else "not filled in",
                f"{curve.points[:, 0].min():.0f}, {curve.points[:, 0].max():.0f}",
                f"{curve.point_sd_mm:.2f}",
                f"{100 * sheet.scale.sd:.2f}",
            )
    results().print(table)


@app.command("angle")
def angle(
    line: Annotated[str, typer.Argument(help="Two places of the line on the photo, in dots: “x,y x,y”.")],
    level: Annotated[str, typer.Option(help="Two places of a line that is level: “x,y x,y”.")] = "",
    level_mm: Annotated[
        float | None, typer.Option("--level-mm", help="How far apart these two truly are [mm].", min=5)
    ] = None,
    upright: Annotated[str, typer.Option(help="Two places of a line that is plumb: “x,y x,y”.")] = "",
    upright_mm: Annotated[
        float | None, typer.Option("--upright-mm", help="How far apart these two truly are [mm].", min=5)
    ] = None,
    photo_size: Annotated[str, typer.Option(help="The photo's width and height in dots, “1632x1224”.")] = "",
    aside: Annotated[
        float, typer.Option(help="How far the camera may have stood aside of square, degrees.", min=0, max=30)
    ] = 8.0,
    as_json: AsJson = False,
) -> None:
    """Measure an angle on a photo of the horse: topline, shoulder, points; with its error.

    \b
    Example:
      saddlebench trace angle "812,644 1090,402" --level "300,1400 1500,1412"
    """
    places = two_places_of(line)
    lines = [two_places_of(text) if text else None for text in (level, upright)]
    size = photo_size_of(photo_size)
    with guarded("trace angle", as_json=as_json):
        import numpy as np

        from saddlebench.exchange.phrases import SCREENING_NOTE
        from saddlebench.exchange.tracings.angles import Known, angle_on_photo

        flat, plumb = (None if one is None else np.array(one) for one in lines)
        known = Known(level=flat, level_mm=level_mm, upright=plumb, upright_mm=upright_mm)
        found = angle_on_photo(np.array(places), known, size_px=size, aside_sd_deg=aside)
        sure = f"± {found.sd_deg:.1f}° (one standard deviation)"
        said = [f"{abs(found.deg):.1f}° {sure}, {found.way}, against {found.against}."]
        if as_json:
            result = {
                "angle_deg": found.deg,
                "sd_deg": found.sd_deg,
                "against": found.against,
                "sentences": [*said, SCREENING_NOTE],
            }
            print_json("trace angle", result=result)
            return
        results().print(said[0])
        words().print(SCREENING_NOTE)
