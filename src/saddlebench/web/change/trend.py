"""A horse's numbers over all its visits, and when to look again."""

import hashlib
import uuid as uuids
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from saddlebench.engine.errors import input_problem
from saddlebench.exchange.readers import reader
from saddlebench.practice import services
from saddlebench.practice.enums import Action, RecheckReason
from saddlebench.practice.estimates.recheck import REASONS, recheck_window, words_of_reason
from saddlebench.practice.queries.older_figures import OlderFigure, older_numbers
from saddlebench.practice.queries.trends import fit_check_for_trend, recheck_reason_of
from saddlebench.practice.rules import Actor
from saddlebench.practice.services.numbers import HorseInNumbers, horse_in_numbers, work_out_numbers
from saddlebench.web.base.access import DEED, PageRequest, signed_in
from saddlebench.web.base.checks.loading import Shelf, compressed, drawings, load_engine
from saddlebench.web.base.checks.pictures import PHONE, SVG, WIDTHS, sent
from saddlebench.web.base.fields import key_of
from saddlebench.web.base.render import show
from saddlebench.web.base.said import say
from saddlebench.web.base.spoken import told, wholly_spoken
from saddlebench.web.change.work import ask_numbers

if TYPE_CHECKING:
    from saddlebench import report
    from saddlebench.engine.change.trend.belonging import OddVisit
    from saddlebench.engine.change.trend.recheck import RecheckAdvice
    from saddlebench.engine.change.trend.study import Trend, TrendStudy

LEAST_VISITS = 3
OLDER_NOTE = (
    "Some of these numbers rest on older figures: by exercises since, it is known otherwise how well those "
    "records were measured."
)
MOST_DRAWN = 12
AT_ONCE = 2
"""So many records are put into numbers while the page loads; more are long work."""
_fitted: "Shelf[TrendStudy]" = Shelf(12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """A horse's trends and the advice that follows."""

    held: HorseInNumbers
    key: str
    trends: "tuple[Trend, ...]"
    odd_visits: "tuple[OddVisit, ...]"
    advice: "RecheckAdvice"
    kept: RecheckReason
    older: tuple[OlderFigure, ...]
    """Records for which other measuring errors are in use today than when they were put into numbers."""
    saddle: str
    """Whose tolerance speaks; empty where no fit check says it."""


def followed(actor: Actor, uuid: uuids.UUID, asked: str) -> Followed | HorseInNumbers:
    """Return a horse's trends; where there are too few visits in numbers, those that there are."""
    load_engine()
    from saddlebench.engine.change.trend.recheck import advise_recheck  # noqa: PLC0415
    from saddlebench.engine.change.trend.study import study_trends  # noqa: PLC0415
    from saddlebench.engine.fit.tolerance import tolerances_of  # noqa: PLC0415
    from saddlebench.exchange.records import StudyDocument, parse_document  # noqa: PLC0415
    from saddlebench.exchange.trend_words import ordered  # noqa: PLC0415

    held = horse_in_numbers(actor, uuid)
    if 0 < len(held.missing) <= AT_ONCE:
        work_out_numbers(actor, uuid)
        held = horse_in_numbers(actor, uuid)
    if len(held.kept) < LEAST_VISITS:
        return held
    visits = [one.visit for one in held.kept]
    key = hashlib.sha256(repr(visits).encode()).hexdigest()
    study = _fitted.get(key, lambda: study_trends(visits))
    kept = _reason(asked) or recheck_reason_of(actor, uuid)
    check = fit_check_for_trend(actor, uuid)
    tolerances = (
        tolerances_of(parse_document(StudyDocument, check.document, check.label).study().findings)
        if check is not None
        else ()
    )
    window = recheck_window(study.last_day or visits[-1].day, [kept])
    advice = advise_recheck(
        study.fitted,
        tolerances,
        due_from=window.due_from,
        due_by=window.due_by,
        reason=f"a horse that is {words_of_reason(kept)}",
    )
    return Followed(
        held=held,
        key=key,
        trends=ordered(tuple(one.trend for one in study.fitted)),
        odd_visits=study.odd_visits,
        advice=advice,
        kept=kept,
        older=older_numbers(actor, held),
        saddle=check.saddle if check is not None else "",
    )


def _reason(text: str) -> RecheckReason | None:
    return next((one for one in REASONS if one.value == text), None)


def report_part(actor: Actor, horse: uuids.UUID) -> "report.Followed | None":
    """Return a horse over its visits as the vet's report takes it; None where too few are in numbers."""
    from saddlebench.report import Followed as Part  # noqa: PLC0415

    found = followed(actor, horse, "")
    if isinstance(found, HorseInNumbers):
        return None
    remarks = []
    if found.held.missing:
        n = len(found.held.missing)
        remarks.append(
            f"Left out, because they are not in numbers yet: {n} {'record' if n == 1 else 'records'}."
        )
    if found.older:
        remarks.append(OLDER_NOTE)
    return Part(trends=found.trends, odd_visits=found.odd_visits, advice=found.advice, remarks=tuple(remarks))


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def trend(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Show each number of a back over the visits, which visits do not belong, and when to look again."""
    found = followed(request.actor, uuid, request.GET.get("kept", ""))
    held = found if isinstance(found, HorseInNumbers) else found.held
    return show(
        request,
        "change/trend.html",
        f"{gettext('Trend')}: {held.horse}",
        held,
        uuid=uuid,
        key=uuids.uuid4(),
        least=LEAST_VISITS,
        **(_shown(found) if isinstance(found, Followed) else {"trends": ()}),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendLine:
    """One number over the visits, in words."""

    words: str
    swing: str
    """When it rose or fell most clearly; empty where it did not."""
    overall: str
    rate: str
    season: str
    has_season: bool
    odd: str
    points: tuple[tuple[date, str, str, bool], ...]
    """Day, value, standard uncertainty, whether it belongs."""


def _shown(found: Followed) -> dict[str, Any]:
    from saddlebench.exchange import trend_words as words  # noqa: PLC0415
    from saddlebench.exchange.phrases import SCREENING_NOTE  # noqa: PLC0415
    from saddlebench.exchange.repeat_words import with_unit  # noqa: PLC0415

    besides = words.whole_days(found.odd_visits)
    lines = [
        TrendLine(
            words=words.name_of(one.quantity),
            swing=words.swing_words(one),
            overall=words.change_words(one.overall, one.quantity),
            rate=words.change_words(one.rate, one.quantity),
            season=words.season_words(one.season, one.quantity),
            has_season=words.is_season_told(one.season),
            odd=words.odd_words(one, besides),
            points=tuple(
                (p.day, with_unit(p.value, one.quantity), with_unit(p.sd, one.quantity), p.belongs)
                for p in one.points
            ),
        )
        for one in found.trends
    ]
    records = {one.visit.day: one.back for one in found.held.kept}
    days_kept = [one.visit.day for one in found.held.kept]
    return {
        "trends": lines,
        "drawn": min(MOST_DRAWN, len(lines)),
        "first": days_kept[0],
        "last": days_kept[-1],
        "odd_visits": [
            (one.day, words.odd_parts_words(one), records.get(one.day)) for one in found.odd_visits
        ],
        "moved": words.moved_words(found.trends),
        "advice": found.advice,
        "older": found.older,
        "advice_day": max(found.advice.day, timezone.localdate()),
        "saddle": found.saddle,
        "kept": found.kept.value,
        "reasons": [(one.value, words_of_reason(one)) for one in REASONS],
        "figures": (why := sorted({one.figure for one in found.held.kept if one.figure})),
        "figures_words": "; ".join(told(one) for one in why),
        "cautions": (words.MOVED_NOTE, words.TREND_NOTE, SCREENING_NOTE),
    }


@signed_in(Action.SEE_HORSES)
@wholly_spoken
def chart(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Send the chart of the numbers that moved most clearly."""
    found = followed(request.actor, uuid, request.GET.get("kept", ""))
    return chart_of(request, found)


def chart_of(request: Any, found: Followed | HorseInNumbers) -> HttpResponse:
    """Answer with the chart of a horse's trends.

    Raises
    ------
    InputProblemsError
        If there are too few visits.
    """
    if isinstance(found, HorseInNumbers):
        what = f"{len(found.kept)} visits in numbers make no trend"
        raise input_problem(what, f"Measure {LEAST_VISITS} times at least, on different days.")
    width = request.GET.get("width", PHONE)
    width = width if width in WIDTHS else PHONE

    def make() -> Any:
        from saddlebench.exchange import drawings as drawn  # noqa: PLC0415
        from saddlebench.exchange.drawings.trend import trend_chart  # noqa: PLC0415

        width_mm = drawn.PHONE_WIDTH_MM if width == PHONE else drawn.PAGE_WIDTH_MM
        made = trend_chart(
            found.trends[:MOST_DRAWN], label=found.held.horse, advice=found.advice, width_mm=width_mm
        )
        return compressed(drawn.as_svg(made).encode(), SVG)

    key = f"{found.key}-{found.advice.day.isoformat()}"
    reads = reader().language
    return sent(
        request,
        drawings.get((key, "trend", width, reads), make),
        f"{key[:20]}-{found.advice.day}-{width}-{reads}",
    )


@signed_in(Action.RECORD_STUDY, DEED)
@wholly_spoken
def work_out(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Put the records into numbers that are not in numbers yet; all of them, if asked."""
    again = request.POST.get("again") == "yes"
    job = ask_numbers(request.actor, uuid, again=again, key=key_of(request.POST.get("key", "")))
    return HttpResponseRedirect(reverse("job", args=[job]))


@signed_in(Action.ENTER_VISIT, DEED)
@wholly_spoken
def to_diary(request: PageRequest, uuid: uuids.UUID) -> HttpResponse:
    """Put the day for looking again into the diary."""
    try:
        on = date.fromisoformat(request.POST.get("on", ""))
    except ValueError:
        raise input_problem("this is not a date", "Write year-month-day.") from None
    from saddlebench.exchange.trend_words import day_words  # noqa: PLC0415

    services.set_recheck(request.actor, uuid, on=on, uuid=key_of(request.POST.get("key", "")))
    say(request, gettext("In the diary: look again by %(day)s.") % {"day": day_words(on)})
    return HttpResponseRedirect(reverse("change:trend", args=[uuid]))
