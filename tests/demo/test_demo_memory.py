"""A yard's worth of fit checks must not stay in memory: what is kept of each is what it said."""

import pickle
from pathlib import Path

import pytest

from saddlebench.demo import day
from saddlebench.demo.day import FitJudged, run_day


def test_what_stays_of_a_horse_is_small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(day, "write_album", lambda *_all: None)
    monkeypatch.setattr(day, "_reports", lambda *_all: None)
    done = next(run_day(tmp_path, lambda _horse: lambda *_told: None, draws=2))
    assert isinstance(done.fit, FitJudged)
    assert done.fit.findings
    written = (done.folder / "fit.json").stat().st_size
    assert len(pickle.dumps(done)) < written / 5
