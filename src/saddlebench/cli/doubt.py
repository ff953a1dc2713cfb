"""What a finding's doubt comes from, and which reading to take again."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, results, words

if TYPE_CHECKING:
    from saddlebench.engine.fit.worth_repeating import FindingDoubt


def doubt(
    study: Annotated[Path, typer.Argument(help="A fit check, or an alteration plan.", readable=False)],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="A picture: a name ending in .svg, .png or .pdf."),
    ] = None,
    all_findings: Annotated[
        bool, typer.Option("--all", help="Also findings that can be told as they are.")
    ] = False,
    phone: Annotated[bool, typer.Option("--phone", help="The picture for a phone.")] = False,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Say where the doubt of each finding comes from, and which reading, taken again, would let it be told.

    Of a plan: the findings as they are after it.

    \b
    Examples:
      saddlebench doubt bramble.fit.json -o doubt.svg
      saddlebench doubt bramble.plan.json
    """
    with guarded("doubt", as_json=as_json):
        from saddlebench.exchange.doubt_json import doubts_as_json
        from saddlebench.exchange.doubt_words import worth_telling

        if output is not None:
            require_free(output, overwrite=overwrite)
        held = _read(study)
        doubts = held.doubts if all_findings else worth_telling(held.doubts)
        if output is not None:
            from saddlebench.exchange.drawings import PAGE_WIDTH_MM, PHONE_WIDTH_MM, write_drawing
            from saddlebench.exchange.drawings.doubt import doubt_chart

            width = PHONE_WIDTH_MM if phone else PAGE_WIDTH_MM
            write_drawing(doubt_chart(doubts, pair=held.pair, width_mm=width), output)
        if as_json:
            written = None if output is None else str(output)
            result = {"tries": held.tries, "findings": doubts_as_json(doubts), "written": written}
            print_json("doubt", result=result)
            return
        _tell(doubts, held.tries, whether_all=all_findings)
        if output is not None:
            words().print(f"Written: {output}")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """What a file says of doubts."""

    doubts: "tuple[FindingDoubt, ...]"
    tries: int
    pair: str


def _read(path: Path) -> _Held:
    from saddlebench.exchange.records import PlanDocument, kind_of, read_plan, read_study

    if kind_of(path) is PlanDocument:
        plan = read_plan(path)
        pair = f"{plan.inputs.saddle_label} on {plan.inputs.back_label or 'this back'}, as planned"
        return _Held(doubts=plan.doubts, tries=plan.tries, pair=pair)
    study = read_study(path)
    pair = f"{study.saddle.label} on {study.inputs.back_label or 'this back'}"
    return _Held(doubts=study.put.doubts, tries=study.draws, pair=pair)


def _tell(doubts: "tuple[FindingDoubt, ...]", tries: int, *, whether_all: bool) -> None:
    from rich.table import Table

    from saddlebench.exchange.doubt_words import (
        DOUBT_NOTE,
        advice_of,
        amount_of,
        number_words,
        place_of,
        title_of_doubt,
    )
    from saddlebench.exchange.phrases import SCREENING_NOTE

    console = results()
    if not tries:
        console.print("This was made without tries: make it again with --tries 256.")
    elif not doubts:
        told = "No finding has a doubt to part." if whether_all else "Every finding can be told as it is."
        console.print(told)
    for one in doubts:
        console.print(f"\n[bold]{title_of_doubt(one)}[/bold]")
        console.print(f"  {number_words(one)}")
        console.print(f"  → {advice_of(one)}")
        table = Table(box=None, pad_edge=False, padding=(0, 2))
        for heading in ("  source", "of the doubt", "between", "a repeat removes", "then told"):
            table.add_column(heading, justify="left" if heading == "  source" else "right")
        for source in one.sources:
            ends = f"{amount_of(source.low, one.unit)} … {amount_of(source.high, one.unit)}"
            removes = f"{100 * source.removes:.0f} %" if source.removes else "assumption"
            settles = f"{100 * source.settles:.0f} in 100" if source.removes else ""
            table.add_row(f"  {place_of(source)}", f"{100 * source.share:.0f} %", ends, removes, settles)
        console.print(table)
    for note in (DOUBT_NOTE, SCREENING_NOTE):
        words().print(f"• {note}")
