"""What the replica commands tell: for a person on a terminal, and for machines."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from saddlebench.cli.console import print_json, print_problems, results, words

if TYPE_CHECKING:
    from saddlebench.engine.replica.proof import RebuildProof
    from saddlebench.engine.replica.set_check import StationSet
    from saddlebench.engine.replica.settings import InstrumentSettings
    from saddlebench.exchange.readers import Reader
    from saddlebench.exchange.records import SettingsDocument
    from saddlebench.report.replica.kit import Written


def settings_json(made: "InstrumentSettings", written: "Written") -> dict[str, Any]:
    """Return settings for machines."""
    return {
        "instrument": made.instrument.name,
        "off_by_mm": made.off_by_mm,
        "topline_off_by_mm": made.topline_off_by_mm,
        "stations": [
            {
                "station": one.number,
                "distance_mm": one.readings.distance_mm,
                "off_by_mm": one.off_by_mm,
                "between_mm": one.between_mm,
            }
            for one in made.stations
        ],
        "written": [str(path) for path in written.paths],
    }


def settings_file_json(document: "SettingsDocument") -> dict[str, Any]:
    """Return what a settings file says for machines, as the command that wrote it did."""
    fits = {one.number: one for one in document.fits}
    return {
        "instrument": document.instrument.the_one().name,
        "off_by_mm": max(one.off_by_mm for one in document.fits),
        "topline_off_by_mm": document.topline_off_by_mm,
        "stations": [
            {
                "station": one.number,
                "distance_mm": one.distance_mm,
                "off_by_mm": fits[one.number].off_by_mm,
                "between_mm": fits[one.number].between_mm,
            }
            for one in document.readings().stations
        ],
        "written": [],
    }


def settings_file_table(document: "SettingsDocument") -> None:
    """Print what a settings file says to set, in the order in which one sets it."""
    from rich.table import Table

    from saddlebench.report.replica.words import number_words

    name = document.instrument.the_one().name
    table = Table(
        title=f"{document.label}, measured on {document.measured_on.isoformat()}: settings for {name}",
        title_justify="left",
        box=None,
        pad_edge=False,
    )
    for heading in ("station", "side", "part", "set to"):
        table.add_column(heading, overflow="fold")
    for step in document.steps:
        up = "" if step.up is None else f" out, {number_words(step.up)} up"
        station = "topline" if step.station is None else str(step.station)
        table.add_row(station, step.side, step.part, f"{number_words(step.reading)}{up}")
    results().print(table)
    for one in document.fits:
        results().print(f"station {one.number}: comes within {one.off_by_mm:.1f} mm of the back")
    for warning in document.warnings:
        results().print(f"! {warning}")


def _terminal() -> "Reader":
    """Return who reads the terminal: in English, in the lengths of the papers' reader."""
    from saddlebench.exchange.readers import Reader, reader

    return Reader(length=reader().length)


def settings_table(made: "InstrumentSettings") -> None:
    """Print how near settings come to the back."""
    from rich.table import Table

    table = Table(
        title=f"Settings for {made.instrument.name}", title_justify="left", box=None, pad_edge=False
    )
    to = _terminal()
    unit = to.length_sign
    for heading in ("station", f"behind the mark, {unit}", f"off by, {unit}", f"between set points, {unit}"):
        table.add_column(heading, justify="right", overflow="fold")
    table.add_row("topline", "", to.millimetres(f"{made.topline_off_by_mm:.1f}"), "")
    for one in made.stations:
        table.add_row(
            str(one.number),
            to.millimetres(f"{one.readings.distance_mm:.0f}", is_place=True),
            to.millimetres(f"{one.off_by_mm:.1f}"),
            to.millimetres(f"{one.between_mm:.1f}"),
        )
    results().print(table)


def set_json(one: "StationSet") -> dict[str, Any]:
    """Return one station as it was set for machines."""
    known = one.off_by_mm != float("inf")
    return {
        "station": one.number,
        "distance_mm": one.distance_mm,
        "good": one.good,
        "off_by_mm": one.off_by_mm if known else None,
        "allowed_mm": one.allowed_mm,
        "moves": [{"side": move.side, "part": move.part, "by": move.by, "to": move.to} for move in one.moves],
        "not_set": list(one.not_set),
    }


def set_table(found: "tuple[StationSet, ...]") -> None:
    """Print each station as it was set, and what to move."""
    from saddlebench.report.replica.words import setting_move_words

    to = _terminal()
    for one in found:
        off = "nothing set" if one.off_by_mm == float("inf") else f"off by up to {one.off_by_mm:.1f} mm"
        sign = "✓ good" if one.good else "✕ not yet"
        line = f"station {one.number}: {sign}, {off} (allowed {one.allowed_mm:.1f} mm)"
        results().print(to.quantities(line))
        for move in one.moves:
            results().print(to.quantities(f"    {setting_move_words(move)}"))
        for part in one.not_set:
            results().print(f"    {part} is not set")


def proof_json(found: "RebuildProof", output: Path) -> dict[str, Any]:
    """Return a rebuild's proof for machines."""
    return {
        "verdict": found.verdict.value,
        "rms_mm": found.rms_mm,
        "largest_mm": found.largest_mm,
        "tolerance_mm": found.tolerance_mm,
        "stations": [
            {
                "station": one.number,
                "distance_mm": one.s_mm,
                "verdict": one.verdict.value,
                "raise_mm": one.raise_mm,
                "shift_near_mm": one.shift_near_mm,
                "could_miss_mm": one.could_miss_mm,
                "sides": [
                    {
                        "side": side.side,
                        "worst_mm": side.worst_mm,
                        "worst_at_mm": side.worst_at_mm,
                        "verdict": side.verdict.value,
                    }
                    for side in one.sides
                ],
            }
            for one in found.stations
        ],
        "written": str(output),
    }


def proof_table(found: "RebuildProof") -> None:
    """Print a rebuild's proof station by station."""
    from rich.table import Table

    from saddlebench.report.replica.proof import SYMBOLS, move_words

    table = Table(title="The rebuild, station by station", title_justify="left", box=None, pad_edge=False)
    to = _terminal()
    unit = to.length_sign
    for heading in (
        "station",
        "verdict",
        f"near, {unit}",
        f"off, {unit}",
        f"could miss, {unit}",
        "what to do",
    ):
        table.add_column(heading, overflow="fold")
    for one in found.stations:
        sides = {side.side: to.millimetres(f"{side.worst_mm:+.1f}") for side in one.sides}
        table.add_row(
            str(one.number),
            f"{SYMBOLS[one.verdict]} {one.verdict}",
            sides.get("near", "–"),
            sides.get("off", "–"),
            to.millimetres(f"{one.could_miss_mm:.1f}"),
            to.quantities(move_words(one)),
        )
    results().print(table)


def written_told(command: str, written: "Written", *, as_json: bool) -> None:
    """Tell which files were written, and what was left out of them."""
    if as_json:
        result = {"written": [str(path) for path in written.paths]}
        print_json(command, result=result, problems=_as_warnings(written))
        return
    paths_told(written)


def _as_warnings(written: "Written") -> tuple[Any, ...]:
    from dataclasses import replace

    from saddlebench.engine.errors import Weight

    return tuple(replace(problem, weight=Weight.WARNING) for problem in written.problems)


def paths_told(written: "Written") -> None:
    """Print which files were written, and what was left out of them."""
    print_problems(_as_warnings(written))
    for path in written.paths:
        words().print(f"Written: {path}")
    cautions_told()


def cautions_told() -> None:
    """Print what holds of every rebuild."""
    from saddlebench.report.replica.words import CAUTIONS

    for caution in CAUTIONS:
        words().print(caution, style="dim")
