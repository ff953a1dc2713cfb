"""From a file with an upturned saddle in it to a saddle record, with everything there is to say of it."""

from dataclasses import replace
from enum import StrEnum
from pathlib import Path

import numpy as np

from saddlebench.engine.errors import InputProblemsError, Problem, Weight, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.saddle.grid import LEFT
from saddlebench.engine.saddle.model import SaddleModel
from saddlebench.engine.saddle.numbers import model_from_numbers
from saddlebench.engine.saddle.record import SaddleRecord
from saddlebench.engine.saddle.underside.become import ScannedSaddle, panelled_of, with_scanned
from saddlebench.engine.saddle.underside.cloud import (
    FINE_MM,
    refuse_absurd,
    surface_points,
    thinned,
    unit_guesses,
)
from saddlebench.engine.saddle.underside.evenness import Unevenness, unevenness
from saddlebench.engine.saddle.underside.found import FoundUnderside, Tell, find_underside
from saddlebench.engine.saddle.underside.placing import place, turned_round
from saddlebench.engine.units import Length
from saddlebench.exchange.altering import ZONE_WORDS
from saddlebench.exchange.scans.mesh import read_mesh

PATTERN_POINTS = 1500
_STEPS = 4
NOT_SEEN = """Not seen: the tree’s points (they lie inside the panels), the inside of the arch, and how the \
seat is meant to lie. Width, depth and angle of the points and the seat’s rise stay as measured by hand."""


class Heading(StrEnum):
    """Which end of the scan is the pommel."""

    FROM_SHAPE = "from the shape"
    AS_FOUND = "as found"
    TURNED = "the other way round"


def saddle_from_scan(
    record: SaddleRecord,
    path: Path,
    unit: Length | None,
    *,
    heading: Heading = Heading.FROM_SHAPE,
    tell: Tell | None = None,
) -> ScannedSaddle:
    """Return a saddle's record with its underside from a scan of the saddle lying upside down.

    Parameters
    ----------
    record : the saddle by its numbers, good to some 10 mm
    path : mesh or point cloud, in any axes, with whatever stands around
    unit : the unit it is in; it is never guessed
    heading : which end is the pommel, where the shape does not say it
    tell : told how far it is; what it raises ends the work

    Raises
    ------
    InputProblemsError
        If the file cannot be read, the unit or the heading has to be stated, or no underside is found.
    """
    panelled_of(record.numbers)
    say = tell if tell is not None else _nothing
    say(0, _STEPS, "reading the file")
    mesh = read_mesh(path, clouds=True)
    if unit is None:
        raise unit_asked(mesh.vertices, path.name)
    points = surface_points(mesh.vertices * unit.in_mm, mesh.faces)
    refuse_absurd(points, path.name)
    points = thinned(points, FINE_MM)
    pattern = _pattern(record)
    say(1, _STEPS, "looking for the saddle")
    placed = place(points, pattern)
    remarks = list(mesh.remarks)
    if heading is Heading.TURNED:
        placed = turned_round(placed, panelled_of(record.numbers).panel.length_mm)
    elif heading is Heading.FROM_SHAPE and not placed.heading_is_sure:
        what = (
            "pommel and cantle cannot be told apart by the shape: one way it lies "
            f"{placed.off_mm:.1f} mm off the saddle’s numbers, the other way {placed.turned_off_mm:.1f} mm"
        )
        cure = "Look at the picture: say “as found”, or “the other way round”."
        remarks.append(Problem(what=what, cure=cure, where=Where(field="heading"), weight=Weight.WARNING))
    say(2, _STEPS, "the saddle’s axes, channel and panels")
    found = find_underside(points, placed, pattern, lambda _done, _of, doing: say(2, _STEPS, doing))
    say(3, _STEPS, "the record")
    scanned = with_scanned(record, found)
    said = tuple(replace(one, where=Where(file=path.name)) for one in scanned.remarks)
    return replace(scanned, remarks=(*remarks, *said))


def unit_asked(vertices: FloatArray, name: str) -> InputProblemsError:
    """Return the question for the unit, with what each would make of vertices (n, 3) [any unit]."""
    guesses = unit_guesses(vertices)
    lengths = ", ".join(f"in {one.unit.value} {one.longest_mm:.0f} mm" for one in guesses)
    likely = [one.unit.value for one in guesses if one.is_likely]
    offered = f"Likely: {' or '.join(likely)}. " if likely else "None of them is likely for a saddle. "
    where = Where(file=name, field="unit")
    return input_problem(
        f"the unit of the scan is not stated; its longest measure would be {lengths}",
        f"{offered}State it: it is never guessed.",
        where,
    )


def scan_measures(scanned: ScannedSaddle) -> dict[str, object]:
    """Return what was found in numbers, for machines and for a page."""
    found, error = scanned.found, scanned.record.shape_error
    panel = panelled_of(scanned.record.numbers).panel
    narrowest, behind = _narrowest(found)
    return {
        "length_mm": round(found.length_mm, 1),
        "channel_mm": list(panel.channel_mm),
        "channel_sd_mm": None if error is None else round(error.channel_mm, 1),
        "narrowest_channel_mm": round(narrowest, 1),
        "narrowest_behind_mm": round(behind),
        "panel_width_mm": list(panel.width_mm),
        "panel_angle_deg": list(panel.angle_deg),
        "twist_deg": round(float(np.degrees(found.twist)), 2),
        "twist_sd_deg": round(float(np.degrees(found.twist_sd)), 2),
        "noise_mm": round(found.noise_mm, 2),
        "measured_share": round(found.measured_share, 3),
        "off_numbers_mm": round(found.unlike_mm, 1),
        "rows_left_out_mm": [round(one) for one in scanned.rows_left_out],
    }


def scan_sentences(scanned: ScannedSaddle) -> list[str]:
    """Return what was found in words; every figure with how sure it is."""
    found, error = scanned.found, scanned.record.shape_error
    front, waist, rear = panelled_of(scanned.record.numbers).panel.channel_mm
    narrowest, behind = _narrowest(found)
    sure = "" if error is None else f" (± {error.channel_mm:.1f} mm)"
    twist, twist_sd = float(np.degrees(found.twist)), float(np.degrees(found.twist_sd))
    side = "near" if twist > 0.0 else "off"
    twisted = (
        f"The rear is turned by {abs(twist):.1f}° ± {twist_sd:.1f}° against the front, {side} side up."
        if abs(twist) > 3.0 * twist_sd
        else f"No twist is told: {abs(twist):.1f}° ± {twist_sd:.1f}°."
    )
    channel = (
        f"Channel {front:.0f} / {waist:.0f} / {rear:.0f} mm wide at front, waist and rear{sure}, narrowest "
        f"{narrowest:.0f} mm at {behind:.0f} mm behind the front edge."
    )
    sentences = [channel, f"Panels {found.length_mm:.0f} mm long (± 4 mm).", twisted]
    lumps = [one for one in evenness_of(scanned) if one.is_told]
    sentences += [unevenness_words(one) for one in lumps]
    if not lumps:
        sentences.append("Both panels are as even as the scan can tell.")
    return [*sentences, NOT_SEEN]


def _narrowest(found: FoundUnderside) -> tuple[float, float]:
    """Return the channel's least width and where it is behind the front edge [mm], rounded ends apart."""
    inside = (found.behind_mm > 0.06 * found.length_mm) & (found.behind_mm < 0.92 * found.length_mm)
    at = int(np.argmin(np.where(inside, found.channel_mm, np.inf)))
    return float(found.channel_mm[at]), float(found.behind_mm[at])


def evenness_of(scanned: ScannedSaddle) -> tuple[Unevenness, ...]:
    """Return every zone of both panels against a smooth panel, near side first."""
    found = scanned.found
    return (*unevenness(found.near, found.length_mm), *unevenness(found.off, found.length_mm))


def unevenness_words(one: Unevenness) -> str:
    """Return one zone's largest lump or hollow in words."""
    side = "near" if one.side == LEFT else "off"
    what = "stands out" if one.most_mm > 0.0 else "is hollow"
    across = (
        "by the channel" if one.across < 1 / 3 else "half way across" if one.across < 2 / 3 else "outside"
    )
    return (
        f"The {side} panel {what} by {abs(one.most_mm):.0f} mm (± {max(one.sd_mm, 0.5):.1f} mm) in its "
        f"{ZONE_WORDS[one.zone]}, {one.behind_mm:.0f} mm behind the front edge, {across}."
    )


def _pattern(record: SaddleRecord) -> SaddleModel:
    numbers = record.numbers
    panelled_of(numbers)
    return model_from_numbers(numbers, PATTERN_POINTS)  # type: ignore[return-value]


def _nothing(_done: int, _of: int, _doing: str) -> None:
    """Tell nobody."""
