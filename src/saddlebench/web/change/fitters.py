"""Fitters and instruments compared: backs measured again on one day, by one or several."""

import uuid as uuids
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.exchange.readers import reader
from saddlebench.exchange.vocabulary import said
from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import ComparisonPage, comparison_page
from saddlebench.practice.queries.repeat_days import RepeatDays, repeat_days
from saddlebench.practice.services.comparing_fitters import MOST_REPEATS
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import Shelf, compressed, drawings, load_engine, warm_up
from saddlebench.web.base.checks.pictures import PHONE, SVG, WIDTHS, sent
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, wholly_spoken
from saddlebench.web.change.again import fitters_again
from saddlebench.web.change.choosing import uuids_of
from saddlebench.web.change.tolerances import stated_tolerances
from saddlebench.web.change.work import ask_fitters

if TYPE_CHECKING:
    from saddlebench.engine.change.repeat.study import QuantityRepeats, RepeatStudy

_studies: "Shelf[RepeatStudy]" = Shelf(8)


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def choose(request: PageRequest) -> HttpResponse:
    """Show the days on which a back was measured more than once."""
    warm_up()
    return _page(request, repeat_days(request.actor))


def _page(request: PageRequest, held: RepeatDays, problems: tuple[Problem, ...] = ()) -> HttpResponse:
    chosen = set(request.POST.getlist("day"))
    days = [(f"{one.horse}.{one.day.isoformat()}", one) for one in held.days]
    return show(
        request,
        "change/choose_fitters.html",
        gettext("Compare fitters and instruments"),
        None,
        status=422 if problems else 200,
        problems=tuple(problem_told(one) for one in problems),
        days=[(key, one, key in chosen if problems else k == 0) for k, (key, one) in enumerate(days)],
        comparisons=held.comparisons,
        key=uuids.uuid4(),
        most=MOST_REPEATS,
    )


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def compare(request: PageRequest) -> HttpResponse:
    """Queue the comparison of the days chosen, or of the records that are named."""
    held = repeat_days(request.actor)
    chosen = set(request.POST.getlist("day"))
    versions = uuids_of(request.POST.getlist("version")) or [
        record.version
        for one in held.days
        if f"{one.horse}.{one.day.isoformat()}" in chosen
        for record in one.records
    ]
    try:
        refuse_count(len(versions))
        job = ask_fitters(request.actor, versions, key=key_of(request.POST.get("key", "")))
    except InputProblemsError as error:
        return _page(request, held, error.problems)
    return HttpResponseRedirect(reverse("job", args=[job]))


def refuse_count(n: int) -> None:
    """Refuse what could not be compared, before it waits.

    Raises
    ------
    InputProblemsError
        If nothing is chosen, or too much is.
    """
    if not n:
        raise input_problem("no day is chosen", "Choose one.", Where(field="Days"))
    if n > MOST_REPEATS:
        msg = f"the days chosen have {n} records"
        raise input_problem(msg, f"Choose fewer days: at most {MOST_REPEATS} records.", Where(field="Days"))


def study_of(page: ComparisonPage) -> "RepeatStudy":
    """Return a comparison as it was recorded.

    Raises
    ------
    InputProblemsError
        If this program cannot read it.
    """
    load_engine()

    def read() -> "RepeatStudy":
        from saddlebench.exchange.records import parse_document  # noqa: PLC0415
        from saddlebench.exchange.records.repeat import RepeatDocument  # noqa: PLC0415

        return parse_document(RepeatDocument, page.document, page.label).study

    return _studies.get(page.sha256, read)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One number, in words."""

    what: str
    again: str
    by_any: str
    icc: str
    gauge: str
    tolerance: str
    """How much of it reading takes up; empty where none is stated."""


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def fitters(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show how well the same fitter, and any of them, reads a back twice."""
    page = comparison_page(request.actor, uuid, ComparisonKind.FITTERS)
    study = study_of(page)
    from saddlebench.exchange import repeat_tolerance as tolerance  # noqa: PLC0415
    from saddlebench.exchange import repeat_words as words  # noqa: PLC0415
    from saddlebench.exchange.phrases import SCREENING_NOTE  # noqa: PLC0415

    shown = words.shown_quantities(study)
    stated = stated_tolerances(request.GET, shown)
    study = stated.held(study)
    shown = words.shown_quantities(study)
    rest = [one for one in study.quantities if one not in shown]
    return show(
        request,
        "change/fitters.html",
        page.label,
        page,
        status=422 if stated.problems else 200,
        study=study,
        again=fitters_again(page),
        said=words.repeat_sentences(study),
        held=tolerance.tolerance_sentences(study),
        is_held=any(one.tolerance is not None for one in study.quantities),
        stated=stated,
        tolerance_note=tolerance.TOLERANCE_NOTE,
        rows=[_row(one) for one in shown],
        regions=[_row(one) for one in rest],
        agreement=[
            (one.quantity, pair.first, pair.second, words.limits_words(pair, one.quantity))
            for one in shown
            for pair in one.agreement
        ],
        cautions=(words.REPEAT_NOTE, SCREENING_NOTE),
    )


def _row(one: "QuantityRepeats") -> Row:
    from saddlebench.engine.change.repeat.icc import Form  # noqa: PLC0415
    from saddlebench.engine.errors import Undetermined  # noqa: PLC0415
    from saddlebench.exchange.repeat_tolerance import tolerance_words  # noqa: PLC0415
    from saddlebench.exchange.repeat_words import gauge_words, spread_words  # noqa: PLC0415

    forms = () if isinstance(one.correlation, Undetermined) else one.correlation
    icc = next((form for form in forms if form.form is Form.AGREEMENT), None)
    return Row(
        what=said(one.quantity.words),
        again=spread_words(one.repeatability, one.quantity),
        by_any=spread_words(one.reproducibility, one.quantity),
        icc=said("not known" if icc is None else f"{icc.value:.2f} ({icc.low:.2f} to {icc.high:.2f})"),
        gauge=gauge_words(one) or said("not known"),
        tolerance=tolerance_words(one),
    )


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def fitters_picture(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the picture of a comparison."""
    return picture_of(request, comparison_page(request.actor, uuid, ComparisonKind.FITTERS))


def picture_of(request: Any, page: ComparisonPage) -> HttpResponse:
    """Answer with the picture of a comparison."""
    study = study_of(page)
    width = request.GET.get("width", PHONE)
    width = width if width in WIDTHS else PHONE

    def make() -> Any:
        from saddlebench.exchange import drawings as drawn  # noqa: PLC0415
        from saddlebench.exchange.drawings.repeat_fitters import fitters_chart  # noqa: PLC0415

        width_mm = drawn.PHONE_WIDTH_MM if width == PHONE else drawn.PAGE_WIDTH_MM
        drawing = fitters_chart(study, label=page.label, width_mm=width_mm)
        return compressed(drawn.as_svg(drawing).encode(), SVG)

    reads = reader().language
    made = drawings.get((page.sha256, "fitters", width, reads), make)
    return sent(request, made, f"{page.sha256[:20]}-fitters-{width}-{reads}")
