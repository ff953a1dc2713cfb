"""Compiled parts made ready beside the pages: the first fit check does not wait for them."""

import subprocess
import sys
import threading

from saddlebench.cli.warm import is_warm

# The first page goes first; a person needs longer than this to sign in.
_AFTER_S = 2.0
_COMPILE = (
    "import os; os.nice(10) if hasattr(os, 'nice') else None; "
    "from saddlebench.cli.warm import warm_up; warm_up(lambda *_told: None)"
)


class Warming:
    """One thread, begun when the pages are served and ended with them."""

    def __init__(self) -> None:
        self._stopped = threading.Event()
        self._compiling: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Begin; nothing waits for it."""
        threading.Thread(target=self._run, name="saddlebench-warming", daemon=True).start()

    def stop(self) -> None:
        """Begin nothing more, and end what compiles."""
        self._stopped.set()
        if self._compiling is not None:
            self._compiling.terminate()

    def _run(self) -> None:
        if self._stopped.wait(_AFTER_S):
            return
        if not is_warm():
            # In a process of its own, at low priority: compiling takes half a minute in which pages wait.
            self._compiling = subprocess.Popen([sys.executable, "-c", _COMPILE])  # noqa: S603
            self._compiling.wait()
        if not self._stopped.is_set():
            _load()


def _load() -> None:
    from saddlebench.web.base.checks.loading import load_engine

    load_engine()
    from saddlebench.demo.warm import warm_steps

    for _ in warm_steps():
        pass
