"""What the commands that choose saddles share: where the work is done, and being stopped by Ctrl-C."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from saddlebench.cli.console import words

if TYPE_CHECKING:
    from saddlebench.engine.choose import Pool

Workers = Annotated[
    int, typer.Option("--workers", help="Processes of this machine; 0: one for each processor.", min=0)
]
ClusterAddress = Annotated[
    str, typer.Option("--cluster", help="Address of a scheduler whose machines do the work instead.")
]


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
