"""Work spread over processes of this machine; a process that dies is replaced, and its work done again."""

import hashlib
import os
import pickle
import signal
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from types import TracebackType
from typing import Any, Self

MOST_DEATHS = 3
"""So often a process may die before the work is given up: then something is wrong with the work itself."""


class Processes:
    """A pool of processes, started on first use and ended with the block: `with Processes() as pool`."""

    def __init__(self, workers: int | None = None) -> None:
        self._workers = workers or os.cpu_count() or 1
        self._executor: ProcessPoolExecutor | None = None
        self._folder = tempfile.TemporaryDirectory(prefix="saddlebench-work-")

    @property
    def workers(self) -> int:
        """How many processes."""
        return self._workers

    @property
    def process_ids(self) -> tuple[int, ...]:
        """The processes that were started."""
        started = getattr(self._executor, "_processes", None) or {}
        return tuple(started)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._executor is not None:
            self._executor.shutdown(cancel_futures=True)
        self._folder.cleanup()

    def run(
        self, work: Callable[[Any, Any], Any], shared: Any, items: Sequence[Any]
    ) -> Iterator[tuple[int, Any]]:
        """Yield `(number of the item, work(shared, item))` as they are done.

        Raises
        ------
        BrokenProcessPool
            If processes die again and again.
        """
        path = self._share(shared)
        left = dict(enumerate(items))
        deaths = 0
        while left:
            futures = {self._running().submit(_work, work, path, item): k for k, item in left.items()}
            try:
                for future in as_completed(futures):
                    number = futures[future]
                    answer = future.result()
                    del left[number]
                    yield number, answer
            except BrokenProcessPool:
                deaths += 1
                self._executor = None
                if deaths > MOST_DEATHS:
                    raise
            finally:
                _call_off(futures)

    def _running(self) -> ProcessPoolExecutor:
        if self._executor is None:
            # spawned, not forked: a forked process would inherit threads, locks and database connections
            self._executor = ProcessPoolExecutor(
                self._workers, mp_context=get_context("spawn"), initializer=_begin
            )
        return self._executor

    def _share(self, shared: Any) -> str:
        held = pickle.dumps(shared, protocol=pickle.HIGHEST_PROTOCOL)
        path = Path(self._folder.name) / hashlib.sha256(held).hexdigest()
        if not path.exists():
            path.write_bytes(held)
        return str(path)


def _call_off(futures: dict[Future[Any], int]) -> None:
    for future in futures:
        future.cancel()


def _begin() -> None:
    # whoever presses Ctrl-C speaks to the process that reports; that one ends these
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@lru_cache(maxsize=2)
def _loaded(path: str) -> Any:
    return pickle.loads(Path(path).read_bytes())  # noqa: S301 - written by the process that started this one


def _work(work: Callable[[Any, Any], Any], path: str, item: Any) -> Any:
    return work(_loaded(path), item)
