"""A scan as it was understood: looked at, its marks set by a tap or by numbers, its unit stated, recorded."""

import uuid as uuids
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import Length, parse_number
from saddlebench.exchange.scans import LookedAt, marks_text
from saddlebench.exchange.scans.look import LETTERED, frame_of
from saddlebench.practice.enums import Action
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.scan.held import HeldScan, held_scan, keep_moved
from saddlebench.web.scan.working import ask_record

FARTHEST_MM = 600.0
UNIT_WORDS = {Length.MM: "millimetres", Length.CM: "centimetres", Length.M: "metres", Length.INCH: "inches"}


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRow:
    """A mark on the page."""

    key: str
    letter: str
    words: str
    is_moved: bool
    by: str
    """Towards the tail, as it was typed."""
    is_felt: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LookShown:
    """The page as it stands."""

    uuid: uuids.UUID
    horse: uuids.UUID
    horse_label: str
    day: str
    size: str
    remarks: tuple[Problem, ...]
    units: tuple[tuple[str, str, str, bool], ...]
    """Value, words, height it would be, whether it is likely."""
    unit: str
    height: str
    has_ground: bool
    marks: tuple[MarkRow, ...]
    stamp: str
    problems: tuple[Problem, ...] = ()


@signed_in(Action.RECORD_BACK)
def look(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show what was found in a scan."""
    return _page(request, held_scan(request.actor, uuid), {}, ())


@signed_in(Action.RECORD_BACK)
def picture(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the picture of a scan with its marks."""
    from saddlebench.exchange.drawings.scan_look import scan_picture  # noqa: PLC0415 - slow to load

    held = held_scan(request.actor, uuid)
    return HttpResponse(scan_picture(held.looked, held.moved), content_type="image/png")


@signed_in(Action.RECORD_BACK, DEED)
def mark(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Set a mark where the picture was tapped, on the topline above or below it; or take it back."""
    held = held_scan(request.actor, uuid)
    which = _mark_named(request.POST.get("mark", ""))
    moved = dict(held.moved)
    if request.POST.get("back"):
        moved.pop(which, None)
    else:
        read = parse_number(request.POST.get("across", ""), Where(field="place"))
        if isinstance(read, Problem) or not 0.0 <= read <= 1.0:
            raise input_problem("this is no place in the picture", "Tap on the horse.", Where(field="place"))
        left, right, _ = frame_of(held.looked)
        moved[which] = held.looked.on_topline(left + read * (right - left))
    keep_moved(uuid, moved)
    say(request, f"The {which} is {'where the shape proposes it' if request.POST.get('back') else 'set'}.")
    return HttpResponseRedirect(reverse("scan:look", args=[uuid]))


@signed_in(Action.RECORD_BACK, DEED)
def record(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Have the back recorded, its unit stated and its marks as they stand."""
    held = held_scan(request.actor, uuid)
    try:
        text = marks_of_form(held, request.POST)
        key = ask_record(request.actor, uuid, held.horse, held.horse_label, held.day, text)
    except InputProblemsError as error:
        return _page(request, held, request.POST, error.problems)
    return HttpResponseRedirect(reverse("job", args=[key]))


def marks_of_form(held: HeldScan, posted: Mapping[str, str]) -> str:
    """Return the marks file that a form states.

    Raises
    ------
    InputProblemsError
        If the unit is not stated, or a number cannot be used.
    """
    problems: list[Problem] = []
    unit = Length(posted["unit"]) if posted.get("unit", "") in list(Length) else None
    height = _number(posted.get("height", ""), "Height at the withers", (500.0, 2200.0), problems)
    if unit is not None and height is not None:
        what, cure = "both a unit and a height are stated", "State one: the other follows from it."
        problems.append(Problem(what=what, cure=cure, where=Where(field="Unit")))
    shifts = {
        mark: _number(posted.get(f"by-{mark.name}", ""), str(mark), (-FARTHEST_MM, FARTHEST_MM), problems)
        for mark, _ in LETTERED
    }
    felt = [mark for mark, _ in LETTERED if posted.get(f"felt-{mark.name}")]
    if problems:
        raise InputProblemsError(problems)
    return stated_marks(held.looked, held.moved, held.day, held.horse_label, unit, height, shifts, felt)


def stated_marks(
    looked: LookedAt,
    moved: Mapping[ScanMark, FloatArray],
    day: date,
    label: str,
    unit: Length | None,
    height_mm: float | None,
    shifts_mm: Mapping[ScanMark, float | None],
    felt: Sequence[ScanMark],
) -> str:
    """Return the marks file for what a person stated.

    Parameters
    ----------
    looked : LookedAt
    moved : (3,) float each, instrument frame, the scan's unit
    day, label : of the record
    unit, height_mm : one of the two
    shifts_mm : towards the tail, by mark [mm]
    felt : marks that were felt for on the horse where they now are

    Raises
    ------
    InputProblemsError
        If neither the unit nor the height is stated, or both.
    """
    marks_text(looked, unit=unit, height_mm=height_mm)  # asks for the unit before anything is moved by mm
    placed = {**looked.marks, **moved}
    if unit is not None:
        per_mm = 1.0 / unit.in_mm
    else:
        top = float(placed[ScanMark.WITHERS] @ looked.up) - (looked.ground_offset or 0.0)
        per_mm = top / (height_mm or 1.0)
    for mark, shift in shifts_mm.items():
        if shift and mark in placed:
            x = float(looked.placed(placed[mark][None])[0, 0]) - shift * per_mm
            placed[mark] = looked.on_topline(x)
    # Set by a person without having been felt for, a mark is still no more than proposed.
    where = {mark: placed[mark] for mark in felt if mark in placed}
    return marks_text(
        replace(looked, marks=placed),
        unit=unit,
        height_mm=height_mm,
        label=f"{label}, {day.isoformat()}",
        measured_on=day,
        moved=where,
    )


def _mark_named(name: str) -> ScanMark:
    for mark, _ in LETTERED:
        if mark.name == name:
            return mark
    raise input_problem("no mark was chosen", "Choose one of A to D.", Where(field="mark"))


def _number(text: str, words: str, bounds: tuple[float, float], problems: list[Problem]) -> float | None:
    if not text.strip():
        return None
    where = Where(field=words)
    read = parse_number(text, where)
    if isinstance(read, Problem):
        problems.append(read)
        return None
    if not bounds[0] <= read <= bounds[1]:
        what = f"{read:g} mm is not between {bounds[0]:g} and {bounds[1]:g}"
        problems.append(Problem(what=what, cure="Check the number and its unit.", where=where))
        return None
    return read


def _page(
    request: PageRequest, held: HeldScan, posted: Mapping[str, str], problems: Sequence[Problem]
) -> HttpResponse:
    looked = held.looked
    size = f"{looked.n_faces:,} faces" if looked.n_faces else f"{looked.n_points:,} points"
    shown = LookShown(
        uuid=held.uuid,
        horse=held.horse,
        horse_label=held.horse_label,
        day=held.day.isoformat(),
        size=size,
        remarks=looked.remarks,
        units=tuple(
            (unit.value, UNIT_WORDS[unit], _height_words(looked, unit), unit in looked.likely)
            for unit in Length
        ),
        unit=posted.get("unit", ""),
        height=posted.get("height", ""),
        has_ground=looked.ground_offset is not None,
        marks=tuple(
            MarkRow(
                key=mark.name,
                letter=letter,
                words=str(mark),
                is_moved=mark in held.moved,
                by=posted.get(f"by-{mark.name}", ""),
                is_felt=bool(posted.get(f"felt-{mark.name}")),
            )
            for mark, letter in LETTERED
            if mark in looked.marks
        ),
        stamp=f"{zlib.crc32(repr(sorted((m.name, *p.tolist()) for m, p in held.moved.items())).encode()):x}",
        problems=tuple(problems),
    )
    title = f"Scan of {held.horse_label}"
    return show(request, "scan/look.html", title, shown, status=422 if problems else 200)


def _height_words(looked: LookedAt, unit: Length) -> str:
    height = looked.height_mm(unit)
    if height >= 100_000.0:
        return f"{height / 1e6:,.1f} km"
    return f"{height / 1000.0:.2f} m" if height >= 10.0 else f"{height:.2f} mm"
