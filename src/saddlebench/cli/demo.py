"""The demo: the whole job on an invented yard."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import AsJson, guarded, print_json, progress, results, words

if TYPE_CHECKING:
    from saddlebench.demo.day import HorseDone


def demo(
    output: Annotated[
        Path, typer.Option("--output", "-o", help="Folder for everything the demo makes.")
    ] = Path("saddlebench-demo"),
    draws: Annotated[int, typer.Option("--tries", help="Tries for the confidence; 0: none.", min=0)] = 256,
    as_json: AsJson = False,
) -> None:
    """Run the whole job on an invented yard: measure, check the fit, draw, write the PDF.

    \b
    Example:
      saddlebench demo -o out/demo
    """
    with guarded("demo", as_json=as_json):
        from saddlebench.cli.warm import warm_up

        with progress(quiet=as_json) as show:
            warm_up(show)
            from saddlebench.demo.day import run_day
            from saddlebench.demo.page import write_page

            done = list(
                run_day(
                    output,
                    lambda horse: lambda count, of, doing: show(horse.name, count, of, doing),
                    draws=draws,
                )
            )
            write_page(done, output / "index.html")
        if as_json:
            print_json("demo", result=[_as_json(one) for one in done])
            return
        _table(done)
        console = words()
        console.print("No horse, person or saddle in this demo exists.")
        console.print(f"Pictures, records and PDFs: {output}")
        console.print(f"Look at them all in one page: {output / 'index.html'}")


def _as_json(done: "HorseDone") -> dict[str, object]:
    from saddlebench.engine.errors import Undetermined
    from saddlebench.report.findings_json import study_as_json

    study = done.study
    return {
        "horse": done.horse.name,
        "quality": done.back.quality.verdict.value,
        "folder": str(done.folder),
        "document": None if done.document is None else str(done.document),
        "fit": {"cannot_be_judged": study.reason}
        if isinstance(study, Undetermined)
        else study_as_json(study),
    }


def _table(done: "list[HorseDone]") -> None:
    from rich.table import Table

    from saddlebench.engine.errors import Undetermined
    from saddlebench.engine.fit.verdicts import Verdict
    from saddlebench.exchange.phrases import WORST_FIRST, number_of, sorted_worst_first, title_of

    table = Table(title="The invented yard", title_justify="left", box=None, pad_edge=False)
    for heading in ("horse", "saddle", "record", *(str(v) for v in WORST_FIRST), "worst"):
        table.add_column(heading, overflow="fold")
    for one in done:
        study = one.study
        if isinstance(study, Undetermined):
            cells = ["", "", "", "", "cannot be judged: not rigid"]
        else:
            findings = sorted_worst_first(study.findings)
            counts = [str(sum(f.verdict is verdict for f in findings)) for verdict in WORST_FIRST]
            bad = [f for f in findings if f.verdict is Verdict.NOT_RIGHT]
            worst = "; ".join(f"{title_of(f)} {number_of(f.decided_by.measure)}" for f in bad[:2])
            cells = [*counts, worst]
        table.add_row(one.horse.name, one.horse.saddle.label, one.back.quality.words, *cells)
    results().print(table)
