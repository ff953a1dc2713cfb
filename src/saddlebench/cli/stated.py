"""Options that name a unit or a day, read the same way by every command."""

import datetime as dt
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from saddlebench.engine.units import Length


def unit_named(text: str) -> "Length | None":
    """Return the unit of length that an option names; None where it names none."""
    from saddlebench.engine.units import Length

    if text and text not in list(Length):
        message = f"“{text}” is not one of {', '.join(Length)}."
        raise typer.BadParameter(message, param_hint="--unit")
    return Length(text) if text else None


def day_named(text: str, option: str = "--day") -> dt.date | None:
    """Return the day that an option names; None where it names none."""
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError as error:
        message = f"“{text}” is not a day; write it as 2026-05-14."
        raise typer.BadParameter(message, param_hint=option) from error
