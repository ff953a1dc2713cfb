"""Tables in the terminal: results as a person reads them, on stdout."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from saddlebench.cli.console import results

if TYPE_CHECKING:
    from saddlebench.engine.fit.findings import Finding
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
    """Print the findings of a study, worst first; below them what is remarked on each."""
    from rich.table import Table
    from rich.text import Text

    from saddlebench.engine.fit.verdicts import DEFAULT_OWNER
    from saddlebench.exchange.phrases import (
        SYMBOLS,
        agreement_of,
        interval_of,
        limits_of,
        number_of,
        sorted_worst_first,
        title_of,
    )

    findings = sorted_worst_first(study.findings)
    own = any(finding.decided_by.limit.owner != DEFAULT_OWNER for finding in findings)
    title = f"{study.saddle.label} on {study.inputs.back_label or 'this back'}"
    table = Table(title=title, title_justify="left", box=None, pad_edge=False)
    headings = ("finding", "", "number", "95 of 100 tries", "limit", *(("whose",) if own else ()), "how sure")
    for heading in headings:
        table.add_column(heading, overflow="fold", no_wrap=heading in ("", "number"))
    for finding in findings:
        limit = finding.decided_by.limit
        table.add_row(
            title_of(finding),
            Text(f"{SYMBOLS[finding.verdict]} {finding.verdict}", style=STYLES[finding.verdict.value]),
            number_of(finding.decided_by.measure),
            interval_of(finding),
            limits_of(limit),
            *((str(limit.owner),) if own else ()),
            agreement_of(finding),
        )
    console = results()
    console.print(table)
    if not own:
        console.print("All limits are saddlebench's defaults; a practice may set its own.", style="dim")
    _remarks(findings)


def _remarks(findings: Sequence["Finding"]) -> None:
    from rich.padding import Padding
    from rich.text import Text

    from saddlebench.exchange.phrases import SYMBOLS, remark_of, title_of

    console = results()
    remarked = [(finding, remark_of(finding)) for finding in findings if remark_of(finding)]
    if remarked:
        console.print("\nRemarks", style="italic")
    for finding, remark in remarked:
        lead = Text(f"{SYMBOLS[finding.verdict]} {title_of(finding)}: ", style=STYLES[finding.verdict.value])
        console.print(Padding(lead.append(remark, style="default"), (0, 0, 0, 2)))


def under_the_hand(study: "FitStudy") -> None:
    """Print what a hand would feel under the panels, and where the saddle works to."""
    from saddlebench.exchange.phrases import hand_under_panels
    from saddlebench.exchange.working import works_to_of

    console = results()
    console.print(f"\n{hand_under_panels(study.put.hand_slide)}")
    console.print(works_to_of(study))
