"""The command that looks at a scan of which nothing is known, and proposes its marks file."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    print_problems,
    progress,
    require_free,
    words,
)
from saddlebench.cli.stated import day_named, one_of, unit_named

if TYPE_CHECKING:
    from saddlebench.engine.frames import FloatArray
    from saddlebench.engine.scan.level import LevelBy
    from saddlebench.engine.units import Length
    from saddlebench.exchange.scans import LookedAt

_AXES = ("+x", "-x", "+y", "-y", "+z", "-z")


def look(
    scans: Annotated[
        list[Path],
        typer.Argument(
            help="Scan as it comes: PLY, OBJ, STL, OFF, GLB, XYZ or LAS; or two to six files that each show "
            "a part of the horse.",
            readable=False,
        ),
    ],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Where the proposed marks file is written.", readable=False),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="Where a picture (PNG) of it is written.", readable=False)
    ] = None,
    unit: Annotated[str, typer.Option("--unit", help="Unit of the scan: mm, cm, m or in.")] = "",
    height: Annotated[
        float, typer.Option("--height", help="Height at the withers as measured, in mm, instead of a unit.")
    ] = 0.0,
    up: Annotated[
        str, typer.Option("--up", help="Axis that points up, where the scan shows no ground.")
    ] = "",
    level: Annotated[
        str,
        typer.Option(
            "--level",
            help="What is level: axis (the scan's own, as a phone feels it) or ground (it was level there). "
            "Else the axis near the ground's normal, if there is one.",
        ),
    ] = "",
    head: Annotated[str, typer.Option("--head", help="Axis nearest to where the head is.")] = "",
    day: Annotated[str, typer.Option(help="Day of the scan (2026-05-14).")] = "",
    label: Annotated[str, typer.Option(help="What the record is to be called.")] = "",
    pieces: Annotated[
        Path | None,
        typer.Option(
            "--pieces", help="Of several files: units, common points (TOML, [[pieces]]).", readable=False
        ),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Find the horse in a scan, say in which unit it would be how high, and propose its marks.

    The unit is asked, never guessed. What is proposed is to be felt for on the horse: correct the marks file
    with what you felt, then make the record with `back scan`.

    Several files are laid on each other first, by the surface that they share; their unit is needed for that.

    \b
    Example:
      saddlebench back look mare.glb --unit m -o mare.marks.toml --picture mare.png
      saddlebench back look near.ply off.ply --unit m --picture mare.png
    """
    length = unit_named(unit)
    measured_on = day_named(day)
    directions = {"up": _axis(up, "--up"), "forward": _axis(head, "--head")}
    level_by = _level(level)
    with guarded("back look", as_json=as_json):
        from saddlebench.exchange.scans import marks_text

        for path in (output, picture):
            if path is not None:
                require_free(path, overwrite=overwrite)
        looked = _looked(scans, length, pieces, directions, level_by, quiet=as_json)
        if picture is not None:
            from saddlebench.exchange.drawings.scan_look import scan_picture

            picture.write_bytes(scan_picture(looked))
        if output is not None:
            text = marks_text(
                looked,
                unit=None if looked.pieces else length,
                height_mm=height or None,
                label=label,
                measured_on=measured_on,
            )
            output.write_text(text, encoding="utf-8")
        _tell(looked, output, picture, as_json=as_json)


def _looked(
    scans: list[Path],
    unit: "Length | None",
    stated: Path | None,
    directions: "dict[str, FloatArray | None]",
    level_by: "LevelBy | None",
    *,
    quiet: bool,
) -> "LookedAt":
    from saddlebench.engine.errors import Where
    from saddlebench.exchange.scans import (
        look_at_pieces,
        look_at_scan,
        read_pieces_file,
        several_pieces,
    )

    said = () if stated is None else read_pieces_file(stated).pieces
    where = Where(field="--unit") if stated is None else Where(file=stated.name)
    parts = several_pieces(scans, said, unit, where)
    if not parts:
        return look_at_scan(scans[0], up=directions["up"], forward=directions["forward"], level_by=level_by)
    up, forward = directions["up"], directions["forward"]
    first = parts[0] if up is None else replace(parts[0], up=up)
    with progress(quiet=quiet) as show:
        task = f"{len(parts)} pieces"
        looked = look_at_pieces(
            [first, *parts[1:]],
            forward=forward,
            level_by=level_by,
            tell=lambda done, of, doing: show(task, done, of, doing),
        )
        show(task, 1, 1, "done")
    return looked


def _axis(text: str, hint: str) -> "FloatArray | None":
    if not text:
        return None
    import numpy as np

    from saddlebench.exchange.scans.marks import axis_vector

    return np.array(axis_vector(one_of(text, _AXES, hint)))  # type: ignore[arg-type]


def _level(text: str) -> "LevelBy | None":
    from saddlebench.engine.scan.level import LevelBy

    ways = {"axis": LevelBy.AXIS, "ground": LevelBy.LEVEL_GROUND}
    return ways[one_of(text, tuple(ways), "--level")] if text else None


def _tell(looked: "LookedAt", output: Path | None, picture: Path | None, *, as_json: bool) -> None:
    from saddlebench.engine.units import Length

    heights = {unit.value: round(looked.height_mm(unit)) for unit in Length}
    if as_json:
        result = {
            "points": looked.n_points,
            "faces": looked.n_faces,
            "ground_seen": looked.ground is not None,
            "head_clear": looked.head_clear,
            "like_a_horse": looked.like_a_horse,
            "up": looked.up.tolist(),
            "level_by": looked.level_by.value,
            "ground_falls_deg": looked.falls_deg,
            "head": looked.forward.tolist(),
            "height_mm_if_unit": heights,
            "likely_units": [unit.value for unit in looked.likely],
            "marks": {str(mark): point.tolist() for mark, point in looked.marks.items()},
            "pieces": [
                {
                    "file": piece.name,
                    "unit": piece.unit.value,
                    "overlap": piece.overlap,
                    "apart_mm": piece.apart_mm,
                    "laid_within_mm": piece.sure_mm,
                }
                for piece in looked.pieces
            ],
            "written": None if output is None else str(output),
            "picture": None if picture is None else str(picture),
        }
        print_json("back look", problems=looked.remarks, result=result)
        return
    console = words()
    print_problems(looked.remarks)
    kind = f"{looked.n_faces:,} faces" if looked.n_faces else f"{looked.n_points:,} points, no faces"
    ground = "" if looked.ground is None else " on its ground"
    console.print(f"{looked.name}: {kind}; an animal was found{ground}.")
    # Pieces could only be laid on each other in a stated unit.
    for unit in [looked.pieces[0].unit] if looked.pieces else looked.likely:
        console.print(f"If its unit is {unit}, the withers stand {heights[unit.value] / 1000.0:.2f} m high.")
    listed = ", ".join(mark.value for mark in looked.marks)
    console.print(f"Proposed from the shape, to be felt for: {listed}.")
    if output is None:
        console.print("For a marks file: -o, with the unit (--unit) or the height at the withers (--height).")
    else:
        console.print(f"Written: {output}")
        files = " ".join(piece.name for piece in looked.pieces) or looked.name
        console.print(f"Correct it, then: saddlebench back scan {files} --marks {output.name} -o …")
    if picture is not None:
        console.print(f"Picture: {picture}")
