"""A sheet of parts as a flat drawing: cut lines, engraved lines and numbers, check bars, the sheet's edge."""

from collections.abc import Iterator

import numpy as np
from shapely.geometry import Point, Polygon

from saddlebench.engine.replica.ribs import PartKind
from saddlebench.exchange.drawings.ink import shortened
from saddlebench.exchange.planar import Label, Layer, PlanarDrawing, Stroke
from saddlebench.exchange.ribs.engraved import engraved
from saddlebench.exchange.ribs.nest import NestedPart, NestedSheet
from saddlebench.exchange.vocabulary import said

NUMBER_MM = 8.0


def sheet_drawing(sheet: NestedSheet, of: int, label: str, day: str, thickness_mm: float) -> PlanarDrawing:
    """Return one sheet as a flat drawing.

    Parameters
    ----------
    sheet : what lies where
    of : how many sheets there are
    label, day : of the back record
    thickness_mm : the sheets must have [mm]
    """
    width, height = sheet.choices.width_mm, sheet.choices.height_mm
    edge = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    strokes = [Stroke(layer=Layer.SHEET, points=edge, closed=True)]
    labels = [
        Label(
            words=f"{shortened(label, 40)}, {day}: "
            + said(
                f"ribs {sheet.number} of {of}, {width:g} mm x {height:g} mm, {thickness_mm:g} mm thick. "
                f"This frame is {width:g} mm wide. "
                f"{100 * sheet.used_share:.0f} % of the board cut into is used."
            ),
            at=(4.0, height + 3.0),
            height_mm=4.0,
            centred=False,
            layer=Layer.SHEET,
        )
    ]
    for part in sheet.parts:
        strokes.append(Stroke(layer=Layer.CUT, points=part.edge, closed=True))
        numbered = engraved(part.number, _up(part, 4.0), NUMBER_MM, part.quarters)
        strokes += [Stroke(layer=Layer.ENGRAVE, points=line) for line in (*part.lines, *numbered)]
        labels += _labels(part)
    return PlanarDrawing(
        name=f"ribs-sheet-{sheet.number}",
        title=f"{label}: {said(f'ribs, sheet {sheet.number} of {of}')}",
        description=said(
            f"Parts at true size in mm, for sheets {thickness_mm:g} mm thick. "
            "Cut CUT, engrave ENGRAVE and TEXT, leave SHEET."
        ),
        strokes=tuple(strokes),
        labels=tuple(labels),
        box=(0.0, 0.0, width, height + 12.0),
    )


def _up(part: NestedPart, mm: float) -> tuple[float, float]:
    """Return the place so far above the middle of a part's room, as the part itself has up [mm]."""
    x, y = np.array(part.label_at) + part.to_sheet[:, :2] @ np.array([0.0, mm])
    return float(x), float(y)


def _labels(part: NestedPart) -> list[Label]:
    turn = 90.0 * part.quarters
    side = "near on the left, face to the rear" if part.of_part.kind is PartKind.RIB else "front on the left"
    words = ((part.title, -6.0), (side, -10.5))
    named = [
        Label(words=said(text), at=_up(part, off), height_mm=3.0, turned_deg=turn) for text, off in words
    ]
    return [*named, *_slot_labels(part, turn)]


def _slot_labels(part: NestedPart, turn: float) -> Iterator[Label]:
    """Say beside each slot's end which part goes in."""
    # A rib's slots come from below: their names stand above the end; a member's, below it.
    beyond = 4.0 if part.of_part.kind is PartKind.RIB else -7.0
    edge = Polygon(part.edge)
    for slot in part.of_part.slots:
        at = part.to_sheet @ [slot.at_mm, slot.depth_to_mm + beyond, 1.0]
        if edge.contains(Point(at)):
            yield Label(words=slot.meets, at=(float(at[0]), float(at[1])), height_mm=3.0, turned_deg=turn)
