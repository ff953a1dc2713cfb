"""The marks file that a look at a scan proposes, with what a person stated."""

import datetime as dt
import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import InputProblemsError, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import Length
from saddlebench.exchange.scans.look import FIELD_OF, LookedAt

_HEIGHT_SD_MM = 10.0


def marks_text(
    looked: LookedAt,
    *,
    unit: Length | None = None,
    height_mm: float | None = None,
    label: str = "",
    measured_on: dt.date | None = None,
    moved: Mapping[ScanMark, FloatArray] | None = None,
) -> str:
    """Return a marks file for the scan, with what was proposed and what a person stated.

    Parameters
    ----------
    looked : LookedAt
    unit : of the scan; or
    height_mm : of the withers above the ground [mm], where ground was found; one of the two
    label, measured_on : of the record
    moved : (3,) float each, instrument frame, the scan's unit: marks that a person set

    Raises
    ------
    InputProblemsError
        If neither or both are stated, or a height without ground.
    """
    if looked.pieces:
        unit = _unit_of_pieces(looked, unit, height_mm)
    if (unit is None) == (height_mm is None):
        raise _unit_asked(looked)
    moved = moved or {}
    marks = {**looked.marks, **moved}
    lines = [f"label = {_quoted(label or _label_of(looked))}"]
    if measured_on is not None:
        lines.append(f"measured_on = {measured_on.isoformat()}")
    points = []
    if unit is not None:
        lines.append(f'unit = "{unit}"')
    elif height_mm is not None:
        if looked.ground is None:
            raise input_problem(
                "the height at the withers says nothing: no ground is seen in the scan",
                "State the unit instead.",
                Where(file=looked.name),
            )
        if ScanMark.WITHERS not in marks:
            raise input_problem(
                "the height at the withers says nothing: the withers are not seen in the scan",
                "Tap them on the picture first, or state the unit instead.",
                Where(file=looked.name),
            )
        # Measured as with a stick: at the highest withers spine, wherever a person puts that.
        top = marks[ScanMark.WITHERS]
        foot = top - looked.ground.height(top, looked.up) * looked.up
        points = ["", "[points]", f"ground = {_place(foot)}"]
        lines.append(
            f'known_length = {{ between = ["withers", "ground"], length_mm = {height_mm:g}, '
            f'sd_mm = {_HEIGHT_SD_MM:g}, measured = "upright" }}'
        )
    lines.append(f"up = {{ vector = {_place(looked.up)} }}")
    lines.append(f'level_by = "{looked.level_by}"')
    lines.append(f"head = {{ vector = {_place(looked.forward)} }}")
    names = [FIELD_OF[mark] for mark in marks if mark not in moved]
    if names:
        listed = ", ".join(f'"{name}"' for name in names)
        lines.append(
            "# Proposed from the shape alone; take a name out when you have felt for it on the horse."
        )
        lines.append(f"proposed = [{listed}]")
    lines += ["", "[marks]", *(f"{FIELD_OF[mark]} = {_place(point)}" for mark, point in marks.items())]
    return "\n".join([*lines, *points, *_pieces_table(looked)]) + "\n"


def _label_of(looked: LookedAt) -> str:
    names = [piece.name for piece in looked.pieces] or [looked.name]
    return " + ".join(Path(name).stem for name in names)


def _unit_of_pieces(looked: LookedAt, unit: Length | None, height_mm: float | None) -> Length:
    own = looked.pieces[0].unit
    if height_mm is not None or unit not in (None, own):
        what = f"the pieces were laid on each other as scans in {own}"
        raise input_problem(
            what,
            f"Leave the unit as it is ({own}), or have them looked at again with another unit.",
            Where(file=looked.name, field="unit"),
        )
    return own


def _pieces_table(looked: LookedAt) -> list[str]:
    """Return the table of pieces of a marks file: what each was stated to be when they were merged."""
    lines = []
    for piece in looked.pieces:
        lines += ["", "[[pieces]]", f"file = {_quoted(piece.name)}", f'unit = "{piece.unit}"']
        if piece.up:
            lines.append(f"up = {_place(np.array(piece.up))}")
        if piece.common:
            places = ", ".join(_place(np.array(point)) for point in piece.common)
            lines.append(f"common = [{places}]")
    return lines


def _unit_asked(looked: LookedAt) -> InputProblemsError:
    heights = "; ".join(f"in {unit} {looked.height_mm(unit) / 1000.0:.2f} m" for unit in looked.likely)
    likely = f" At the withers the horse would be: {heights}." if heights else ""
    return input_problem(
        "the size of the scan is not known: its unit is asked, never guessed",
        f"State the unit, or the height at the withers as measured.{likely}",
        Where(file=looked.name, field="unit"),
    )


def _place(point: FloatArray) -> str:
    return "[" + ", ".join(f"{float(x):.9g}" for x in point) + "]"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
