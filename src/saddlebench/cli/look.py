"""The command that looks at a scan of which nothing is known, and proposes its marks file."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    print_problems,
    require_free,
    words,
)
from saddlebench.cli.stated import day_named, unit_named

if TYPE_CHECKING:
    from saddlebench.engine.frames import FloatArray
    from saddlebench.exchange.scans import LookedAt

_AXES = ("+x", "-x", "+y", "-y", "+z", "-z")


def look(
    scan: Annotated[
        Path,
        typer.Argument(help="Scan as it comes: PLY, OBJ, STL, OFF, GLB, XYZ or LAS.", readable=False),
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
    head: Annotated[str, typer.Option("--head", help="Axis nearest to where the head is.")] = "",
    day: Annotated[str, typer.Option(help="Day of the scan (2026-05-14).")] = "",
    label: Annotated[str, typer.Option(help="What the record is to be called.")] = "",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Find the horse in a scan, say in which unit it would be how high, and propose its marks.

    The unit is asked, never guessed. What is proposed is to be felt for on the horse: correct the marks file
    with what you felt, then make the record with `back scan`.

    \b
    Example:
      saddlebench back look mare.glb --unit m -o mare.marks.toml --picture mare.png
    """
    length = unit_named(unit)
    measured_on = day_named(day)
    directions = {"up": _axis(up, "--up"), "forward": _axis(head, "--head")}
    with guarded("back look", as_json=as_json):
        from saddlebench.exchange.scans import look_at_scan, marks_text

        for path in (output, picture):
            if path is not None:
                require_free(path, overwrite=overwrite)
        looked = look_at_scan(scan, **directions)
        if picture is not None:
            from saddlebench.exchange.drawings.scan_look import scan_picture

            picture.write_bytes(scan_picture(looked))
        if output is not None:
            text = marks_text(
                looked, unit=length, height_mm=height or None, label=label, measured_on=measured_on
            )
            output.write_text(text, encoding="utf-8")
        _tell(looked, output, picture, as_json=as_json)


def _axis(text: str, hint: str) -> "FloatArray | None":
    if not text:
        return None
    if text not in _AXES:
        message = f"“{text}” is not one of {', '.join(_AXES)}."
        raise typer.BadParameter(message, param_hint=hint)
    import numpy as np

    from saddlebench.exchange.scans.marks import axis_vector

    return np.array(axis_vector(text))  # type: ignore[arg-type]


def _tell(looked: "LookedAt", output: Path | None, picture: Path | None, *, as_json: bool) -> None:
    from saddlebench.engine.units import Length

    heights = {unit.value: round(looked.height_mm(unit)) for unit in Length}
    if as_json:
        result = {
            "points": looked.n_points,
            "faces": looked.n_faces,
            "ground_seen": looked.ground_offset is not None,
            "head_clear": looked.head_clear,
            "like_a_horse": looked.like_a_horse,
            "up": looked.up.tolist(),
            "head": looked.forward.tolist(),
            "height_mm_if_unit": heights,
            "likely_units": [unit.value for unit in looked.likely],
            "marks": {str(mark): point.tolist() for mark, point in looked.marks.items()},
            "written": None if output is None else str(output),
            "picture": None if picture is None else str(picture),
        }
        print_json("back look", problems=looked.remarks, result=result)
        return
    console = words()
    print_problems(looked.remarks)
    kind = f"{looked.n_faces:,} faces" if looked.n_faces else f"{looked.n_points:,} points, no faces"
    ground = "" if looked.ground_offset is None else " on its ground"
    console.print(f"{looked.name}: {kind}; an animal was found{ground}.")
    for unit in looked.likely:
        console.print(f"If its unit is {unit}, the withers stand {heights[unit.value] / 1000.0:.2f} m high.")
    listed = ", ".join(mark.value for mark in looked.marks)
    console.print(f"Proposed from the shape, to be felt for: {listed}.")
    if output is None:
        console.print("For a marks file: -o, with the unit (--unit) or the height at the withers (--height).")
    else:
        console.print(f"Written: {output}")
        console.print(f"Correct it, then: saddlebench back scan {looked.name} --marks {output.name} -o …")
    if picture is not None:
        console.print(f"Picture: {picture}")
