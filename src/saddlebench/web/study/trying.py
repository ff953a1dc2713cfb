"""One thing changed, to see what would come of it; nothing is recorded."""

import uuid as uuids
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.http import HttpRequest, HttpResponse
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from saddlebench.engine.errors import InputProblemsError, Problem, Where
from saddlebench.exchange.readers import reader
from saddlebench.practice.catalogue import Field, Kind, read_value
from saddlebench.practice.enums import Action
from saddlebench.practice.rules import Actor
from saddlebench.practice.services import CannotBeJudgedError
from saddlebench.practice.services.checking import change_ranges, compute_changed
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.checks.loading import NothingToDrawError, Shelf, scene_of, study_of_run
from saddlebench.web.base.checks.pictures import PHONE, WIDTHS, picture, sent
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, told, wholly_spoken
from saddlebench.web.study.findings import beside
from saddlebench.web.study.states import Look, cases_of
from saddlebench.web.study.views import Seen, read_run, run_page, seen, unreadable

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.exchange.changing import Change

_MOST_TRIED = 24
tried: "Shelf[FitStudy]" = Shelf(_MOST_TRIED)
KINDS: dict[str, tuple[Promise, Promise, Promise]] = {
    "pad": (
        _("The pad next to the horse, thicker by"),
        _("Pad %(mm)s mm thicker"),
        _("Pad %(mm)s mm thinner"),
    ),
    "width": (
        _("The front arch at the point ends, wider by"),
        _("Front arch %(mm)s mm wider"),
        _("Front arch %(mm)s mm narrower"),
    ),
    "place": (
        _("The saddle along the back, put further back by"),
        _("Saddle %(mm)s mm further back"),
        _("Saddle %(mm)s mm further forward"),
    ),
}
_LEAST_MM, _MOST_MM = -60.0, 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A change as an address names it."""

    what: str
    by_mm: float

    @property
    def words(self) -> str:
        """The change in words."""
        more, less = KINDS[self.what][1:]
        words = more if self.by_mm >= 0 else less
        return str(words) % {"mm": reader().number(f"{abs(self.by_mm):g}")}

    def change(self) -> "Change":
        """Return the change as it is computed."""
        from saddlebench.exchange.changing import Change, Changed  # noqa: PLC0415

        kinds = {"pad": Changed.PAD, "width": Changed.WIDTH, "place": Changed.PLACE}
        return Change(what=kinds[self.what], by_mm=self.by_mm)


def tried_of(given: Mapping[str, str]) -> Tried | None:
    """Return the change that an address names; None where it names none.

    Raises
    ------
    InputProblemsError
        If it names one that there is not.
    """
    text = given.get("by", "").strip()
    if not text:
        return None
    what = given.get("what", "")
    if what not in KINDS:
        problem = Problem(what="nothing is chosen to change", cure="Choose pad, width or place.")
        raise InputProblemsError([problem])
    described = Field(name="by", words="so many", kind=Kind.NUMBER, unit="mm", low=_LEAST_MM, high=_MOST_MM)
    value = read_value(described, text)
    return Tried(what=what, by_mm=float(value) if isinstance(value, float) else 0.0)


def computed(actor: Actor, one: Seen, chosen: Tried) -> "FitStudy":
    """Return a run with one thing changed; what was computed lately is not computed again."""
    return tried.get(
        (one.page.run.sha256, chosen),
        lambda: compute_changed(actor, one.page.uuid, one.page.run.number, chosen.change()),
    )


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def change(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a check before and after one change."""
    page = run_page(request, uuid)
    try:
        one = read_run(request, request.actor, page)
    except InputProblemsError as error:
        return unreadable(request, page, error)
    problems: tuple[Problem, ...] = ()
    chosen, after = None, None
    try:
        chosen = tried_of(request.GET)
        after = computed(request.actor, one, chosen) if chosen else None
    except InputProblemsError as error:
        problems = error.problems
    except CannotBeJudgedError as error:
        problems = (Problem(what=error.reason.rstrip("."), cure="Change something else.", where=Where()),)
    return show(
        request,
        "study/change.html",
        f"{one.page.label}: {gettext('change one thing')}",
        one.page,
        status=422 if problems else 200,
        run=one.page.run,
        problems=tuple(problem_told(each) for each in problems),
        kinds=kinds_of(request.actor, one, request.GET.get("what", "pad")),
        by=request.GET.get("by", ""),
        what=request.GET.get("what", ""),
        chosen=chosen if after else None,
        rows=beside(one.study.findings, after.findings) if after else (),
        missing=_missing(after, one.look) if after else "",
        cases=cases_of(one.study),
        look=one.look,
        cautions=one.study.cautions,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class KindShown:
    """One thing that may be changed, with what the saddle's own record says of it."""

    name: str
    words: str
    is_chosen: bool
    limit: str
    may_be: bool
    low_mm: float | None
    high_mm: float | None


def kinds_of(actor: Actor, one: Seen, chosen: str = "") -> list[KindShown]:
    """Return what may be changed on the saddle of a run, and how far."""
    from saddlebench.engine.saddle.alterable import NotAlterable  # noqa: PLC0415
    from saddlebench.exchange.changing import Changed  # noqa: PLC0415

    ranges = change_ranges(actor, one.page.uuid, one.page.run.number)
    changed = {"pad": Changed.PAD, "width": Changed.WIDTH, "place": Changed.PLACE}
    shown = []
    for name, words in KINDS.items():
        own = ranges[changed[name]]
        may_be = not isinstance(own, NotAlterable)
        said = own.reason if isinstance(own, NotAlterable) else f"{own.reach}. {own.words}"
        shown.append(
            KindShown(
                name=name,
                words=str(words[0]),
                is_chosen=name == chosen,
                limit=told(said) if may_be else f"{gettext('Not on this saddle')}: {told(said)}.",
                may_be=may_be,
                low_mm=None if isinstance(own, NotAlterable) else own.low_mm,
                high_mm=None if isinstance(own, NotAlterable) else own.high_mm,
            )
        )
    return shown


def _missing(study: "FitStudy", look: Look) -> str:
    try:
        scene_of(study, look.case, look.position)
    except NothingToDrawError as error:
        return told(str(error))
    return ""


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def change_picture(request: PageRequest, uuid: uuids.UUID, number: int, name: str) -> HttpResponse:
    """Send one picture of a run with one thing changed."""
    one = seen(request, uuid, number)
    chosen = tried_of(request.GET)
    study = computed(request.actor, one, chosen) if chosen else study_of_run(request.actor, one.page)
    return sent_changed(request, one, chosen, study, name)


def sent_changed(
    request: HttpRequest, one: Seen, chosen: Tried | None, study: "FitStudy", name: str
) -> HttpResponse:
    """Answer with one picture of a run with one thing changed, as wide as the address names.

    Raises
    ------
    NothingToDrawError
        If the run did not reach that state.
    """
    width = request.GET.get("width", PHONE)
    width = width if width in WIDTHS else PHONE
    drawn = picture(
        (one.page.run.sha256, chosen, one.look),
        study,
        lambda: scene_of(study, one.look.case, one.look.position),
        name,
        width=width,
    )
    what = f"{chosen.what}{chosen.by_mm:g}" if chosen else "as-it-is"
    return sent(request, drawn, f"{one.page.run.sha256[:20]}-{what}-{one.look.query}-{name}-{width}")
