"""Tables of a plan."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from saddlebench.cli.console import results

if TYPE_CHECKING:
    from saddlebench.engine.alter import Alteration, FindingChange


def work_table(alteration: "Alteration") -> None:
    """Print what to do, place by place."""
    from rich.table import Table

    from saddlebench.exchange.altering import signed_mm, work_lines

    lines = work_lines(alteration)
    if not lines:
        return
    table = Table(box=None, pad_edge=False, title="What to do", title_justify="left")
    for heading in ("place", "on the bench", "after bedding in", "how"):
        table.add_column(heading, overflow="fold")
    for line in lines:
        table.add_row(
            line.place,
            f"{signed_mm(line.bench_mm)} ±{line.tolerance_bench_mm:g}",
            f"{signed_mm(line.wanted_mm)} ±{line.tolerance_bedded_mm:g}",
            line.how,
        )
    results().print(table)


def changes_table(changes: "Sequence[FindingChange]") -> None:
    """Print the findings that change or stay off, before and after; the others are counted."""
    from rich.table import Table

    from saddlebench.engine.alter import Turn
    from saddlebench.exchange.altering import TURN_SYMBOLS
    from saddlebench.exchange.phrases import SYMBOLS, number_of, title_of
    from saddlebench.report.plan_json import agreeing

    table = Table(box=None, pad_edge=False, title="Before and after", title_justify="left")
    for heading in ("", "finding", "before", "after", "of the tries, agree"):
        table.add_column(heading, overflow="fold")
    order = {Turn.BETTER: 0, Turn.WORSE: 1, Turn.CANNOT_TELL: 2, Turn.SAME: 3}
    told = [one for one in changes if one.turn is not Turn.SAME or one.is_still_off]
    for change in sorted(told, key=lambda one: (order[one.turn], not one.is_still_off)):
        before, after = change.before, change.after
        share = agreeing(after)
        table.add_row(
            f"{TURN_SYMBOLS[change.turn]} {change.turn}",
            title_of(after),
            f"{SYMBOLS[before.verdict]} {before.verdict}, {number_of(before.decided_by.measure)}",
            f"{SYMBOLS[after.verdict]} {after.verdict}, {number_of(after.decided_by.measure)}",
            "" if share is None else f"{100 * share:.0f} %",
        )
    if told:
        results().print(table)
    results().print(f"{len(changes) - len(told)} other findings are fine, or untold, before and after alike.")
