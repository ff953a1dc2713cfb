"""Compiled parts made ready beside the pages: the first fit check does not wait for them."""

import os
import subprocess
import sys
import threading

from saddlebench.cli.warm import is_warm, warm_up

# The first page goes first; a person needs longer than this to sign in.
_AFTER_S = 2.0
_COMPILE = "from saddlebench.cli.warm_beside import compile_until_left; compile_until_left()"


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
            command = [sys.executable, "-c", _COMPILE]
            self._compiling = subprocess.Popen(command, stdin=subprocess.PIPE)  # noqa: S603
            self._compiling.wait()
        if not self._stopped.is_set():
            _load()


def compile_until_left() -> None:
    """Compile with what time others leave; end at once when the process that asked for it is gone."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(10)
    warm_up(lambda *_told: None)


def _end_with_parent() -> None:
    # The pipe is never written to: it ends when the parent does, however that came about.
    sys.stdin.buffer.read()
    os._exit(0)


def _load() -> None:
    # The first page loads what the addresses need; two threads at it would meet half of a package.
    import saddlebench.web.urls  # noqa: F401
    from saddlebench.web.base.checks.loading import load_engine

    load_engine()
    from saddlebench.demo.warm import warm_steps

    for _ in warm_steps():
        pass
