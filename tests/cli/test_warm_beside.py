"""Compiled parts made ready beside the pages: never in their way, and never left over."""

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from saddlebench.cli import warm_beside
from saddlebench.cli.warm_beside import Warming


def test_compiling_ends_with_the_process_that_asked_for_it(tmp_path: Path) -> None:
    # An empty cache: left alone, this compiles for half a minute and more.
    process = subprocess.Popen(  # noqa: S603
        [sys.executable, "-c", warm_beside._COMPILE],
        env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path), "SADDLEBENCH_HOME": str(tmp_path / "home")},
        stdin=subprocess.PIPE,
    )
    assert process.stdin is not None
    process.stdin.close()
    process.wait(60)
    assert not (tmp_path / "compiled").exists()


def test_what_is_stopped_before_its_turn_loads_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    loaded: list[str] = []
    monkeypatch.setattr(warm_beside, "_load", lambda: loaded.append("engine"))
    monkeypatch.setattr(warm_beside, "is_warm", lambda: True)
    warming = Warming()
    warming.start()
    warming.stop()
    for thread in threading.enumerate():
        if thread.name == "saddlebench-warming":
            thread.join(30)
    assert loaded == []


def test_where_the_parts_are_compiled_they_are_only_loaded(monkeypatch: pytest.MonkeyPatch) -> None:
    loaded = threading.Event()
    monkeypatch.setattr(warm_beside, "_AFTER_S", 0.0)
    monkeypatch.setattr(warm_beside, "_load", loaded.set)
    monkeypatch.setattr(warm_beside, "is_warm", lambda: True)
    warming = Warming()
    warming.start()
    assert loaded.wait(30)
    warming.stop()
