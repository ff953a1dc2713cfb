"""Own measuring errors, from files of exercises, for the commands that go by them."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Callable

    from saddlebench.engine.back.record import BackRecord
    from saddlebench.engine.fit.study import ErrorsUsed
    from saddlebench.exchange.own_errors import OwnHand

OwnErrorsFiles = Annotated[
    list[Path] | None,
    typer.Option(
        "--own-errors",
        help="A “check me” exercise of who measured (repeat me -o): own errors in place of those that the "
        "instrument states, once they are known as well; may be given again.",
        readable=False,
    ),
]


def own_hand_of(exercises: "list[Path] | None") -> "OwnHand | None":
    """Return what files of exercises say of a hand; None where none are named."""
    if not exercises:
        return None
    from saddlebench.exchange.own_errors import read_own_hand

    return read_own_hand(exercises)


def own_errors_of(exercises: "list[Path] | None") -> "Callable[[BackRecord], ErrorsUsed | None]":
    """Return what gives the errors to go by for a back record, from files of exercises."""
    hand = own_hand_of(exercises)
    return (lambda _record: None) if hand is None else hand.of
