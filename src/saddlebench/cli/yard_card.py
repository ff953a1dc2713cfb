"""The command that prints a yard card: a visit and a back on paper."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import AsJson, Overwrite, guarded, print_json, require_free, words
from saddlebench.cli.stated import instrument_named, one_of, reader_named, some_of

if TYPE_CHECKING:
    from saddlebench.report import Paper


def yard_card(
    output: Annotated[Path, typer.Option("--output", "-o", help="Where the PDF is written.", readable=False)],
    instrument: Annotated[
        str, typer.Option("--instrument", "-i", help="Instrument file or shipped name: what is taken along.")
    ] = "tape-hand",
    parts: Annotated[
        str, typer.Option(help="What stands on it: visit, back, saddle, with commas between.")
    ] = "visit, back, saddle",
    first: Annotated[
        float, typer.Option(help="First section behind the shoulder mark, mm.", min=-400.0, max=600.0)
    ] = -80.0,
    apart: Annotated[float, typer.Option(help="Sections apart, mm.", min=15.0, max=300.0)] = 80.0,
    sections: Annotated[int, typer.Option(help="How many sections.", min=1, max=12)] = 7,
    topline_chain: Annotated[
        bool, typer.Option("--topline-chain", help="The topline by the instrument's own chain.")
    ] = False,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    language: Annotated[str, typer.Option("--in", "--language", help="Language: en or de.")] = "en",
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Print a yard card: the pages' fields in their order, one box for a digit, to be typed in later.

    \b
    Examples:
      saddlebench yard-card -o card.pdf
      saddlebench yard-card -i chain-12x30 --parts back --paper letter -o card.pdf
      saddlebench yard-card --in de -o stallkarte.pdf
    """
    chosen, wanted, speaks = _paper(paper), _parts(parts), reader_named(language)
    with guarded("yard-card", as_json=as_json):
        from saddlebench.exchange.readers import read_by
        from saddlebench.practice.start import words_alone
        from saddlebench.report.yard_card import write_yard_cards

        words_alone()
        from saddlebench.web.cards.filling import Sections, Wanted
        from saddlebench.web.cards.filling import yard_card as card_of

        require_free(output, overwrite=overwrite)
        tool = instrument_named(instrument)
        planned = Sections(first_mm=first, apart_mm=apart, count=sections, by_chain=topline_chain)
        with read_by(speaks):
            card = card_of(tool, planned, Wanted(**{part: part in wanted for part in _PARTS}))
            write_yard_cards([card], output, chosen)
        if as_json:
            found = {"instrument": tool.name, "fields": len(card.fields), "written": str(output)}
            print_json("yard-card", result=found)
            return
        words().print(f"Written: {output}: {len(card.fields)} fields for {tool.name}. Print at 100 %.")


_PARTS = ("visit", "back", "saddle")
_PAPERS = ("a4", "letter")


def _paper(text: str) -> "Paper":
    from saddlebench.report import Paper

    return Paper.LETTER if one_of(text, _PAPERS, "--paper") == "letter" else Paper.A4


def _parts(text: str) -> frozenset[str]:
    named = [one.strip() for one in text.split(",") if one.strip()]
    return frozenset(some_of(named or [text], _PARTS, "--parts"))
