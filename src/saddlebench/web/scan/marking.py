"""The marks of a scan: set on its 3-D shape or by a tap on the picture, confirmed, and taken back."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import asdict, dataclass

import numpy as np
from django.http import HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from saddlebench.engine.back.scan import ScanMark
from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.frames import FloatArray
from saddlebench.engine.units import parse_number
from saddlebench.exchange.scans.look import LETTERED, frame_of
from saddlebench.exchange.scans.scan_shape import from_view, scan_shape, to_view
from saddlebench.exchange.scans.shown_skin import put_on_skin
from saddlebench.practice.enums import Action
from saddlebench.practice.services.scans import set_scan_mark, undo_scan_mark
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.scan.held import HeldScan, held_scan

SUGGESTED, SET, FELT, UNSEEN = "suggested", "set by hand", "felt for", "not seen: set it"
_KINDS = {SUGGESTED: "suggested", SET: "set", FELT: "felt", UNSEEN: "unseen"}


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkShown:
    """A mark as it stands."""

    key: str
    letter: str
    words: str
    kind: str
    """One of suggested, set, felt, unseen."""
    state: str
    """The same in words."""
    at: tuple[float, float, float] | None
    """In the axes of the 3-D view [mm at 1.60 m]."""

    @property
    def is_moved(self) -> bool:
        """Whether a person set it."""
        return self.kind in {"set", "felt"}


def marks_shown(held: HeldScan) -> tuple[MarkShown, ...]:
    """Return every mark as it stands, those without a place included."""
    return tuple(_mark_shown(held, mark, letter) for mark, letter in LETTERED)


def _mark_shown(held: HeldScan, mark: ScanMark, letter: str) -> MarkShown:
    point = held.marks.get(mark)
    moved = mark in held.moved
    state = UNSEEN if point is None else FELT if mark in held.felt else SET if moved else SUGGESTED
    at = None
    if point is not None:
        x, y, z = (round(float(v), 2) for v in to_view(held.looked, point[None])[0])
        at = (x, y, z)
    return MarkShown(
        key=mark.name, letter=letter, words=_(str(mark)), kind=_KINDS[state], state=_(state), at=at
    )


@signed_in(Action.RECORD_BACK)
def shape(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the scan's surface for the 3-D view."""
    return HttpResponse(
        scan_shape(held_scan(request.actor, uuid).looked), content_type="application/octet-stream"
    )


@signed_in(Action.RECORD_BACK)
@spoken
def marks(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Tell the page's script how the marks stand."""
    return _told(held_scan(request.actor, uuid), "")


@signed_in(Action.RECORD_BACK, DEED)
@spoken
def mark(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Set, confirm or put back a mark, or undo; answers the script, or shows the page again."""
    held = held_scan(request.actor, uuid)
    is_script = request.headers.get("Accept", "").startswith("application/json")
    try:
        words = _done(request, held)
    except InputProblemsError as error:
        if not is_script:
            raise
        said = " ".join(
            f"{one.what[:1].upper()}{one.what[1:]}. {one.cure}" for one in map(problem_told, error.problems)
        )
        return _told(held, said, status=422)
    if is_script:
        return _told(held_scan(request.actor, uuid), words)
    say(request, words)
    return HttpResponseRedirect(reverse("scan:look", args=[uuid]))


def _done(request: PageRequest, held: HeldScan) -> str:
    posted, uuid = request.POST, held.page.row.uuid
    if posted.get("undo"):
        if not held.page.can_undo:
            raise input_problem("there is nothing to take back", "Set a mark.", Where(field="marks"))
        undo_scan_mark(request.actor, uuid)
        return _("The last change is taken back.")
    which = _mark_named(posted.get("mark", ""))
    if posted.get("back"):
        set_scan_mark(request.actor, uuid, which, at=None, felt=False)
        return _("%(mark)s: where the shape suggests it.") % named(which)
    if "felt" in posted:
        return _confirmed(request, held, which, is_felt=posted["felt"] == "1")
    x, y, z = (float(v) for v in _place_of(held, posted))
    set_scan_mark(request.actor, uuid, which, at=(x, y, z), felt=False)
    return _("%(mark)s: set.") % named(which)


def _confirmed(request: PageRequest, held: HeldScan, which: ScanMark, *, is_felt: bool) -> str:
    point = held.marks.get(which)
    if point is None:
        raise input_problem("this mark has no place yet", "Set it first.", Where(field=str(which)))
    x, y, z = (float(v) for v in point)
    set_scan_mark(request.actor, held.page.row.uuid, which, at=(x, y, z), felt=is_felt)
    words = _("%(mark)s: felt for there.") if is_felt else _("%(mark)s: not felt for.")
    return words % named(which)


def _place_of(held: HeldScan, posted: Mapping[str, str]) -> FloatArray:
    """Return the place that a tap means: on the shape, or on the picture's topline."""
    looked = held.looked
    if posted.get("at"):
        return put_on_skin(looked.skin, from_view(looked, _three(posted["at"])), looked.mm_per_unit)
    read = parse_number(posted.get("across", ""), Where(field="place"))
    if isinstance(read, Problem) or not 0.0 <= read <= 1.0:
        raise input_problem("this is no place in the picture", "Tap on the horse.", Where(field="place"))
    left, right, _ = frame_of(looked)
    return looked.on_topline(left + read * (right - left))


def _three(text: str) -> FloatArray:
    try:
        numbers = np.array([float(one) for one in text.split()])
    except ValueError:
        numbers = np.zeros(0)
    if numbers.shape != (3,) or not np.isfinite(numbers).all():
        raise input_problem("this is no place on the scan", "Tap on the horse.", Where(field="place"))
    return numbers


def named(which: ScanMark) -> dict[str, str]:
    """Return a mark's name for a sentence that begins with it."""
    words = _(str(which))
    return {"mark": words[:1].upper() + words[1:]}


def _mark_named(name: str) -> ScanMark:
    for one, _letter in LETTERED:
        if one.name == name:
            return one
    raise input_problem("no mark was chosen", "Choose one of A to D.", Where(field="mark"))


def _told(held: HeldScan, said: str, *, status: int = 200) -> HttpResponse:
    told = {
        "marks": [asdict(one) for one in marks_shown(held)],
        "can_undo": held.page.can_undo,
        "stamp": held.page.times,
        "said": said,
    }
    return JsonResponse(told, status=status)
