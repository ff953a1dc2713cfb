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
    from saddlebench.engine.change.trend.recheck import RecheckAdvice
    from saddlebench.engine.change.trend.study import Fitted, Trend
    from saddlebench.exchange.trend_job import NumberedVisits

MOST_DRAWN = 12


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
            fitted = study_trends(visits, lambda done, of, doing: show("trend", done, of, doing))
        older = older_words(known, hand)
        advice = _advice(fitted, fit, kept)
        trends = ordered(tuple(one.trend for one in fitted))
        if output is not None:
            document = TrendDocument.of(visits, trends, advice, own_errors=numbered.own_errors)
            write_trend(document, output)
        if picture is not None:
            _draw(trends, visits[0].label, advice, picture, phone=phone)
        written = [str(path) for path in (output, picture) if path is not None]
        if as_json:
            result = trends_as_json(visits[0].label, trends, advice)
            print_json("trend", result=result | {"older_figures": list(older), "written": written})
            return
        for line in older:
            words().print(f"≈ {line} Name their records again, without --onto, to work them out anew.")
        tell_trend(visits[0].label, trends, advice)
        _tell_errors(numbered)
        for name in written:
            words().print(f"Written: {name}")


def _tell_errors(numbered: "NumberedVisits") -> None:
    """Print whose measuring errors the visits went by."""
    from saddlebench.exchange.own_errors import errors_words

    days = [visit.day for visit in numbered.visits]
    for line in dict.fromkeys(errors_words(numbered.own_errors.get(day)) for day in days):
        words().print(f"• {line}")


def _advice(fitted: "tuple[Fitted, ...]", fit: Path | None, kept: str) -> "RecheckAdvice":
    from saddlebench.engine.change.trend.recheck import advise_recheck
    from saddlebench.engine.fit.tolerance import tolerances_of
    from saddlebench.exchange.records import read_study
    from saddlebench.practice.estimates.recheck import REASONS, recheck_window, words_of_reason

    named = {reason.value.replace("_", " "): reason for reason in REASONS}
    reason = named[one_of(kept, named, "--horse-is")]
    tolerances = tolerances_of(read_study(fit).findings) if fit is not None else ()
    last = max((one.last_day for one in fitted), default=dt.date.min)
    window = recheck_window(last, [reason])
    return advise_recheck(
        fitted,
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


def trends_as_json(label: str, trends: "tuple[Trend, ...]", advice: "RecheckAdvice | None") -> dict[str, Any]:
    """Return trends and when to look again as JSON holds them."""
    from saddlebench.exchange.trend_json import trend_as_json

    return {
        "label": label,
        "trends": [trend_as_json(one) for one in trends],
        "look_again": None
        if advice is None
        else {"day": advice.day.isoformat(), "reasons": list(advice.reasons)},
    }


def tell_trend(label: str, trends: "tuple[Trend, ...]", advice: "RecheckAdvice | None") -> None:
    """Print trends, when to look again, and the cautions."""
    from rich.table import Table

    from saddlebench.exchange.phrases import SCREENING_NOTE
    from saddlebench.exchange.trend_words import (
        MOVED_NOTE,
        TREND_NOTE,
        change_words,
        moved_words,
        odd_words,
        season_words,
        swing_words,
    )

    table = Table(title=f"{label}: over the visits", title_justify="left", box=None, pad_edge=False)
    for heading in (
        "number",
        "moved",
        "first to last (95 %)",
        "a quarter year now",
        "season",
        "",
    ):
        table.add_column(heading, overflow="fold")
    for one in trends:
        table.add_row(
            one.quantity.words,
            swing_words(one) or "○ not beyond error",
            change_words(one.overall, one.quantity),
            change_words(one.rate, one.quantity),
            season_words(one.season, one.quantity),
            odd_words(one),
        )
    console = results()
    console.print(f"[bold]{moved_words(trends)}.[/bold]")
    console.print(table)
    if advice is not None:
        console.print(f"\n[bold]Look again by {advice.day.isoformat()}[/bold]")
        for reason in advice.reasons:
            console.print(f"  {reason}")
    for note in (MOVED_NOTE, TREND_NOTE, SCREENING_NOTE):
        words().print(f"• {note}")
