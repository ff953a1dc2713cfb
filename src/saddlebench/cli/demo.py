"""The demo: the whole job on an invented yard."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import AsJson, guarded, print_json, progress, results, words

if TYPE_CHECKING:
    from saddlebench.demo.day import HorseDone
    from saddlebench.demo.two_years import StoryDone
    from saddlebench.demo.walked_round import WalkedRound


def demo(
    output: Annotated[
        Path, typer.Option("--output", "-o", help="Folder for everything the demo makes.", readable=False)
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
            from saddlebench.demo.two_years import run_stories
            from saddlebench.demo.walked_round import walk_round

            done = list(
                run_day(
                    output,
                    lambda horse: lambda count, of, doing: show(horse.name, count, of, doing),
                    draws=draws,
                )
            )
            stories = list(
                run_stories(
                    output,
                    lambda story: (
                        lambda count, of, doing: show(f"{story.name}, over the years", count, of, doing)
                    ),
                )
            )
            walked = walk_round(
                output / "walked-round",
                lambda count, of, doing: show("a scan in two pieces", count, of, doing),
            )
            show("a scan in two pieces", 1, 1, "done")
            write_page(done, output / "index.html", stories)
        if as_json:
            print_json("demo", result=[_as_json(one) for one in done])
            return
        _table(done)
        for one in stories:
            _over_the_years(one)
        _walked(walked)
        console = words()
        console.print("No horse, person or saddle in this demo exists.")
        console.print(f"Pictures, records and PDFs: {output}")
        console.print(f"Look at them all in one page: {output / 'index.html'}")


def _as_json(done: "HorseDone") -> dict[str, object]:
    from saddlebench.engine.errors import Undetermined

    fit = done.fit
    return {
        "horse": done.horse.name,
        "quality": done.quality.verdict.value,
        "folder": str(done.folder),
        "document": None if done.document is None else str(done.document),
        "fit": {"cannot_be_judged": fit.reason} if isinstance(fit, Undetermined) else fit.as_json,
    }


def _table(done: "list[HorseDone]") -> None:
    from rich.table import Table

    from saddlebench.engine.errors import Undetermined
    from saddlebench.exchange.phrases import SYMBOLS, WORST_FIRST

    table = Table(title="The invented yard", title_justify="left", box=None, pad_edge=False)
    for heading in ("horse", "back record", *(f"{SYMBOLS[v]} {v}" for v in WORST_FIRST)):
        table.add_column(heading, overflow="fold")
    for one in done:
        fit = one.fit
        cells = ["not judged: not rigid"]
        if not isinstance(fit, Undetermined):
            cells = [str(sum(f.verdict is verdict for f in fit.findings)) for verdict in WORST_FIRST]
        table.add_row(one.horse.name, one.quality.words, *cells)
    results().print(table)
    for one in done:
        _story(one)


def _story(one: "HorseDone") -> None:
    from rich.padding import Padding

    from saddlebench.engine.errors import Undetermined
    from saddlebench.engine.fit.verdicts import Verdict
    from saddlebench.exchange.phrases import number_of, remark_of, sorted_worst_first, title_of

    console = results()
    console.print(f"\n[bold]{one.horse.name}[/bold]: {one.horse.story}")
    if isinstance(one.fit, Undetermined):
        console.print(Padding(one.fit.reason, (0, 0, 0, 2)))
        return
    bad = [f for f in sorted_worst_first(one.fit.findings) if f.verdict is Verdict.NOT_RIGHT]
    for finding in bad:
        words = f"✕ {title_of(finding)}: {number_of(finding.decided_by.measure)}. {remark_of(finding)}"
        console.print(Padding(words.strip(), (0, 0, 0, 2)))
    if not bad:
        console.print(Padding("nothing is not right", (0, 0, 0, 2)))
    _plan(one)


def _over_the_years(done: "StoryDone") -> None:
    from rich.padding import Padding

    from saddlebench.exchange.change_words import headline, sentences

    console = results()
    console.print(f"\n[bold]{done.story.name}[/bold], over the years: {done.story.words}")
    for sentence in sentences(done.study):
        console.print(Padding(sentence, (0, 0, 0, 2)))
    console.print(
        Padding(f"The first back measured twice, nothing changed: {headline(done.again)}", (0, 0, 0, 2))
    )
    for one in done.then_and_now:
        console.print(
            Padding(
                f"{one.saddle} on {len(done.days)} of its days: {len(one.changed())} of {len(one.rows())} "
                "answers are not the same on all of them.",
                (0, 0, 0, 2),
            )
        )


def _walked(done: "WalkedRound") -> None:
    from rich.padding import Padding

    console = results()
    console.print("\n[bold]A horse scanned by walking round it[/bold]: near and off side apart, merged")
    for sentence in done.sentences:
        console.print(Padding(f"{sentence}.", (0, 0, 0, 2)))
    console.print(Padding(f"Drawn, each piece in its own hatch: {done.picture}", (0, 0, 0, 2)))


def _plan(one: "HorseDone") -> None:
    from saddlebench.cli.plan_tables import changes_table, work_table
    from saddlebench.engine.errors import Undetermined

    if one.plan is None:
        return
    console = results()
    if isinstance(one.plan, Undetermined):
        console.print(f"No plan: {one.plan.reason}")
        return
    for line in one.plan.summary:
        console.print(line)
    work_table(one.plan.alteration)
    changes_table(one.plan.changes)
    for line in (*(f"held back by {limit}" for limit in one.plan.binding), *one.plan.bedding):
        console.print(line)
    console.print(f"Work order for the saddler: {one.plan.sheet}")
