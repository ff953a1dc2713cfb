"""A fit check's page, its pictures and files, and the tally of agreement."""

import uuid as uuids
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from saddlebench.engine.errors import InputProblemsError
from saddlebench.exchange.readers import reader
from saddlebench.exchange.retelling import retold_where_known
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.enums import Action, Purpose
from saddlebench.practice.queries.plans import list_plans
from saddlebench.practice.queries.studies import StudyPage, study_page, tally
from saddlebench.practice.rules import Actor
from saddlebench.web.base.access import PageRequest, signed_in
from saddlebench.web.base.checks.loading import (
    NothingToDrawError,
    compressed,
    drawings,
    scene_of,
    study_of_run,
)
from saddlebench.web.base.checks.pictures import PHONE, WIDTHS, picture, sent
from saddlebench.web.base.checks.running import first_key
from saddlebench.web.base.fields import whole_of
from saddlebench.web.base.render import show
from saddlebench.web.base.report_choices import Choice, choices_of, plan_choice
from saddlebench.web.base.spoken import problem_told, told, wholly_spoken, words_told
from saddlebench.web.study.doubts import doubts_shown
from saddlebench.web.study.findings import (
    OFF,
    BesideRow,
    FindingGroup,
    FindingShown,
    beside,
    counts_of,
    findings_shown,
    grouped,
)
from saddlebench.web.study.states import Look, cases_of, look_of, place_in, slide_of

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy

_FURTHEST_MM = 3000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A fit check's run with its result and what is looked at."""

    page: StudyPage
    study: "FitStudy"
    look: Look


def seen(request: PageRequest, uuid: uuids.UUID, number: int | None = None) -> Seen:
    """Return the run that an address names, with its result."""
    return read_run(request, request.actor, run_page(request, uuid, number))


def run_page(request: PageRequest, uuid: uuids.UUID, number: int | None = None) -> StudyPage:
    """Return the page of the run that an address names."""
    asked = request.GET.get("run", "")
    return study_page(request.actor, uuid, whole_of(asked) if number is None and asked else number)


def read_run(request: HttpRequest, actor: Actor, page: StudyPage) -> Seen:
    """Return a run with its result, and what the address asks to look at."""
    study = study_of_run(actor, page)
    return Seen(page=page, study=study, look=look_of(request.GET, study))


def unreadable(request: PageRequest, page: StudyPage, error: InputProblemsError) -> HttpResponse:
    """Say that a run's document cannot be read here, and lead to its versions."""
    return show(
        request,
        "study/unreadable.html",
        page.label,
        page,
        status=422,
        problems=[problem_told(each) for each in error.problems],
    )


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def study(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a fit check: the picture first, then the findings, then everything else there is to look at."""
    page = run_page(request, uuid)
    try:
        one = read_run(request, request.actor, page)
    except InputProblemsError as error:
        return unreadable(request, page, error)
    return show(request, "study/study.html", page.label, page, **_shown(request, one))


def _shown(request: PageRequest, one: Seen) -> dict[str, Any]:
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.exchange import phrases  # noqa: PLC0415
    from saddlebench.exchange.shape_view import legend_of  # noqa: PLC0415

    doubts = doubts_shown(request.actor, one.page, one.study)
    found = findings_shown(one.study, doubts.by_finding if doubts else None)
    wanted = request.GET.get("verdict", "")
    slides, nothing, slide = one.study.put.hand_slide, "", None
    try:
        slide = slide_of(scene_of(one.study, one.look.case, one.look.position), request.GET.get("s", ""))
    except NothingToDrawError as error:
        nothing = told(str(error))
    visit = one.page.visit
    return {
        "run": one.page.run,
        "look": one.look,
        "cases": cases_of(one.study),
        "nothing": nothing,
        "slide": slide,
        "groups": _groups(found, wanted),
        "calm": not wanted and not any(each.verdict in OFF for each in found),
        "counts": counts_of(found),
        "total": len(found),
        "wanted": wanted,
        "hands": [told(f"{slides.reason}.")]
        if isinstance(slides, Undetermined)
        else [f"{phrases.hand_slide_of(each)}." for each in slides],
        "doubts": doubts,
        "made_with": _made_with(one.study),
        "cautions": one.study.cautions,
        "report_choices": (*choices_of(request), *_plan_choice(request, one)),
        "model_note": told(phrases.MODEL_NOTE),
        "works_to": told(one.study.works_to.reason) if isinstance(one.study.works_to, Undetermined) else "",
        "legends": [(layer, words, legend_of(layer)) for layer, words in LAYERS],
        "visit_words": words_told(Purpose(visit.detail)) if visit and visit.detail else "",
    }


def _groups(found: Sequence[FindingShown], wanted: str) -> tuple[FindingGroup, ...]:
    if not wanted:
        return grouped(found)
    some = tuple(one for one in found if one.verdict == wanted)
    return (FindingGroup(summary="", verdict=wanted, findings=some),) if some else ()


def _plan_choice(request: PageRequest, one: Seen) -> tuple[Choice, ...]:
    rows = list_plans(request.actor, study=one.page.uuid).rows
    return plan_choice(row for row in rows if row.run == one.page.run.number)


LAYERS = (
    ("pressure", _("Pressure under the panels")),
    ("clearance", _("Clearance under the panels")),
    ("difference", _("Left against right: the back alone")),
)


def _made_with(study: "FitStudy") -> list[str]:
    """Return what a check was made with, in words."""
    from saddlebench.engine.errors import NotMeasured  # noqa: PLC0415
    from saddlebench.engine.fit.loads import USUAL_LOAD_HEIGHT_MM  # noqa: PLC0415

    rider, horse = study.rider, study.horse
    words = [said(f"Rider {rider.mass_kg:g} kg")]
    if rider.off_centre_mm:
        side = "near" if rider.off_centre_mm > 0 else "off"
        words.append(said(f"sits {abs(rider.off_centre_mm):g} mm to the {side} side"))
    if rider.left_stirrup_share != 0.5:
        words.append(said(f"{rider.left_stirrup_share:.0%} of the stirrups' load on the near one"))
    if rider.load_height_mm != USUAL_LOAD_HEIGHT_MM:
        words.append(said(f"load {rider.load_height_mm:g} mm above the panels"))
    if not isinstance(horse.mass_kg, NotMeasured):
        words.append(said(f"horse {horse.mass_kg:g} kg"))
    pads = [
        f"{retold_where_known(pad.name, reader())} {said(f'{max(pad.thickness_mm):g} mm')}"
        for pad in study.pads
    ]
    words.append(", ".join(pads) or said("no pad"))
    if study.draws:
        varied = said(f"varied {study.draws} times within the measuring errors")
        words.append(f"{varied} ({_whose_errors(study)})")
    else:
        words.append(said("not varied"))
    return words


def _whose_errors(study: "FitStudy") -> str:
    own = study.inputs.own_errors
    if own is None:
        return said("those that the instrument states")
    times = said(f"{own.times:.2g} times what the instrument states")
    return f"{said('own repeats')}, {own.whose}: {times}"


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def study_picture(request: PageRequest, uuid: uuids.UUID, number: int, name: str) -> HttpResponse:
    """Send one picture of one state of a run."""
    return sent_picture(request, seen(request, uuid, number), name)


def sent_picture(request: HttpRequest, one: Seen, name: str) -> HttpResponse:
    """Answer with one picture of what is looked at, as wide and at the place that the address names.

    Raises
    ------
    NothingToDrawError
        If the run did not reach that state.
    """
    width = request.GET.get("width", PHONE)
    width = width if width in WIDTHS else PHONE
    s_mm = place_in(request.GET.get("s", ""), 0.0) if name == "section" else 0.0
    s_mm = max(-_FURTHEST_MM, min(_FURTHEST_MM, s_mm))
    key: tuple[object, ...] = (one.page.run.sha256, one.look)
    if (one.page.run.number, one.look, name, width) == (1, Look(), "overview", PHONE):
        # Drawn already while the check ran: the best estimate is the same before and after it is varied.
        key = first_key(one.page.uuid)
    drawn = picture(
        key,
        one.study,
        lambda: scene_of(one.study, one.look.case, one.look.position),
        name,
        width=width,
        s_mm=s_mm,
    )
    return sent(request, drawn, f"{one.page.run.sha256[:20]}-{one.look.query}-{name}-{width}-{s_mm:g}")


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def shape(request: PageRequest, uuid: uuids.UUID, number: int) -> HttpResponse:
    """Send a run's back and saddle as triangles and colours, for the 3-D view."""
    from saddlebench.exchange.shape_view import shape_view  # noqa: PLC0415

    one = seen(request, uuid, number)
    scene = scene_of(one.study, one.look.case, one.look.position)
    drawn = drawings.get(
        (one.page.run.sha256, one.look, "shape"),
        lambda: compressed(shape_view(scene), "application/octet-stream"),
    )
    return sent(request, drawn, f"{one.page.run.sha256[:20]}-shape-{one.look.query}")


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def side_by_side(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show a run twice: where it is put and where it works to, or without and with a rider."""
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415

    page = run_page(request, uuid)
    try:
        one = read_run(request, request.actor, page)
    except InputProblemsError as error:
        return unreadable(request, page, error)
    by_rider = request.GET.get("by") == "rider"
    looks = (
        (Look(case="girthed"), Look(case="halt"))
        if by_rider
        else (Look(case=one.look.case), Look(case=one.look.case, place="works"))
    )
    missing = []
    for each in looks:
        try:
            scene_of(one.study, each.case, each.position)
        except NothingToDrawError as error:
            missing.append(told(str(error)))
    works_to = one.study.works_to
    rows: tuple[BesideRow, ...] = ()
    if not by_rider and not isinstance(works_to, Undetermined):
        rows = beside(one.study.findings, works_to.findings)
    return show(
        request,
        "study/beside.html",
        f"{one.page.label}: {gettext('side by side')}",
        one.page,
        run=one.page.run,
        looks=looks,
        by_rider=by_rider,
        missing=missing,
        rows=rows,
        cases=cases_of(one.study),
        look=one.look,
        cautions=one.study.cautions,
    )


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def agreement(request: PageRequest) -> HttpResponse:
    """Show how often fitters and program said the same."""
    return show(
        request, "study/agreement.html", gettext("Your verdict and the program's"), tally(request.actor)
    )
