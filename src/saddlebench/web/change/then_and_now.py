"""Earlier saddles on today's back, today's on the earlier ones: when the fit went."""

import uuid as uuids
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.translation import gettext

from saddlebench.engine.errors import InputProblemsError, Problem, Where, input_problem
from saddlebench.engine.units import parse_number
from saddlebench.practice.enums import Action, ComparisonKind
from saddlebench.practice.queries.comparisons import ComparablePage, comparable_page, comparison_page
from saddlebench.practice.services.comparing import MOST_PAIRS
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import load_engine, warm_up
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.spoken import problem_told, told, wholly_spoken
from saddlebench.web.change.again import then_and_now_again
from saddlebench.web.change.choosing import uuids_of
from saddlebench.web.change.work import ask_then_and_now

if TYPE_CHECKING:
    from saddlebench.exchange.records.then_and_now import FindingRow

AS_RECORDED = (
    "Each answer is for the saddle as it was recorded, on the back as it was measured that day: not for the "
    "pads or the flock that it had then, where those were not recorded."
)
IN_BETWEEN = "An answer that changes between two days may have changed on any day in between."
USUAL_RIDER_KG = 70.0
LIGHTEST_KG, HEAVIEST_KG = 15.0, 200.0


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def choose(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show which saddles can be judged on which days."""
    warm_up()
    return _page(request, comparable_page(request.actor, uuid))


def _page(request: PageRequest, page: ComparablePage, problems: tuple[Problem, ...] = ()) -> HttpResponse:
    middle = page.backs[len(page.backs) // 2 : len(page.backs) // 2 + 1]
    usual = {str(one.version) for one in (*page.backs[:1], *middle, *page.backs[-1:])}
    backs = set(request.POST.getlist("back")) if problems else usual
    worn = {str(one.version) for one in page.saddles if one.is_current}
    saddles = set(request.POST.getlist("saddle")) if problems else worn
    rider = f"{page.rider_mass_kg or USUAL_RIDER_KG:g}"
    return show(
        request,
        "change/choose_saddles.html",
        f"{gettext('Saddles then and now')}: {page.label}",
        page,
        status=422 if problems else 200,
        problems=tuple(problem_told(one) for one in problems),
        backs=[(one, str(one.version) in backs) for one in page.backs],
        saddles=[(one, str(one.version) in saddles) for one in page.saddles],
        rider=request.POST.get("rider", rider) if problems else rider,
        key=uuids.uuid4(),
    )


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def judge(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Queue the saddles to be judged on the days chosen."""
    page = comparable_page(request.actor, uuid)
    backs, saddles = uuids_of(request.POST.getlist("back")), uuids_of(request.POST.getlist("saddle"))
    try:
        rider_kg = read_rider(request.POST.get("rider", ""))
        refuse_too_many(len(backs), len(saddles))
        job = ask_then_and_now(
            request.actor,
            uuid,
            backs=backs,
            saddles=saddles,
            rider_kg=rider_kg,
            key=key_of(request.POST.get("key", "")),
        )
    except InputProblemsError as error:
        return _page(request, page, error.problems)
    return HttpResponseRedirect(reverse("job", args=[job]))


def refuse_too_many(n_backs: int, n_saddles: int) -> None:
    """Refuse what could not be judged, before it waits.

    Raises
    ------
    InputProblemsError
        If no back or no saddle is chosen, or too many are.
    """
    if not n_backs or not n_saddles:
        what = "no back is chosen" if not n_backs else "no saddle is chosen"
        raise input_problem(what, "Choose one.", Where(field="Backs" if not n_backs else "Saddles"))
    if n_backs * n_saddles > MOST_PAIRS:
        what = f"{n_saddles} saddles on {n_backs} days are {n_saddles * n_backs} fit checks"
        raise input_problem(what, f"Choose fewer: at most {MOST_PAIRS} at a time.")


def read_rider(text: str) -> float:
    """Return a rider's mass [kg].

    Raises
    ------
    InputProblemsError
        If it is no number, or nobody's.
    """
    read = parse_number(text, Where(field="Rider, dressed"))
    if isinstance(read, Problem):
        raise InputProblemsError([read])
    if not LIGHTEST_KG <= read <= HEAVIEST_KG:
        what = f"{read:g} kg is outside {LIGHTEST_KG:g} to {HEAVIEST_KG:g}"
        raise input_problem(what, "Check the number and its unit.", Where(field="Rider, dressed"))
    return read


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def then_and_now(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show every finding over the days, saddle by saddle; those whose answer changed first."""
    page = comparison_page(request.actor, uuid, ComparisonKind.THEN_AND_NOW)
    load_engine()
    from saddlebench.exchange.own_errors import errors_words  # noqa: PLC0415
    from saddlebench.exchange.phrases import SCREENING_NOTE  # noqa: PLC0415
    from saddlebench.exchange.records import parse_document  # noqa: PLC0415
    from saddlebench.exchange.records.then_and_now import ThenAndNowDocument  # noqa: PLC0415

    document = parse_document(ThenAndNowDocument, page.document, page.label)
    saddles = [
        {
            "label": one.saddle,
            "cannot": [
                (day, reason)
                for day, reason in zip(document.days, one.cannot_be_judged, strict=True)
                if reason
            ],
            "changed": [row for row in one.findings if row.has_changed],
            "same": [row for row in one.findings if not row.has_changed],
            "went": _went(one.findings, document.days),
        }
        for one in document.saddles
    ]
    return show(
        request,
        "change/then_and_now.html",
        page.label,
        page,
        days=document.days,
        saddles=saddles,
        again=then_and_now_again(request.actor, page),
        errors=list(dict.fromkeys(errors_words(one) for one in document.own_errors)),
        rider=page.made_of["rider_kg"],
        tries=page.made_of["tries"],
        cautions=(AS_RECORDED, IN_BETWEEN, SCREENING_NOTE),
    )


def _went(rows: "tuple[FindingRow, ...]", days: tuple[date, ...]) -> list[str]:
    """Return between which days a finding that was fine became not right."""
    from saddlebench.exchange.trend_words import day_words  # noqa: PLC0415

    said = []
    for row in rows:
        answers = [(day, one.verdict.value) for day, one in zip(days, row.answers, strict=True) if one]
        for (before, was), (after, became) in pairwise(answers):
            if was == "fine" and became == "not right":
                then, now = day_words(before), day_words(after)
                held = {"finding": told(row.title), "then": then, "now": now}
                said.append(gettext("%(finding)s: fine on %(then)s, not right on %(now)s") % held)
    return said
