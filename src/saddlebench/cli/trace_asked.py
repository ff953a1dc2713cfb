"""How the trace commands read what is written beside them: corners, sizes, lengths, places, lists."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import typer

from saddlebench.cli.stated import one_of

if TYPE_CHECKING:
    from saddlebench.exchange.sheets.layout import SheetKind
    from saddlebench.exchange.tracings.sheet_read import Asked
    from saddlebench.exchange.tracings.sheet_read import KnownLength as KnownLengthInPhoto


def kind_of(text: str) -> "SheetKind":
    """Return what is traced on a sheet, by its name.

    Raises
    ------
    typer.BadParameter
        If it is written otherwise.
    """
    from saddlebench.exchange.sheets.layout import SheetKind

    return SheetKind(one_of(text, SheetKind, "KIND"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    """What was said of a paper without markers."""

    corners: str = ""
    size: str = ""
    length: str = ""
    kind: str = "sections"


def asked_of(across: float | None, down: float | None, plain: Plain) -> "Asked":
    """Return what is known of photos beforehand.

    Raises
    ------
    typer.BadParameter
        If it is written otherwise.
    """
    from saddlebench.exchange.tracings.sheet_read import Asked, Frame

    if not (plain.corners or plain.size or plain.length):
        return Asked(ruler_across_mm=across, ruler_down_mm=down)
    try:
        marked = tuple((float(x), float(y)) for x, y in (one.split(",") for one in plain.corners.split()))
        width, height = (
            (float(side) for side in plain.size.lower().split("x")) if plain.size else (None, None)
        )
    except ValueError:
        marked = ()
    if len(marked) != 4 or not (plain.size or plain.length):
        message = "Give four corners as “x,y x,y x,y x,y”, and the true size as “420x297” or a known length."
        raise typer.BadParameter(message, param_hint="--corners, --size, --length") from None
    return Asked(
        frame=Frame(
            kind=kind_of(plain.kind),
            corners=marked,
            width_mm=width,
            height_mm=height,
            length=_known_length(plain.length),
        )
    )


def _known_length(text: str) -> "KnownLengthInPhoto | None":
    from saddlebench.exchange.tracings.sheet_read import KnownLength

    if not text:
        return None
    try:
        start, end, mm = text.split()
        (x, y), (u, v) = ([float(part) for part in one.split(",")] for one in (start, end))
        return KnownLength(start=(x, y), end=(u, v), mm=float(mm))
    except ValueError:
        message = f"“{text}” is not two places and a length, such as “300,900 1400,905 300”."
        raise typer.BadParameter(message, param_hint="--length") from None


def distances_of(text: str, hint: str) -> list[float]:
    """Return numbers [mm] that are written in a list; `hint` names the option.

    Raises
    ------
    typer.BadParameter
        If it is written otherwise.
    """
    try:
        return [float(part) for part in text.replace(";", ",").split(",") if part.strip()]
    except ValueError:
        message = f"“{text}” is no list of numbers, such as “-80, 0, 80”."
        raise typer.BadParameter(message, param_hint=hint) from None


def gaps_in_list(text: str, hint: str) -> tuple[float | None, ...]:
    """Return numbers that are written in a list, None where a dash stands; `hint` names the option.

    Raises
    ------
    typer.BadParameter
        If it is written otherwise.
    """
    parts = [part.strip() for part in text.replace(";", ",").split(",")] if text.strip() else []
    try:
        return tuple(None if part in {"-", "–", ""} else float(part) for part in parts)
    except ValueError:
        message = f"“{text}” is no list of numbers and dashes, such as “0.5, -, 0.2”."
        raise typer.BadParameter(message, param_hint=hint) from None


def photo_size_of(text: str) -> tuple[int, int] | None:
    """Return a photo's width and height [px]; None: not said.

    Raises
    ------
    typer.BadParameter
        If it is written otherwise.
    """
    if not text:
        return None
    try:
        width, height = (int(side) for side in text.lower().split("x"))
    except ValueError:
        message = f"“{text}” is no size such as “1632x1224”."
        raise typer.BadParameter(message, param_hint="--photo-size") from None
    return width, height


def two_places_of(text: str) -> list[list[float]]:
    """Return two places on a photo [px].

    Raises
    ------
    typer.BadParameter
        If it is written otherwise.
    """
    try:
        places = [[float(part) for part in one.split(",")] for one in text.split()]
    except ValueError:
        places = []
    if len(places) != 2 or any(len(one) != 2 for one in places):
        message = f"“{text}” is not two places, such as “812,644 1090,402”."
        raise typer.BadParameter(message)
    return places
