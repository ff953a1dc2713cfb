"""What the commands that plan and choose share: options, where the work is done, being stopped by Ctrl-C."""

import json
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Any

import typer

from saddlebench.cli.console import words

if TYPE_CHECKING:
    from saddlebench.engine.choose import Pool, ShortlistSettings

HorseMass = Annotated[float, typer.Option("--horse", help="Horse's mass [kg]; 0: not known.")]
OwnLimitsFile = Annotated[
    Path | None, typer.Option("--limits", help="A file of the practice's own limits.", readable=False)
]
ChoosingFile = Annotated[
    Path | None,
    typer.Option(
        "--choosing", help="A file of the practice's own weights, sizes and hard limits.", readable=False
    ),
]
Tries = Annotated[int, typer.Option("--tries", help="Tries for the confidence; 0: none.", min=0)]
ListOutput = Annotated[Path | None, typer.Option("--output", "-o", help="Where it is written (JSON).")]
Workers = Annotated[
    int, typer.Option("--workers", help="Processes of this machine; 0: one for each processor.", min=0)
]
ClusterAddress = Annotated[
    str, typer.Option("--cluster", help="Address of a scheduler whose machines do the work instead.")
]


def settings_by(choosing: Path | None) -> "ShortlistSettings":
    """Return the settings of a shortlist with what a practice's own file states."""
    from dataclasses import replace

    from saddlebench.engine.choose import ShortlistSettings
    from saddlebench.exchange.shop.rules import read_choosing

    if choosing is None:
        return ShortlistSettings()
    own = read_choosing(choosing)
    return replace(ShortlistSettings(), rules=own.rules, limits=own.limits)


def write_told(told: dict[str, Any], output: Path | None) -> None:
    """Write what a command found where it was asked to, and say so."""
    if output is not None:
        output.write_text(json.dumps(told, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
        words().print(f"Written: {output}")


@contextmanager
def stopped_by_ctrl_c() -> Iterator[Callable[[], bool]]:
    """Yield a question “was it stopped?”; the first Ctrl-C stops softly, the second at once."""
    asked = threading.Event()

    def stop(number: int, frame: FrameType | None) -> None:
        del number, frame
        if asked.is_set():
            raise KeyboardInterrupt
        asked.set()
        words().print("Stopping; what is known so far follows.")

    before = signal.signal(signal.SIGINT, stop)
    try:
        yield asked.is_set
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def pool_of(workers: int, cluster: str) -> "Iterator[Pool]":
    """Yield where the work is done: here, in processes, or on a cluster."""
    if cluster:
        from saddlebench.exchange.cluster import Cluster

        with Cluster(cluster) as pool:
            yield pool
        return
    if workers == 1:
        from saddlebench.engine.choose import HERE

        yield HERE
        return
    from saddlebench.exchange.workers import Processes

    with Processes(workers or None) as processes:
        yield processes
