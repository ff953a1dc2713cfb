"""The trend over many visits, and when to look again."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.console import (
    AsJson,
    Overwrite,
    guarded,
    print_json,
    progress,
    require_free,
    results,
    words,
)
from saddlebench.cli.own_hand import OwnErrorsFiles, own_errors_of, own_hand_of
from saddlebench.cli.stated import one_of

if TYPE_CHECKING:
    from rich.table import Table

    from saddlebench.engine.change.trend.recheck import RecheckAdvice
    from saddlebench.engine.change.trend.study import Trend, TrendStudy
    from saddlebench.exchange.records.trend import TrendDocument
    from saddlebench.exchange.trend_job import NumberedVisits

MOST_DRAWN = 12
TWO_VISITS = (
    "Two visits are no trend: “saddlebench change” says what changed between them, and whether it is real."
)


def trend(
    backs: Annotated[
        list[Path] | None,
        typer.Argument(help="Back records of one horse, one a visit, in any order.", readable=False),
    ] = None,
    onto: Annotated[
        Path | None,
        typer.Option("--onto", help="A trend made before: its visits are kept, not measured again."),
    ] = None,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Where the trend is written (JSON).")
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="A picture: a name ending in .svg, .png or .pdf.")
    ] = None,
    fit: Annotated[
        Path | None,
        typer.Option("--fit", help="A fit check of the present saddle on the last back: what it tolerates."),
    ] = None,
    kept: Annotated[
        str, typer.Option("--horse-is", help="steady, young, rehab, changing weight or new flock.")
    ] = "steady",
    phone: Annotated[bool, typer.Option("--phone", help="The picture in one column, for a phone.")] = False,
    own_errors: OwnErrorsFiles = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Follow a back's numbers over the visits: what moves, which visit does not belong, when to look again.

    \b
    Examples:
      saddlebench trend 2025/*.back.json -o bramble.trend.json --picture trend.svg
      saddlebench trend new.back.json --onto bramble.trend.json --own-errors me.json --fit bramble.fit.json
    """
    with guarded("trend", as_json=as_json):
        from saddlebench.engine.change.trend.study import study_trends
        from saddlebench.engine.errors import input_problem
        from saddlebench.exchange.records.trend import TrendDocument, read_trend, write_trend
        from saddlebench.exchange.trend_job import NO_VISITS, NumberedVisits, older_words, visits_of_files
        from saddlebench.exchange.trend_words import ordered

        for path in (output, picture):
            if path is not None:
                require_free(path, overwrite=overwrite)
        known, hand = NO_VISITS, own_hand_of(own_errors)
        if onto is not None:
            kept_before = read_trend(onto)
            known = NumberedVisits(visits=kept_before.held_visits(), own_errors=kept_before.held_errors())
        if not backs and not known.visits:
            raise input_problem("there is no back record", "Name the records of one horse.")
        with progress(quiet=as_json) as show:
            numbered = visits_of_files(
                backs or [],
                known=known,
                own_errors=own_errors_of(own_errors),
                progress=lambda done, of, doing: show("visits", done, of, doing),
            )
            visits = numbered.visits
            study = study_trends(visits, lambda done, of, doing: show("trend", done, of, doing))
        older = older_words(known, hand)
        advice = _advice(study, fit, kept)
        trends = ordered(tuple(one.trend for one in study.fitted))
        document = TrendDocument.of(
            visits, trends, advice, odd_visits=study.odd_visits, own_errors=numbered.own_errors
        )
        if output is not None:
            write_trend(document, output)
        if picture is not None:
            _draw(trends, document.label, advice, picture, phone=phone)
        written = [str(path) for path in (output, picture) if path is not None]
        if as_json:
            print_json(
                "trend", result=trends_as_json(document) | {"older_figures": list(older), "written": written}
            )
            return
        for line in older:
            words().print(f"≈ {line} Name their records again, without --onto, to work them out anew.")
        tell_trend(document)
        _tell_errors(numbered)
        for name in written:
            words().print(f"Written: {name}")


def _tell_errors(numbered: "NumberedVisits") -> None:
    """Print whose measuring errors the visits went by."""
    from saddlebench.exchange.own_errors import errors_words

    days = [visit.day for visit in numbered.visits]
    for line in dict.fromkeys(errors_words(numbered.own_errors.get(day)) for day in days):
        words().print(f"• {line}")


def _advice(study: "TrendStudy", fit: Path | None, kept: str) -> "RecheckAdvice":
    from saddlebench.engine.change.trend.recheck import advise_recheck
    from saddlebench.engine.fit.tolerance import tolerances_of
    from saddlebench.exchange.records import read_study
    from saddlebench.practice.estimates.recheck import REASONS, recheck_window, words_of_reason

    named = {reason.value.replace("_", " "): reason for reason in REASONS}
    reason = named[one_of(kept, named, "--horse-is")]
    tolerances = tolerances_of(read_study(fit).findings) if fit is not None else ()
    window = recheck_window(study.last_day or dt.date.min, [reason])
    return advise_recheck(
        study.fitted,
        tolerances,
        due_from=window.due_from,
        due_by=window.due_by,
        reason=f"a horse that is {words_of_reason(named[kept])}",
    )


def _draw(
    trends: "tuple[Trend, ...]", label: str, advice: "RecheckAdvice", path: Path, *, phone: bool
) -> None:
    from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM, write_drawing
    from saddlebench.exchange.drawings.trend import trend_chart

    width = PHONE_WIDTH_MM if phone else PAGE_WIDTH_MM
    write_drawing(trend_chart(trends[:MOST_DRAWN], label=label, advice=advice, width_mm=width), path)


def trends_as_json(document: "TrendDocument") -> dict[str, Any]:
    """Return trends, visits that do not belong and when to look again as JSON holds them."""
    from saddlebench.exchange.trend_json import odd_visit_as_json, trend_as_json
    from saddlebench.exchange.trend_words import is_trend, too_few_words

    advice = document.advice
    return {
        "label": document.label,
        "trends": [trend_as_json(one) for one in document.trends],
        "odd_visits": [odd_visit_as_json(one) for one in document.odd_visits],
        "visits": len(document.visits),
        "no_trend": None if is_trend(document.trends) else too_few_words(document.trends),
        "look_again": None
        if advice is None
        else {"day": advice.day.isoformat(), "reasons": list(advice.reasons)},
    }


def tell_trend(document: "TrendDocument") -> None:
    """Print trends, which visits do not belong, when to look again, and the cautions."""
    from saddlebench.exchange.phrases import SCREENING_NOTE
    from saddlebench.exchange.trend_words import (
        MOVED_NOTE,
        TREND_NOTE,
        day_words,
        is_trend,
        moved_words,
        odd_visit_words,
    )

    console = results()
    console.print(f"[bold]{moved_words(document.trends)}.[/bold]")
    if not is_trend(document.trends):
        console.print(_values(document))
        n = len(document.visits)
        console.print("What it measured is above; nothing is said of movement." if n == 1 else TWO_VISITS)
    else:
        for one in document.odd_visits:
            console.print(f"✕ Does not belong: {odd_visit_words(one)}.")
        console.print(_movements(document))
    if document.advice is not None:
        console.print(f"\n[bold]Look again by {day_words(document.advice.day)}[/bold]")
        for reason in document.advice.reasons:
            console.print(f"  {reason}")
    for note in (MOVED_NOTE, TREND_NOTE, SCREENING_NOTE) if is_trend(document.trends) else (SCREENING_NOTE,):
        words().print(f"• {note}")


def _values(document: "TrendDocument") -> "Table":
    """Return what each visit measured, where there are too few for a trend."""
    from rich.table import Table

    from saddlebench.engine.back.estimates import NORMAL_95
    from saddlebench.exchange.repeat_words import with_unit
    from saddlebench.exchange.trend_words import day_words

    days = sorted({point.day for one in document.trends for point in one.points})
    table = Table(title=document.label, title_justify="left", box=None, pad_edge=False)
    for heading in ("number", *(day_words(day) for day in days)):
        table.add_column(heading, overflow="fold")
    for one in document.trends:
        at = {
            point.day: " ± ".join(with_unit(v, one.quantity) for v in (point.value, NORMAL_95 * point.sd))
            for point in one.points
        }
        table.add_row(one.quantity.words, *(at.get(day, "-") for day in days))
    return table


def _movements(document: "TrendDocument") -> "Table":
    from rich.table import Table

    from saddlebench.exchange.trend_words import (
        change_words,
        odd_words,
        season_words,
        swing_words,
        whole_days,
    )

    said_besides = whole_days(document.odd_visits)
    table = Table(title=f"{document.label}: over the visits", title_justify="left", box=None, pad_edge=False)
    headings = ("number", "moved", "first to last (95 %)", "a quarter year now", "season", "")
    for heading in headings:
        table.add_column(heading, overflow="fold")
    for one in document.trends:
        table.add_row(
            one.quantity.words,
            swing_words(one) or "○ not beyond error",
            change_words(one.overall, one.quantity),
            change_words(one.rate, one.quantity),
            season_words(one.season, one.quantity),
            odd_words(one, said_besides),
        )
    return table
