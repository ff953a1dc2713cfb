"""Commands that say how well a back is measured twice."""

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

if TYPE_CHECKING:
    from saddlebench.engine.back.record import BackRecord
    from saddlebench.engine.change.repeat.exercise import CheckMe
    from saddlebench.engine.change.repeat.study import RepeatStudy

app = typer.Typer(no_args_is_help=True, help="Say how well a back is measured twice, by one or by several.")


@app.command("me")
def me(
    backs: Annotated[
        list[Path],
        typer.Argument(
            help="Back records of one horse, taken one after another: three to five.", readable=False
        ),
    ],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Where the result is written (JSON).")
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="A picture: a name ending in .svg, .png or .pdf.")
    ] = None,
    surface: Annotated[
        Path | None,
        typer.Option("--surface", help="A map of where the hand is steady: .svg, .png or .pdf."),
    ] = None,
    same_marks: Annotated[
        bool, typer.Option("--same-marks", help="The marks stayed on; only the sections were taken again.")
    ] = False,
    phone: Annotated[bool, typer.Option("--phone", help="The picture for a phone.")] = False,
    seed: Annotated[int, typer.Option(help="The same seed gives the same result.", min=0)] = 0,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Check your own hand: the same back three to five times, and what it says, in ten minutes.

    \b
    Example:
      saddlebench repeat me first.back.json second.back.json third.back.json --picture me.svg
    """
    with guarded("repeat me", as_json=as_json):
        from saddlebench.engine.errors import Undetermined, Where, input_problem
        from saddlebench.exchange.records.document import write_document
        from saddlebench.exchange.records.repeat import CheckMeDocument
        from saddlebench.exchange.repeat_job import check_me_files

        for path in (output, picture, surface):
            if path is not None:
                require_free(path, overwrite=overwrite)
        with progress(quiet=as_json) as show:
            record, found = check_me_files(
                backs,
                marks_again=not same_marks,
                seed=seed,
                progress=lambda done, of, doing: show("repeats", done, of, doing),
            )
        if isinstance(found, Undetermined):
            cure = "Measure the same back again, three times at least."
            raise input_problem(found.reason, cure, Where(file=str(backs[0])))
        if output is not None:
            document = CheckMeDocument.of(
                found, back=record.label, day=record.measured_on, instrument=record.instrument.name
            )
            write_document(document, output)
        if picture is not None:
            _draw(found, record, picture, phone=phone)
        if surface is not None:
            _draw(found, record, surface, phone=phone, whole_back=True)
        written = [str(path) for path in (output, picture, surface) if path is not None]
        if as_json:
            print_json("repeat me", result=check_as_json(found) | {"written": written})
            return
        tell_check(found)
        for name in written:
            words().print(f"Written: {name}")


def _draw(
    found: "CheckMe", record: "BackRecord", path: Path, *, phone: bool, whole_back: bool = False
) -> None:
    from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM, write_drawing
    from saddlebench.exchange.drawings.repeat_hand import hand_chart
    from saddlebench.exchange.drawings.repeat_surface import surface_chart

    label = f"{record.label}, {record.instrument.name}, {found.n_repeats} repeats"
    width = PHONE_WIDTH_MM if phone else PAGE_WIDTH_MM
    draw = surface_chart if whole_back else hand_chart
    write_drawing(draw(found, label=label, width_mm=width), path)


def check_as_json(found: "CheckMe") -> dict[str, Any]:
    """Return the result of an exercise as JSON holds it."""
    from saddlebench.exchange.repeat_json import spread_as_json
    from saddlebench.exchange.repeat_words import plain_sentences

    overall = found.overall
    return {
        "repeats": found.n_repeats,
        "sentences": list(plain_sentences(found)),
        "overall": {
            "times_stated": overall.factor,
            "interval_95": [overall.low, overall.high],
            "degrees_of_freedom": overall.degrees,
            "in_use": overall.in_use.value,
            "applied": overall.applied,
            "why": overall.why,
        },
        "numbers": [
            {
                "where": one.quantity.where,
                "what": one.quantity.what,
                "unit": one.quantity.unit,
                "mean": one.mean,
                "own": spread_as_json(one.own),
                "stated": one.stated_sd,
                "hand": one.hand.value,
            }
            for one in found.numbers
        ],
        "patterns": [
            {"pattern": one.pattern.value, "own_mm": one.own_mm, "stated_mm": one.stated_mm}
            for one in found.patterns
        ],
        "practise": found.practise,
    }


def tell_check(found: "CheckMe") -> None:
    """Print the result of an exercise, with its cautions."""
    from rich.table import Table

    from saddlebench.exchange.phrases import SCREENING_NOTE
    from saddlebench.exchange.repeat_words import (
        REPEAT_NOTE,
        WORDS,
        plain_sentences,
        spread_words,
        with_unit,
    )

    console = results()
    for sentence in plain_sentences(found):
        console.print(sentence)
    table = Table(title="\nNumber by number", title_justify="left", box=None, pad_edge=False)
    for heading in ("where", "what", "own (95 %)", "stated", ""):
        table.add_column(heading, overflow="fold")
    previous = ""
    for one in found.numbers:
        where = one.quantity.where
        own, stated = spread_words(one.own, one.quantity), with_unit(one.stated_sd, one.quantity)
        table.add_row(where if where != previous else "", one.quantity.what, own, stated, WORDS[one.hand])
        previous = where
    console.print(table)
    for note in (REPEAT_NOTE, SCREENING_NOTE):
        words().print(f"• {note}")


@app.command("study")
def study(
    backs: Annotated[
        list[str],
        typer.Argument(
            help="Back records, each as FITTER=FILE (or the file alone); repeats of one horse have one label."
        ),
    ],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Where the repeat study is written (JSON).")
    ] = None,
    tolerances: Annotated[
        list[str] | None,
        typer.Option(
            "--tolerance",
            help="The whole width within which numbers may lie: mm=6, deg=4, cm2, cm3, ratio, or for one by "
            "its name, “withers width=8”; may be given again.",
        ),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Compare repeats by one or several fitters and instruments, of one back or several.

    \b
    Examples:
      saddlebench repeat study Ann=a1.back.json Ann=a2.back.json Ben=b1.back.json Ben=b2.back.json
      saddlebench repeat study Ann=a1.back.json Ben=b1.back.json --tolerance mm=10 --tolerance deg=6
    """
    with guarded("repeat study", as_json=as_json):
        from saddlebench.exchange.records.repeat import write_repeats
        from saddlebench.exchange.repeat_job import named, repeat_study_files
        from saddlebench.exchange.repeat_json import repeats_as_json
        from saddlebench.exchange.repeat_tolerance import read_tolerances

        stated = read_tolerances(tolerances) if tolerances else None
        if output is not None:
            require_free(output, overwrite=overwrite)
        with progress(quiet=as_json) as show:
            found = repeat_study_files(
                [named(one) for one in backs],
                tolerances=stated,
                progress=lambda done, of, doing: show("repeats", done, of, doing),
            )
        if output is not None:
            write_repeats(found, output)
        written = [] if output is None else [str(output)]
        if as_json:
            print_json("repeat study", result=repeats_as_json(found) | {"written": written})
            return
        tell_repeats(found)
        for name in written:
            words().print(f"Written: {name}")


def tell_repeats(found: "RepeatStudy") -> None:
    """Print a repeat study, with its cautions."""
    from rich.table import Table

    from saddlebench.engine.errors import Undetermined
    from saddlebench.exchange.phrases import SCREENING_NOTE
    from saddlebench.exchange.repeat_tolerance import TOLERANCE_NOTE, tolerance_sentences, tolerance_words
    from saddlebench.exchange.repeat_words import REPEAT_NOTE, gauge_words, spread_words, with_unit

    console = results()
    is_held = any(one.tolerance is not None for one in found.quantities)
    console.print(
        f"{found.n_repeats} records of {len(found.backs)} back(s) by {', '.join(found.fitters)} "
        f"with {', '.join(found.instruments)}"
    )
    for sentence in tolerance_sentences(found):
        console.print(sentence)
    table = Table(box=None, pad_edge=False)
    headings = (
        "where",
        "what",
        "same fitter again (95 %)",
        "any fitter (95 %)",
        "two readings within",
        "ICC",
        "gauge's share of the spread",
        *(("of the tolerance",) if is_held else ()),
    )
    for heading in headings:
        table.add_column(heading, overflow="fold")
    previous = ""
    for one in found.quantities:
        where = one.quantity.where
        again = one.repeatability
        apart = "" if isinstance(again, Undetermined) else with_unit(again.limit, one.quantity)
        form = "" if isinstance(one.correlation, Undetermined) else f"{one.correlation[1].value:.2f}"
        table.add_row(
            where if where != previous else "",
            one.quantity.what,
            spread_words(again, one.quantity),
            spread_words(one.reproducibility, one.quantity),
            apart,
            form,
            gauge_words(one),
            *((tolerance_words(one),) if is_held else ()),
        )
        previous = where
    console.print(table)
    for one in found.quantities:
        for pair in one.agreement:
            low, high = (with_unit(end, one.quantity) for end in (pair.limits.lower, pair.limits.upper))
            console.print(
                f"{one.quantity.words}: {pair.first} less {pair.second} lies between {low} and {high}"
            )
    for note in (*((TOLERANCE_NOTE,) if is_held else ()), REPEAT_NOTE, SCREENING_NOTE):
        words().print(f"• {note}")
