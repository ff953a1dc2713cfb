"""A scan as it was understood: looked at, its unit stated, recorded; or what has to be done before."""

import json
import uuid as uuids
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.formats import number_format
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.engine.units import Length, parse_number
from saddlebench.exchange.phrases import SCREENING_NOTE
from saddlebench.exchange.scans import LookedAt, marks_text
from saddlebench.exchange.scans.look import LETTERED
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.jobs import job_page
from saddlebench.practice.queries.scans import ScanPage, ScanRow, ScanState, scan_page
from saddlebench.practice.services.scans import put_scan_aside, state_scan_axes, take_scan_up
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import problem_told, spoken, told, wholly_spoken
from saddlebench.web.scan.axis_words import level_choices, level_named
from saddlebench.web.scan.held import HeldScan, held_scan, look_kept
from saddlebench.web.scan.marking import MarkShown, marks_shown
from saddlebench.web.scan.unit_words import UNIT_WORDS
from saddlebench.web.scan.working import AXES, ask_look, ask_record

FARTHEST_MM = 600.0
SCRIPT_WORDS = {
    "label": _(
        "The horse in 3-D. Arrow keys turn it, or move the chosen mark; Enter puts the chosen mark in "
        "the middle of the view; plus and minus bring it closer or further away; Home puts the view back."
    ),
    "loading": _("Loading the 3-D view …"),
    "saving": _("Saving …"),
    "moved": _("Moved."),
    "lost": _("Not saved: no connection, or you were signed out. Load the page again, and set it once more."),
    "gone": _("The device took the 3-D view away. The picture stays; open it again when you like."),
    "cannot": _("The 3-D view cannot be shown on this device. Use the picture, or the numbers below."),
    "missed": _("Nothing was scanned there. Tap on the back where it is shown as a surface."),
    "choose": _("Choose a mark first."),
}
"""What the page's script says."""
_NEEDED = (ScanMark.SHOULDER, ScanMark.LAST_RIB)


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRow:
    """A mark on the page."""

    mark: MarkShown
    by: str
    """Towards the tail, as it was typed."""
    is_felt: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LookShown:
    """The page as it stands."""

    row: ScanRow
    size: str
    remarks: tuple[Problem, ...]
    units: tuple[tuple[str, str, str, bool], ...]
    """Value, words, height it would be, whether it is likely."""
    unit: str
    is_unit_stated: bool
    height: str
    has_ground: bool
    has_skin: bool
    marks: tuple[MarkRow, ...]
    can_undo: bool
    stamp: int
    problems: tuple[Problem, ...] = ()


def state_words(row: ScanRow) -> str:
    """Return how far a scan is, as a sentence without its full stop."""
    return gettext("The scan %(state)s") % {"state": gettext(row.state.value)}


@signed_in(Action.RECORD_BACK)
@spoken
def look(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show what was found in a scan; or how far it is, or what has to be done before it can be seen."""
    page = scan_page(request.actor, uuid)
    if page.row.state in {ScanState.LOOKED_AT, ScanState.RECORDING} and page.row.job:
        return HttpResponseRedirect(reverse("job", args=[page.row.job]))
    looked = look_kept(page)
    if looked is None:
        return _not_looked_at(request, page)
    return _page(request, HeldScan(page=page, looked=looked), {}, ())


def _not_looked_at(request: PageRequest, page: ScanPage) -> HttpResponse:
    job = job_page(request.actor, page.row.job) if page.row.job else None
    title = gettext("Scan of %(horse)s") % {"horse": page.row.horse.label}
    return show(
        request,
        "scan/again.html",
        title,
        page,
        said=told(job.said) if job else "",
        state_words=state_words(page.row),
        axes=AXES,
        levels=level_choices(),
        units=_units_of_pieces(page),
        fresh=uuids.uuid4(),
        fresh_too=uuids.uuid4(),
    )


def _units_of_pieces(page: ScanPage) -> tuple[tuple[str, str], ...]:
    """Return the units to choose from, where several files were laid on each other in one."""
    return tuple((unit.value, str(words)) for unit, words in UNIT_WORDS.items()) if page.unit else ()


@signed_in(Action.RECORD_BACK, DEED)
@spoken
def again(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Look at a scan again, with up, head and unit as stated; it does not have to be brought again."""
    page = scan_page(request.actor, uuid)
    up, head = request.POST.get("up", page.up), request.POST.get("head", page.head)
    text = request.POST.get("unit", "")
    unit = Length(text) if page.unit and text in list(Length) else page.unit
    level_by = level_named(request.POST.get("level", page.level_by or ""))
    if (up, head, level_by, unit) != (page.up, page.head, page.level_by, page.unit):
        state_scan_axes(request.actor, uuid, up=up, head=head, level_by=level_by, unit=unit)
    key = key_of(request.POST.get("key", ""))
    ask_look(request.actor, uuid, key)
    return HttpResponseRedirect(reverse("job", args=[key]))


@signed_in(Action.RECORD_BACK, DEED)
@spoken
def aside(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Set a scan aside, or take it up again; its files stay."""
    row = scan_page(request.actor, uuid).row
    if request.POST.get("up"):
        take_scan_up(request.actor, uuid)
        say(request, gettext("The scan is taken up again."))
        return HttpResponseRedirect(reverse("scan:look", args=[uuid]))
    put_scan_aside(request.actor, uuid)
    say(request, gettext("The scan is set aside. Its files stay, and it can be taken up again."))
    return HttpResponseRedirect(f"{reverse('scan:new')}?horse={row.horse.uuid}")


@signed_in(Action.RECORD_BACK)
@wholly_spoken
def picture(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Give the picture of a scan with its marks."""
    from saddlebench.exchange.drawings.scan_look import scan_picture  # noqa: PLC0415 - slow to load

    held = held_scan(request.actor, uuid)
    return HttpResponse(scan_picture(held.looked, held.moved), content_type="image/png")


@signed_in(Action.RECORD_BACK, DEED)
@spoken
def record(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Have the back recorded, its unit stated and its marks as they stand."""
    held = held_scan(request.actor, uuid)
    try:
        key = ask_record(request.actor, held.page, marks_of_form(held, request.POST))
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
    return stated_marks(held, unit, height, shifts, felt)


def stated_marks(
    held: HeldScan,
    unit: Length | None,
    height_mm: float | None,
    shifts_mm: Mapping[ScanMark, float | None],
    felt: Sequence[ScanMark],
) -> str:
    """Return the marks file for what a person stated.

    Parameters
    ----------
    held : HeldScan
    unit, height_mm : one of the two
    shifts_mm : towards the tail, by mark [mm]
    felt : marks that were felt for on the horse where they now are

    Raises
    ------
    InputProblemsError
        If neither the unit nor the height is stated, or both, or a mark that is needed has no place.
    """
    looked, day, label = held.looked, held.page.row.day, held.page.row.horse.label
    placed = held.marks
    missing = [mark for mark in _NEEDED if mark not in placed]
    if missing:
        cure = "Set it on the shape or on the picture, where you felt it on the horse."
        raise InputProblemsError(
            [Problem(what="has no place yet", cure=cure, where=Where(field=str(mark))) for mark in missing]
        )
    # asks for the unit before anything is moved by mm
    marks_text(replace(looked, marks=placed), unit=unit, height_mm=height_mm)
    if unit is not None:
        per_mm = 1.0 / unit.in_mm
    else:
        per_mm = (looked.height_of(placed[ScanMark.WITHERS]) or 0.0) / (height_mm or 1.0)
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
    size = (
        gettext("%(count)s faces") % {"count": number_format(looked.n_faces, force_grouping=True)}
        if looked.n_faces
        else gettext("%(count)s points") % {"count": number_format(looked.n_points, force_grouping=True)}
    )
    shown = LookShown(
        row=held.page.row,
        size=size,
        remarks=tuple(problem_told(one) for one in dict.fromkeys(looked.remarks)),
        units=tuple(
            (unit.value, str(UNIT_WORDS[unit]), _height_words(looked, unit), unit in looked.likely)
            for unit in Length
        ),
        # Pieces were laid on each other in the unit that was stated when they were brought.
        unit=posted.get("unit", held.page.unit.value if held.page.unit else ""),
        is_unit_stated=held.page.unit is not None,
        height=posted.get("height", ""),
        has_ground=looked.ground is not None,
        has_skin=looked.skin.is_there,
        marks=tuple(
            MarkRow(
                mark=one,
                by=posted.get(f"by-{one.key}", ""),
                is_felt=bool(posted.get(f"felt-{one.key}")) if posted else one.kind == "felt",
            )
            for one in marks_shown(held)
        ),
        can_undo=held.page.can_undo,
        stamp=held.page.times,
        problems=tuple(problem_told(one) for one in problems),
    )
    title = gettext("Scan of %(horse)s") % {"horse": held.page.row.horse.label}
    return show(
        request,
        "scan/look.html",
        title,
        shown,
        status=422 if problems else 200,
        words=json.dumps({name: str(words) for name, words in SCRIPT_WORDS.items()}, ensure_ascii=False),
        axes=AXES,
        levels=level_choices(),
        units=_units_of_pieces(held.page),
        axes_now=held.page,
        fresh=uuids.uuid4(),
        is_aside=held.page.row.state is ScanState.ASIDE,
        caution=told(SCREENING_NOTE),
        state_words=state_words(held.page.row),
    )


def _height_words(looked: LookedAt, unit: Length) -> str:
    height = looked.height_mm(unit)
    if height >= 100_000.0:
        return f"{number_format(height / 1e6, 1, force_grouping=True)} km"
    if height >= 10.0:
        return f"{number_format(height / 1000.0, 2)} m"
    return f"{number_format(height, 2)} mm"
