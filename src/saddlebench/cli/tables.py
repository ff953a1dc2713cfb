"""Tables in the terminal: results as a person reads them, on stdout."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from saddlebench.cli.console import results

if TYPE_CHECKING:
    from saddlebench.engine.fit.study import FitStudy
    from saddlebench.report.backs import DescribedLine

STYLES = {"fine": "green", "borderline": "yellow", "not right": "bold red", "cannot tell": "cyan"}
"""The word and its symbol stand beside the colour."""


def back_table(label: str, lines: Sequence["DescribedLine"]) -> None:
    """Print a back in numbers."""
    from rich.table import Table

    table = Table(title=label, title_justify="left", box=None, pad_edge=False)
    for heading in ("where", "what", "value ± 95 %"):
        table.add_column(heading, overflow="fold")
    previous = ""
    for line in lines:
        reason = f"{line.value}: {line.reason}" if line.reason else line.value
        table.add_row(line.where if line.where != previous else "", line.what, reason)
        previous = line.where
    results().print(table)


def states_table(study: "FitStudy") -> None:
    """Print how the saddle sits in each state where it is put."""
    from rich.table import Table

    from saddlebench.engine.fit.settled import Position

    table = Table(title="How it sits", title_justify="left", box=None, pad_edge=False)
    for heading in ("state", "", "greatest pressure", "girth"):
        table.add_column(heading)
    for step in study.settlement.steps:
        if step.position is Position.PUT and not step.case.pushes:
            why = f": {step.why_not.reason}" if step.why_not is not None else ""
            table.add_row(
                step.case.name,
                f"{step.outcome}{why}",
                f"{step.pressure_kpa.max():.0f} kPa",
                f"{step.girth_tension_n:.0f} N",
            )
    results().print(table)


def findings_table(study: "FitStudy") -> None:
    """Print the findings of a study, worst first."""
    from rich.table import Table
    from rich.text import Text

    from saddlebench.exchange.phrases import (
        SYMBOLS,
        agreement_of,
        interval_of,
        limits_of,
        number_of,
        remark_of,
        sorted_worst_first,
        title_of,
    )

    title = f"{study.saddle.label} on {study.inputs.back_label or 'this back'}"
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    for heading in ("finding", "", "number", "95 of 100 tries", "limit", "whose", "how sure"):
        table.add_column(heading, overflow="fold")
    for finding in sorted_worst_first(study.findings):
        style = STYLES[finding.verdict.value]
        table.add_row(
            title_of(finding),
            Text(f"{SYMBOLS[finding.verdict]} {finding.verdict}", style=style),
            number_of(finding.decided_by.measure),
            interval_of(finding),
            limits_of(finding.decided_by.limit),
            str(finding.decided_by.limit.owner),
            agreement_of(finding),
        )
        if remark_of(finding):
            table.add_row(Text(f"  {remark_of(finding)}", style="dim"))
    results().print(table)
