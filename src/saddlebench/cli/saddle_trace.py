"""The command that makes a saddle record from tracings across its panels."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded
from saddlebench.cli.measured_underside import MeasuredUnderside, Targets, hand_on
from saddlebench.cli.stated import instrument_named
from saddlebench.cli.trace import (
    Corners,
    KnownLength,
    Photos,
    RulerAcross,
    RulerDown,
    Size,
    read_photos,
    traced,
)
from saddlebench.cli.trace_asked import Plain, asked_of, distances_of, gaps_in_list

if TYPE_CHECKING:
    from saddlebench.exchange.tracings.across_saddle import SectionsStated

At = Annotated[
    str, typer.Option(help="Stations 1, 2, 3 … behind the front edge of the panels, mm: “18, 60, 120, 180”.")
]
Lean = Annotated[
    str,
    typer.Option(
        help="How a rule across both panels leans at each station, upside down, near side higher plus, °; "
        "a dash where none was read: “0.5, -, -0.3, 0”. Twist and unevenness need it."
    ),
]
Gaps = Annotated[
    str,
    typer.Option(
        help="From a straight rod laid along the near panel's inner edge to that edge, at each station, mm; "
        "without it the saddle's numbers say how high the sections lie."
    ),
]
Channel = Annotated[
    str, typer.Option(help="Where no strokes mark the inner edges: the channel's width at each station, mm.")
]


def from_tracings(
    photos: Photos,
    saddle: Annotated[
        Path, typer.Option("--saddle", "-s", help="Saddle file (TOML or JSON): its numbers.", readable=False)
    ],
    at: At,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="Where the record is written.", readable=False)
    ],
    lean: Lean = "",
    gaps: Gaps = "",
    channel: Channel = "",
    mirrored: Annotated[
        bool, typer.Option("--mirrored", help="The near panel is on the right of the tracings.")
    ] = False,
    curve: Annotated[
        str, typer.Option(help="The flexible curve: instrument file or shipped name.")
    ] = "curve-mm",
    ruler_across: RulerAcross = None,
    ruler_down: RulerDown = None,
    corners: Corners = "",
    size: Size = "",
    length: KnownLength = "",
    picture: Annotated[
        Path | None, typer.Option("--picture", help="Where the underside is drawn (SVG).", readable=False)
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a saddle record from photos of tracings across its panels, saddle upside down.

    \b
    Examples:
      saddlebench trace sheet saddle --paper a3 -o saddle-sheet.pdf
      saddlebench saddle trace *.jpg --saddle rowan.toml --at "18, 60, 120, 200, 300, 402" -o r.saddle.json
    """
    stated = _stated(at, lean, gaps, channel, mirrored=mirrored)
    asked = asked_of(
        ruler_across, ruler_down, Plain(corners=corners, size=size, length=length, kind="saddle")
    )
    with guarded("saddle trace", as_json=as_json):
        from saddlebench.exchange.drawings.traced_underside import traced_underside
        from saddlebench.exchange.job import saddle_record
        from saddlebench.exchange.tracings.traced_saddle import saddle_from_tracings
        from saddlebench.exchange.tracings.traced_saddle_words import tracing_measures, tracing_sentences

        to = Targets(output=output, picture=picture, overwrite=overwrite)
        to.require_free()
        record = saddle_record(saddle, mesh=None, mesh_unit="")
        tool = traced(instrument_named(curve))
        made = saddle_from_tracings(record, read_photos(photos, asked, quiet=as_json), stated, tool)
        measured = MeasuredUnderside(
            record=made.record,
            measures=tracing_measures(made),
            sentences=tracing_sentences(made),
            remarks=made.remarks,
            draw=lambda: traced_underside(made.underside, made.record.label),
        )
        hand_on("saddle trace", measured, to, as_json=as_json)


def _stated(at: str, lean: str, gaps: str, channel: str, *, mirrored: bool) -> "SectionsStated":
    from saddlebench.exchange.tracings.across_saddle import SectionsStated

    return SectionsStated(
        behind_mm=tuple(distances_of(at, "--at")),
        leans_deg=gaps_in_list(lean, "--lean"),
        gaps_mm=tuple(distances_of(gaps, "--gaps")),
        channel_mm=gaps_in_list(channel, "--channel"),
        mirrored=mirrored,
    )
