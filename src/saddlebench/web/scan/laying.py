"""Pieces that do not go together by themselves: the same places marked on each, and laid by those."""

import json
import uuid as uuids
from dataclasses import dataclass

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.practice.enums import Action
from saddlebench.practice.queries.scans import ScanPage, scan_page
from saddlebench.practice.services.deeds import NotFoundError
from saddlebench.practice.services.scans import FEWEST_COMMON, Place, state_common_places
from saddlebench.web.base.access import DEED, FORM, PageRequest, signed_in
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, spoken
from saddlebench.web.scan.held import folder_of
from saddlebench.web.scan.working import PIECE_SHAPE, ask_look, ask_pieces

_MOST_PLACES = 4
SCRIPT_WORDS = {
    "label": _(
        "in 3-D. Arrow keys turn it, plus and minus bring it closer; Enter puts the chosen place in the "
        "middle of the view."
    ),
    "loading": _("Loading the piece …"),
    "set": _("set"),
    "next": _("Set. Now the next."),
    "all": _("All places are set; choose one to set it anew."),
    "missed": _("Nothing was scanned there. Tap on the horse."),
    "gone": _("The device took the 3-D view away. Load the page again, or use the numbers."),
    "choose": _("Choose a place, then tap the horse."),
    "cannot": _("The 3-D view cannot be shown on this device: write the numbers."),
}
"""What the page's script says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceShown:
    """A place on a piece, as it was typed or tapped."""

    field: str
    number: int
    at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceShown:
    """One file of the scan."""

    number: int
    name: str
    places: tuple[PlaceShown, ...]


@signed_in(Action.RECORD_BACK, DEED)
def prepare(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Have each piece read, to be shown by itself."""
    key = key_of(request.POST.get("key", ""))
    ask_pieces(request.actor, uuid, key)
    return HttpResponseRedirect(reverse("job", args=[key]))


@signed_in(Action.RECORD_BACK, FORM)
@spoken
def pieces(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show the pieces, and take the places that were marked on all of them."""
    page = scan_page(request.actor, uuid)
    if len(page.files) < 2 or not _is_prepared(page):
        return HttpResponseRedirect(reverse("scan:look", args=[uuid]))
    if request.method != "POST":
        return _form(request, page, ())
    try:
        state_common_places(request.actor, uuid, _common(request, page))
    except InputProblemsError as error:
        return _form(request, page, error.problems)
    key = key_of(request.POST.get("key", ""))
    ask_look(request.actor, uuid, key)
    return HttpResponseRedirect(reverse("job", args=[key]))


@signed_in(Action.RECORD_BACK)
def piece(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Send one piece's points for the 3-D view."""
    page = scan_page(request.actor, uuid)
    path = folder_of(page.row.uuid) / PIECE_SHAPE.format(number)
    if not path.is_file():
        raise NotFoundError("piece of a scan", number)
    return HttpResponse(path.read_bytes(), content_type="application/octet-stream")


def _is_prepared(page: ScanPage) -> bool:
    folder = folder_of(page.row.uuid)
    return all((folder / PIECE_SHAPE.format(k)).is_file() for k in range(len(page.files)))


def _field(piece: int, place: int) -> str:
    return f"place-{piece}-{place}"


def _common(request: PageRequest, page: ScanPage) -> list[list[Place]]:
    problems: list[Problem] = []
    common = []
    for k, one in enumerate(page.files):
        texts = [request.POST.get(_field(k, n), "").strip() for n in range(_MOST_PLACES)]
        places = [
            _place(text, f"{one.name}, place {n + 1}", problems) for n, text in enumerate(texts) if text
        ]
        common.append([place for place in places if place is not None])
    if not problems and any(len(places) < FEWEST_COMMON for places in common):
        cure = f"Mark at least {FEWEST_COMMON} places on every piece, in one order."
        problems.append(Problem(what="places are missing", cure=cure, where=Where(field="Places")))
    if problems:
        raise InputProblemsError(problems)
    return common


def _place(text: str, words: str, problems: list[Problem]) -> Place | None:
    try:
        x, y, z = (float(part) for part in text.split())
    except ValueError:
        cure = "Tap on the horse, or write three numbers as in “0.52 1.31 -0.08”."
        problems.append(Problem(what="this is no place", cure=cure, where=Where(field=words)))
        return None
    return x, y, z


def _form(
    request: PageRequest, page: ScanPage, problems: tuple[Problem, ...] | list[Problem]
) -> HttpResponse:
    shown = [
        PieceShown(
            number=k,
            name=one.name,
            places=tuple(
                PlaceShown(
                    field=_field(k, n), number=n + 1, at=request.POST.get(_field(k, n), _kept(page, k, n))
                )
                for n in range(_MOST_PLACES)
            ),
        )
        for k, one in enumerate(page.files)
    ]
    return show(
        request,
        "scan/pieces.html",
        gettext("The same places on each piece"),
        page,
        pieces=shown,
        words=json.dumps({name: str(words) for name, words in SCRIPT_WORDS.items()}, ensure_ascii=False),
        problems=[problem_told(one) for one in problems],
        fresh=uuids.uuid4(),
        status=422 if problems else 200,
    )


def _kept(page: ScanPage, piece: int, place: int) -> str:
    places = page.common[piece] if page.common else ()
    return " ".join(f"{x:.6g}" for x in places[place]) if place < len(places) else ""
